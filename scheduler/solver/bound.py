"""A lower bound that holds for the true problem, found beside the search.

Question answered: *how much better could any plan be?* First every task as if it were alone, then
linear relaxations with ever finer stretches of the day (`bound_model`), then the same with whole waits,
as long as time is left. Only proven figures are taken: the optimum of a linear program, or a solver's
proven bound.
"""

from __future__ import annotations

import threading
import time
from datetime import timedelta

from ortools.math_opt import model_pb2
from ortools.math_opt.python import mathopt

from scheduler.solver.bound_model import RelaxedFarm
from scheduler.solver.bound_rows import Rows
from scheduler.solver.problem import Problem
from scheduler.solver.result import Limits
from scheduler.solver.rigday_calendar import Calendar

STRETCHES = (1.0, 1 / 6, 1 / 24)
WHOLE_STRETCHES = (1 / 6, 1 / 24)
"""Lengths of the stretches of the relaxation, as shares of a day: coarse first, since each takes longer."""
OPEN_SHARE = 840 / 1440
"""Of a day, for a guess of how many columns a program will have."""
WHOLE_COLUMNS = 20_000
SAFE = 1e-6
COUNTED_COLUMNS = 6000
CLOSE = 1e-6
"""A bound within this share of a value proves it."""


class Bounder:
    """Works on the bound beside the search; `bound` only ever rises."""

    def __init__(self, problem: Problem, calendar: Calendar, until: float, limits: Limits) -> None:
        self.problem, self.calendar, self.until, self.limits = problem, calendar, until, limits
        self.bound = float("-inf")
        self._thread: threading.Thread | None = None
        self._over = threading.Event()
        # Times may count minutes or quarter hours: what a day is long says which.
        day = max((end - start for start, end in problem.days), default=1440)
        self._day = day
        self._stretches = tuple(max(1, round(share * day)) for share in STRETCHES)
        self._whole_stretches = tuple(max(1, round(share * day)) for share in WHOLE_STRETCHES)

    def simple(self) -> float:
        """Return what every task costs at its best moment, as if it were alone."""
        total = 0.0
        for t, task in enumerate(self.problem.tasks):
            best = float(task.drop_cost) if task.optional else float("inf")
            for m, mode in enumerate(task.modes):
                for _, a, _ in self.calendar.windows[t][m]:
                    cost = float(mode.cost)
                    cost += task.end_curve.at(max(a, task.release)) if task.end_curve else 0.0
                    best = min(best, cost)
            for bucket in self.problem.buckets if task.later else ():
                best = min(best, task.end_curve.at(bucket.start) if task.end_curve else 0.0)
            for pin in self.problem.pins:
                if pin.task == t and task.end_curve:
                    best = min(best, float(task.end_curve.at(pin.end)))
            if task.start_curve is not None:
                best += min(0.0, min(cost for _, cost in task.start_curve.points))
            total += best if best < float("inf") else 0.0
        self.bound = total
        return total

    def start(self) -> None:
        """Begin in the background."""
        self._thread = threading.Thread(target=self.run)
        self._thread.start()

    def run(self) -> None:
        """Raise the bound until time is up."""
        if any(r.cumulative for r in self.problem.resources) and not self.problem.tasks:
            return
        if not self.limits.deterministic and self._seconds_left() > 1.3e-4 * self._columns(
            self._stretches[0]
        ):
            self._relax(self._stretches[0], whole=False, rough=True)
        for stretch in self._stretches:
            if self._over.is_set():
                return
            if self.limits.deterministic and self._columns(stretch) > COUNTED_COLUMNS:
                return
            if not self.limits.deterministic and not self._worth_trying(stretch):
                return
            self._relax(stretch, whole=False)
        for stretch in self._whole_stretches:
            if not self.limits.deterministic and self._columns(stretch) < WHOLE_COLUMNS:
                self._relax(stretch, whole=True)

    def _worth_trying(self, stretch: int) -> bool:
        """Guess from the number of windows whether a finer program can be solved in the time left."""
        columns = self._columns(stretch)
        return self._seconds_left() > 2e-5 * columns + 1.5e-8 * columns**2

    def _seconds_left(self) -> float:
        return self.until - time.monotonic()

    def _columns(self, stretch: int) -> float:
        windows = sum(len(cut) for task in self.calendar.windows for cut in task)
        return windows * (1 + OPEN_SHARE * self._day / stretch)

    def _relax(self, stretch: int, whole: bool, rough: bool = False) -> None:
        left = self.until - time.monotonic()
        if left < 0.05:
            return
        farm = RelaxedFarm(self.problem, self.calendar, stretch, whole, rough)
        left = self.until - time.monotonic()
        if left < 0.05:
            return
        bound, _ = solve_rows(farm.rows, left)
        self.bound = max(self.bound, bound)

    def finish(self, value: float) -> float:
        """Return the bound; waits for the background work no longer than the deadline, nor once it proves `value`."""
        if self._thread is not None:
            while (
                self._thread.is_alive()
                and self._seconds_left() > 0
                and self.bound < value - CLOSE * max(1.0, abs(value))
            ):
                self._thread.join(min(0.05, max(0.0, self._seconds_left())))
        self._over.set()
        return self.bound


def solve_rows(rows: Rows, seconds: float) -> tuple[float, list[float]]:
    """Return a proven lower bound of a program (-inf when none is known in time), and the values of its columns."""
    whole = any(rows.whole)
    solver = mathopt.SolverType.GSCIP if whole else mathopt.SolverType.HIGHS
    settings = mathopt.SolveParameters(time_limit=timedelta(seconds=seconds), threads=1 if whole else None)
    try:
        found = mathopt.solve(mathopt.Model.from_model_proto(_proto(rows)), solver, params=settings)
    except (RuntimeError, ValueError):
        return float("-inf"), []
    optimal = found.termination.reason == mathopt.TerminationReason.OPTIMAL
    if not (whole or optimal):
        return float("-inf"), []
    bound = found.best_objective_bound() + rows.constant
    known = found.variable_values() if found.has_primal_feasible_solution() else {}
    values = {variable.id: value for variable, value in known.items()}
    return bound - SAFE * abs(bound), [values.get(k, 0.0) for k in range(len(rows.cost))] if values else []


def _proto(rows: Rows) -> model_pb2.ModelProto:
    proto = model_pb2.ModelProto()
    columns, sides = range(len(rows.cost)), range(len(rows.terms))
    proto.variables.ids.extend(columns)
    proto.variables.lower_bounds.extend([0.0] * len(columns))
    proto.variables.upper_bounds.extend(rows.upper)
    proto.variables.integers.extend(rows.whole)
    proto.objective.linear_coefficients.ids.extend(columns)
    proto.objective.linear_coefficients.values.extend(rows.cost)
    proto.linear_constraints.ids.extend(sides)
    proto.linear_constraints.lower_bounds.extend(rows.low)
    proto.linear_constraints.upper_bounds.extend(rows.high)
    matrix = proto.linear_constraint_matrix
    for k, terms in enumerate(rows.terms):
        merged: dict[int, float] = {}
        for column, weight in terms:
            merged[column] = merged.get(column, 0.0) + weight
        ordered = sorted(merged.items())
        matrix.row_ids.extend([k] * len(ordered))
        matrix.column_ids.extend([c for c, _ in ordered])
        matrix.coefficients.extend([w for _, w in ordered])
    return proto
