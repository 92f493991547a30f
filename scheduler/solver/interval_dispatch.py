"""A first plan for problems without days: tasks one by one, each as early as it fits (serial schedule generation).

Question answered: *what does a plain rule make of this problem?* Tasks go in an order that keeps least lags;
among those that are ready, the one that must start soonest goes first. The rule may fail where largest lags
bite; then there is no first plan.
"""

from __future__ import annotations

import heapq
import random
from collections import defaultdict
from collections.abc import Callable

from scheduler.solver.evaluate import evaluate
from scheduler.solver.interval_board import Board
from scheduler.solver.interval_bounds import Reach
from scheduler.solver.problem import LagKind, Problem
from scheduler.solver.resources import FAR
from scheduler.solver.result import Block, CorePlan

TRIES = 24


def dispatch(
    problem: Problem,
    reach: Reach,
    seed: int,
    time_is_up: Callable[[], bool],
    too_late: Callable[[], bool] | None = None,
) -> list[CorePlan]:
    """Return the plans of the rule, first the plain one, then some with a shaken order; empty when it fails.

    Parameters
    ----------
    time_is_up : callable
        Ends the tries with a shaken order.
    too_late : callable, optional
        Ends the first, plain try; default never.
    """
    rng = random.Random(seed)
    chosen = _chosen(problem)
    plans = []
    for k in range(TRIES):
        if k and time_is_up():
            break
        shake = 0.0 if k == 0 else 0.1 + 0.1 * (k % 4)
        plan = _one(problem, reach, chosen, rng, shake, time_is_up if k else too_late or _never)
        if plan is not None and not evaluate(problem, plan).violations:
            plans.append(plan)
    return plans


def _never() -> bool:
    return False


def _chosen(problem: Problem) -> set[int]:
    """Return the tasks to try: those that must be done, those that earn something, and what choices ask for."""
    chosen = {t for t, task in enumerate(problem.tasks) if not task.optional or task.drop_cost > 0}
    by_given: dict[int | None, list[tuple[int, ...]]] = defaultdict(list)
    for choice in problem.choices:
        by_given[choice.given].append(choice.one_of)
    todo: list[int | None] = [None, *sorted(chosen)]
    for given in todo:
        for one_of in by_given[given]:
            if not chosen.intersection(one_of) and one_of:
                pick = min(
                    one_of, key=lambda t: min((m.minutes for m in problem.tasks[t].modes), default=FAR)
                )
                chosen.add(pick)
                todo.append(pick)
    grown = True
    while grown:
        short = {lag.before for lag in problem.lags if lag.after in chosen and not lag.loose} - chosen
        chosen |= short
        grown = bool(short)
    return chosen


def _one(
    problem: Problem,
    reach: Reach,
    chosen: set[int],
    rng: random.Random,
    shake: float,
    time_is_up: Callable[[], bool],
) -> CorePlan | None:
    board = Board(problem)
    starts: dict[int, int] = {}
    ends: dict[int, int] = {}
    if not _pins(problem, board, starts, ends):
        return None
    into: dict[int, list[int]] = defaultdict(list)
    waits = dict.fromkeys(chosen, 0)
    lags = defaultdict(list)
    for i, lag in enumerate(problem.lags):
        if lag.before in chosen and lag.after in chosen:
            lags[lag.after].append(i)
            lags[lag.before].append(i)
            if lag.least is not None and lag.least >= 0 and lag.before != lag.after:
                into[lag.before].append(lag.after)
                waits[lag.after] += 1
    span = max(1, int(reach.start_most.max(initial=1)))
    rank = {
        t: float(reach.start_most[t]) * (1 + shake * rng.uniform(-1, 1)) + shake * span * 0.1 * rng.random()
        for t in chosen
    }
    heap = [(rank[t], t) for t in sorted(chosen) if waits[t] == 0]
    heapq.heapify(heap)
    count = 0
    while heap:
        _, t = heapq.heappop(heap)
        count += 1
        if count % 32 == 0 and time_is_up():
            return None
        if t not in starts and not _place(problem, reach, board, t, lags[t], starts, ends):
            return None
        for after in into[t]:
            waits[after] -= 1
            if waits[after] == 0:
                heapq.heappush(heap, (rank[after], after))
    if count < len(chosen):
        return None
    return CorePlan(tuple(sorted(board.blocks, key=lambda b: (b.start, b.end))))


def _pins(problem: Problem, board: Board, starts: dict[int, int], ends: dict[int, int]) -> bool:
    for pin in problem.pins:
        mode = problem.tasks[pin.task].modes[pin.mode]
        crew = pin.resources or tuple(need.any_of[0] for need in mode.needs)
        board.add(Block(pin.start, pin.end, pin.task, pin.mode, pin.amount, crew))
        starts[pin.task], ends[pin.task] = pin.start, pin.end
    return True


def _place(
    problem: Problem,
    reach: Reach,
    board: Board,
    t: int,
    lags: list[int],
    starts: dict[int, int],
    ends: dict[int, int],
) -> bool:
    """Place a task where it ends first (or costs least); True also when an optional one is left out."""
    task = problem.tasks[t]
    start, start_most, end, end_most = _confined(problem, reach, t, lags, starts, ends)
    curve = task.start_curve
    if curve is not None and curve.slope_before < 0:
        start = max(start, min(start_most, curve.points[0][0]))
    best: tuple[float, Block] | None = None
    for m, mode in enumerate(task.modes):
        from_end = end - mode.minutes_for(task.size, task.size)
        crew = _crew(problem, board, t, m, max(start, from_end))
        if crew is None:
            continue
        got = board.earliest(task, m, crew, max(start, from_end), start_most, end_most)
        if got is None:
            continue
        cost = float(mode.cost) + (task.end_curve.at(got[1]) if task.end_curve else 0.0)
        cost += (task.start_curve.at(got[0]) if task.start_curve else 0.0) + 1e-3 * got[1]
        if best is None or cost < best[0]:
            best = (cost, Block(got[0], got[1], t, m, task.size, crew))
    if best is None:
        return task.optional
    board.add(best[1])
    starts[t], ends[t] = best[1].start, best[1].end
    return True


def _crew(problem: Problem, board: Board, t: int, m: int, start: int) -> tuple[int, ...] | None:
    """Return, need by need, the resource that is free first."""
    task = problem.tasks[t]
    crew: list[int] = []
    for i, need in enumerate(task.modes[m].needs):
        options = [r for r in need.any_of if r not in crew]
        if not options:
            return None
        if len(options) == 1:
            crew.append(options[0])
            continue
        single = _alone(task.modes[m].needs[i : i + 1], task.modes[m])
        alone = type(task)(task.name, (single,), size=task.size, resumable=task.resumable)
        free = [(got[0], r) for r in options if (got := board.earliest(alone, 0, (r,), start, FAR, FAR))]
        crew.append(min(free)[1] if free else options[0])
    return tuple(crew)


def _alone(needs, mode):  # type: ignore[no-untyped-def]
    return type(mode)(mode.minutes, needs, mode.windows, mode.fixed_minutes, mode.site, mode.family)


def _confined(
    problem: Problem, reach: Reach, t: int, lags: list[int], starts: dict[int, int], ends: dict[int, int]
) -> tuple[int, int, int, int]:
    """Return start and end bounds of a task from its dates and the tasks that stand."""
    start, start_most = int(reach.start_least[t]), int(reach.start_most[t])
    end, end_most = 0, int(reach.end_most[t])
    for i in lags:
        lag = problem.lags[i]
        least, most = lag.least, lag.most
        if lag.after == t and lag.before in starts:
            base = (
                ends[lag.before] if lag.kind in (LagKind.END_START, LagKind.END_END) else starts[lag.before]
            )
            at_start = lag.kind in (LagKind.END_START, LagKind.START_START)
        elif lag.before == t and lag.after in starts:
            base = (
                starts[lag.after] if lag.kind in (LagKind.END_START, LagKind.START_START) else ends[lag.after]
            )
            at_start = lag.kind in (LagKind.START_START, LagKind.START_END)
            least, most = (None if most is None else -most), (None if least is None else -least)
        else:
            continue
        if least is not None:
            start, end = (max(start, base + least), end) if at_start else (start, max(end, base + least))
        if most is not None and at_start:
            start_most = min(start_most, base + most)
        elif most is not None:
            end_most = min(end_most, base + most)
    return start, start_most, end, end_most
