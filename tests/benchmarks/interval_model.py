"""A plain interval model of a farm on CP-SAT, for comparison only.

Each task is cut into equal parcels; a parcel is an optional interval in one mode and one window, lengthened by a
typical hop; machines and people do not overlap. Its answer is made a true plan by inserting in its order.
"""

from __future__ import annotations

import math
from collections import defaultdict

import numpy as np
from ortools.sat.python import cp_model

from scheduler.solver.dispatch import dispatch
from scheduler.solver.problem import Problem
from scheduler.solver.result import CorePlan
from scheduler.solver.rigday_book import Book
from scheduler.solver.rigday_calendar import Calendar

PARCEL_MINUTES = 200


def interval_plan(problem: Problem, calendar: Calendar, seconds: float, workers: int) -> CorePlan | None:
    """Return the plan of the interval model, or None when it found nothing in time."""
    model = cp_model.CpModel()
    hop = _typical_hop(problem)
    held: dict[int, list[cp_model.IntervalVar]] = defaultdict(list)
    costs: list[cp_model.LinearExprT] = []
    chosen: list[tuple[cp_model.IntVar, cp_model.IntVar, int, int, int]] = []
    ends: dict[int, list[cp_model.IntVar]] = defaultdict(list)
    starts: dict[int, list[cp_model.IntVar]] = defaultdict(list)
    done: dict[int, list[cp_model.IntVar]] = defaultdict(list)
    for t, task in enumerate(problem.tasks):
        count = max(1, math.ceil(task.modes[0].minutes / PARCEL_MINUTES)) if task.modes else 1
        for part in range(count):
            here = model.new_bool_var("")
            start = model.new_int_var(0, problem.horizon, "")
            end = model.new_int_var(0, problem.horizon, "")
            options = []
            for m, mode in enumerate(task.modes):
                length = mode.minutes_for(math.ceil(task.size / count), task.size) + hop
                for _, a, b in calendar.windows[t][m]:
                    if b - a < length - hop:
                        continue
                    on = model.new_bool_var("")
                    options.append(on)
                    model.add(start >= a).only_enforce_if(on)
                    model.add(end <= b).only_enforce_if(on)
                    model.add(end == start + length - hop).only_enforce_if(on)
                    chosen.append((on, start, t, m, part))
                    for need in mode.needs:
                        who = [on] if len(need.any_of) == 1 else [model.new_bool_var("") for _ in need.any_of]
                        if len(who) > 1:
                            model.add(sum(who) == 1).only_enforce_if(on)
                            model.add(sum(who) == 0).only_enforce_if(on.negated())
                        for r, lit in zip(need.any_of, who, strict=True):
                            if calendar.open[r][calendar.day_of(a)]:
                                held[r].append(
                                    model.new_optional_fixed_size_interval_var(start, length, lit, "")
                                )
                            else:
                                model.add(lit == 0)
            model.add(sum(options) == here)
            late = task.end_curve.slope_after if task.end_curve else 0.0
            first = task.end_curve.points[0][0] if task.end_curve else 0
            over = model.new_int_var(0, problem.horizon * 2, "")
            model.add(over >= end - first).only_enforce_if(here)
            model.add(over == 0).only_enforce_if(here.negated())
            costs += [int(task.drop_cost / count) * here.negated(), int(max(0, late) / count) * over]
            ends[t].append(end)
            starts[t].append(start)
            done[t].append(here)
    for lag in problem.lags:
        for s, on in zip(starts[lag.after], done[lag.after], strict=True):
            for e, before in zip(ends[lag.before], done[lag.before], strict=True):
                model.add_implication(on, before)
                model.add(s >= e + (lag.least or 0)).only_enforce_if(on)
    for intervals in held.values():
        model.add_no_overlap(intervals)
    model.minimize(sum(costs))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = max(0.1, seconds)
    solver.parameters.num_workers = workers
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    picked = sorted((solver.value(s), t, m) for on, s, t, m, _ in chosen if solver.value(on))
    return _true_plan(problem, calendar, picked)


def _typical_hop(problem: Problem) -> int:
    moves = next(r.moves for r in problem.resources if r.moves is not None)
    return int(np.percentile(moves.minutes[moves.minutes > 0], 15))


def _true_plan(problem: Problem, calendar: Calendar, picked: list[tuple[int, int, int]]) -> CorePlan:
    book = Book(problem, calendar)
    for start, t, m in picked:
        bounds = book.bounds(t)
        day = calendar.day_of(start)
        for d, a, b in calendar.windows[t][m] if bounds.allowed and book.left[t] else ():
            if d == day and book.left[t]:
                block = book.fit(t, m, d, a, b, bounds)
                if block is not None and block.end >= bounds.end_least:
                    book.add(block)
    return dispatch(problem, calendar, book.plan())
