"""When each task can start and end at all, from dates, windows and lags; and proof when it cannot.

Question answered: *between which times does each task lie in every plan, and do the lags contradict each other?*
A longest-path computation over starts and ends. Only tasks that must be done hand times on to others: what is
optional may be absent.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scheduler.solver.problem import Curve, LagKind, Problem, Task

Times = NDArray[np.int64]
FROM_END = (LagKind.END_START, LagKind.END_END)
TO_START = (LagKind.END_START, LagKind.START_START)


@dataclass(frozen=True)
class Reach:
    """Earliest and latest start and end per task (shape tasks); `clash` names tasks when no times exist."""

    start_least: Times
    start_most: Times
    end_least: Times
    end_most: Times
    clash: tuple[int, ...] = ()


def durations(task: Task) -> tuple[int, int]:
    """Return the shortest and longest working time of a whole task."""
    times = [mode.minutes_for(task.size, task.size) for mode in task.modes]
    return min(times, default=0), max(times, default=0)


def reach_of(problem: Problem, horizon: int) -> Reach:
    """Return the times each task is confined to, with everything over by `horizon`."""
    n = len(problem.tasks)
    least, most = np.zeros(2 * n, np.int64), np.zeros(2 * n, np.int64)
    edges: list[tuple[int, int, int]] = []
    pinned = {pin.task: pin for pin in problem.pins}
    for t, task in enumerate(problem.tasks):
        short, long = durations(task)
        if t in pinned:
            pin = pinned[t]
            least[[t, n + t]] = most[[t, n + t]] = pin.start, pin.end
            short = long = pin.end - pin.start
        else:
            opening, closing = _dates(task, horizon)
            least[t], most[t] = opening, min(task.latest_start, closing - short)
            least[n + t], most[n + t] = opening + short, closing
        edges.append((t, n + t, short))
        if not task.resumable:
            edges.append((n + t, t, -long))
    for lag in problem.lags:
        if problem.tasks[lag.before].optional or problem.tasks[lag.after].optional:
            continue
        a = lag.before + (n if lag.kind in FROM_END else 0)
        b = lag.after + (0 if lag.kind in TO_START else n)
        if lag.least is not None:
            edges.append((a, b, lag.least))
        if lag.most is not None:
            edges.append((b, a, -lag.most))
    tails, heads, gaps = np.array(edges, np.int64).reshape(-1, 3).T
    return _relax(n, least, most, tails, heads, gaps, problem)


def _dates(task: Task, horizon: int) -> tuple[int, int]:
    """Return the first opening and last closing of any mode within the task's own dates."""
    opening, closing = horizon + 1, 0
    for mode in task.modes:
        if mode.windows is None:
            opening, closing = 0, horizon
        for window in mode.windows or ():
            opening, closing = min(opening, window.start), max(closing, window.end)
    return max(opening, task.release), min(closing, task.latest_end, horizon)


def _relax(
    n: int, least: Times, most: Times, tails: Times, heads: Times, gaps: Times, problem: Problem
) -> Reach:
    optional = np.array([task.optional for task in problem.tasks] * 2, bool)
    clash: tuple[int, ...] = ()
    if n:
        for _ in range(2 * n + 2):
            forward, backward = least.copy(), most.copy()
            np.maximum.at(forward, heads, least[tails] + gaps)
            np.minimum.at(backward, tails, most[heads] - gaps)
            bad = np.flatnonzero((forward > backward) & ~optional)
            if bad.size:
                clash = tuple(sorted({int(i) % n for i in bad}))
                break
            same = np.array_equal(forward, least) and np.array_equal(backward, most)
            before = least
            least, most = forward, backward
            if same:
                break
        else:
            clash = tuple(sorted({int(i) % n for i in np.flatnonzero(forward != before)}))
    return Reach(least[:n], most[:n], least[n:], most[n:], clash)


def simple_bound(problem: Problem, reach: Reach) -> float:
    """Return a cost below which no plan is: each task alone at its cheapest, moves and the others aside."""
    total = 0.0
    for t, task in enumerate(problem.tasks):
        cost = float(min((mode.cost for mode in task.modes), default=0))
        cost += _cheapest(task.start_curve, int(reach.start_least[t]), int(reach.start_most[t]))
        cost += _cheapest(task.end_curve, int(reach.end_least[t]), int(reach.end_most[t]))
        total += min(cost, float(task.drop_cost)) if task.optional else cost
    ends = [int(reach.end_least[t]) for t, task in enumerate(problem.tasks) if not task.optional]
    return total + float(problem.makespan_weight * max(ends, default=0))


def _cheapest(curve: Curve | None, first: int, last: int) -> float:
    """Return the least cost between two times: at either of them or at a break point between."""
    if curve is None:
        return 0.0
    times = [first, max(first, last), *(time for time, _ in curve.points if first < time < last)]
    return min(curve.at(time) for time in times)
