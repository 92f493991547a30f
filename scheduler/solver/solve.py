"""The one door of the engine: check the problem, choose the road, keep the deadline.

Question answered: *what is the best plan for this problem within these limits, and how good can any be?*
"""

from __future__ import annotations

import math
import time
from dataclasses import replace
from itertools import combinations

from scheduler.solver import interval
from scheduler.solver.problem import Problem
from scheduler.solver.result import CorePlan, Limits, ProgressSink, Result, Status
from scheduler.solver.validate import validate

DEFAULT_LIMITS = Limits()

PATIENCE = 6.0
PATIENCE_LEAST_S = 30.0


def solve(
    problem: Problem,
    limits: Limits = DEFAULT_LIMITS,
    progress: ProgressSink | None = None,
    start: CorePlan | None = None,
    rule: CorePlan | None = None,
) -> Result:
    """Return the best plan found within the limits.

    Parameters
    ----------
    problem : Problem
    limits : Limits
        The wall time is kept within 0.3 s; in deterministic mode effort is counted, and the clock only guards: at
        `PATIENCE` times the seconds, and not before `PATIENCE_LEAST_S`.
    progress : callable, optional
        Gets value, bound and time left as they move.
    start : CorePlan, optional
        A plan to begin with; a sound one is never made worse.
    rule : CorePlan, optional
        What `dispatch` makes of a problem with days, where that is known already.

    Returns
    -------
    Result
        OPTIMAL: no plan costs less. FEASIBLE: a sound plan. INFEASIBLE: proven that there is none.
        UNKNOWN: no plan found in time.

    Raises
    ------
    ProblemError
        When the problem makes no sense; one sentence.
    """
    began = time.monotonic()
    # Counted effort decides in deterministic mode; the clock only guards, so a busy machine changes nothing.
    guard = max(limits.seconds * PATIENCE, PATIENCE_LEAST_S)
    deadline = began + (guard if limits.deterministic else limits.seconds)
    validate(problem)
    if hopeless(problem):
        wall = time.monotonic() - began
        return Result(Status.INFEASIBLE, CorePlan(), math.inf, math.inf, math.inf, (), wall)
    if takes_days(problem):
        from scheduler.solver import rigday

        days = problem.days or ((0, problem.horizon),)
        result = rigday.search(replace(problem, days=days), deadline, limits, start, progress, rule)
    else:
        result = interval.search(problem, deadline, limits, start, progress)
    return replace(result, wall_s=time.monotonic() - began)


def takes_days(problem: Problem) -> bool:
    """Tell whether a problem goes the road of rig-days: it has days, buckets, or tasks that may be split."""
    if problem.days or problem.buckets:
        return True
    return any(task.min_chunk is not None and task.min_chunk < task.size for task in problem.tasks)


def hopeless(problem: Problem) -> bool:
    """Tell whether a task that must be done has no way of being done, or pins exclude each other."""
    for t, task in enumerate(problem.tasks):
        pinned = any(pin.task == t for pin in problem.pins)
        if task.optional or pinned or task.later:
            continue
        if not any(_possible(problem, t, m) for m in range(len(task.modes))):
            return True
    by_resource: dict[int, list[tuple[int, int]]] = {}
    placed: dict[int, int] = {}
    for pin in set(problem.pins):
        placed[pin.task] = placed.get(pin.task, 0) + pin.amount
        for r in pin.resources:
            if not problem.resources[r].cumulative:
                by_resource.setdefault(r, []).append((pin.start, pin.end))
    if any(amount > problem.tasks[t].size for t, amount in placed.items()):
        return True
    return any(
        max(a, c) < min(b, d)
        for spans in by_resource.values()
        for (a, b), (c, d) in combinations(sorted(spans), 2)
    )


def _possible(problem: Problem, t: int, m: int) -> bool:
    """Tell whether a mode has resources enough and a window that is not gone before the task may begin."""
    task = problem.tasks[t]
    mode = task.modes[m]
    for need in mode.needs:
        if all(problem.resources[r].capacity < max(1, need.amount) for r in need.any_of):
            return False
    if mode.windows is None:
        return task.release <= min(task.latest_start, task.latest_end, problem.horizon)
    return any(
        w.end >= task.release and w.start <= min(task.latest_start, task.latest_end) for w in mode.windows
    )
