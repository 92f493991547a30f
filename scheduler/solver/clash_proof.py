"""A proof that work with days that must be done cannot all be done, out of the bound's own programs.

Question answered: *is it sure that no plan does all of this?* Everything is made free but leaving undone what must be
done: where no plan costs nothing, no plan does all of it. What proves that is the lower bound of `bound`, which holds for
every true plan. A proof may be missing where there is no plan; it is never wrong.
"""

from __future__ import annotations

import time
from dataclasses import replace

from scheduler.solver.bound import Bounder
from scheduler.solver.problem import Before, Mode, Problem, Task
from scheduler.solver.resources import Interval, Resource
from scheduler.solver.result import Limits
from scheduler.solver.rigday_calendar import Calendar, without

UNDONE = 1_000_000
"""What leaving one task undone costs, where all else is free."""
SURE = 1e-3 * UNDONE
"""A bound above this proves it: a thousandth of one task, far above what figures are rounded by."""


def refuted(problem: Problem, seconds: float) -> bool:
    """Tell whether it is proved within `seconds` that no plan of a problem that is `all_free` leaves nothing undone.

    Parameters
    ----------
    problem : Problem
        Of `all_free`.
    """
    if not any(task.drop_cost for task in problem.tasks):
        return False
    problem = pins_closed(problem)
    bounder = Bounder(problem, Calendar(problem), time.monotonic() + seconds, Limits(seconds, 1), enough=SURE)
    if bounder.simple() <= SURE:
        bounder.run()
    return bounder.bound > SURE


def all_free(problem: Problem) -> Problem:
    """Return the problem in which nothing costs anything but leaving undone what must be done; without days, one is made."""
    return replace(
        problem,
        days=problem.days or ((0, problem.horizon),),
        tasks=tuple(_task(task) for task in problem.tasks),
        resources=tuple(_resource(one) for one in problem.resources),
        before=Before(),
        makespan_weight=0,
    )


def pins_closed(problem: Problem) -> Problem:
    """Return the problem in which machines and people of a pin are closed for other work while it lasts."""
    busy: dict[int, list[Interval]] = {}
    for pin in problem.pins:
        for r in pin.resources:
            if not problem.resources[r].cumulative:
                busy.setdefault(r, []).append((pin.start, pin.end))
    resources = list(problem.resources)
    for r, spans in busy.items():
        left = without(list(resources[r].open or problem.days), spans)
        resources[r] = replace(resources[r], open=tuple(left))
    return replace(problem, resources=tuple(resources))


def _task(task: Task) -> Task:
    price = 0 if task.optional else UNDONE
    modes = tuple(_mode(mode) for mode in task.modes)
    return replace(task, modes=modes, start_curve=None, end_curve=None, optional=True, drop_cost=price)


def _mode(mode: Mode) -> Mode:
    windows = mode.windows
    if windows is not None:
        windows = tuple(replace(window, risk_per_minute=0.0) for window in windows)
    return replace(mode, cost=0, windows=windows)


def _resource(one: Resource) -> Resource:
    moves = None if one.moves is None else replace(one.moves, cost_per_minute=0.0)
    hours = None if one.hours is None else replace(one.hours, cost_per_minute=0.0, overtime_per_minute=0.0)
    return replace(one, moves=moves, hours=hours)
