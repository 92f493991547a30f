"""What somebody wants done by a time, put to the engine.

Question answered: *can these passes be done by then, what does the plan look like that does it, and if not, how near does
it come?* A firm demand lets no work of the pass end later and makes leaving it undone dearer than everything else
together; one that is not firm lets it end later at a price above all others, so that the plan comes as near as it can.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from scheduler.events.situation import LEAST_HA, Situation
from scheduler.planning.compiled import Compiled
from scheduler.planning.costs import hull
from scheduler.planning.order import finished
from scheduler.planning.plan import Plan
from scheduler.planning.quarters import Quarters
from scheduler.solver.problem import Curve, Problem, Task
from scheduler.solver.resources import FAR, Resource
from shared.clock import Horizon

DEARER = 2
"""Leaving demanded work undone costs so many times what leaving everything undone costs."""
QUARTERS_A_DAY = 96
LATEST_DAYS = 60
"""As dear as never is being so many days late."""


@dataclass(frozen=True)
class Demand:
    """All that is left of a pass in a field is to be done by a time."""

    field: str
    pass_id: str
    until: datetime

    @property
    def key(self) -> tuple[str, str]:
        """Field and pass."""
        return self.field, self.pass_id


def still_open(situation: Situation, demands: Sequence[Demand]) -> tuple[Demand, ...]:
    """Return the demands of which anything is left to do."""
    return tuple(d for d in demands if not finished(situation, *d.key))


def in_view(
    demands: Sequence[Demand], situation: Situation, horizon: Horizon, now: datetime
) -> tuple[Demand, ...]:
    """Return the demands that are open, not over, and within the days of a horizon."""
    last = horizon.first_day + timedelta(days=horizon.days)
    there = [d for d in demands if now < d.until and d.until.astimezone(horizon.zone).date() <= last]
    return still_open(situation, there)


def with_demands(compiled: Compiled, demands: Sequence[Demand], firm: bool = True) -> Compiled:
    """Return the engine's problem with demands in it; those that nothing can do are not in it and stay out.

    Parameters
    ----------
    firm : bool
        False: what is late costs more than all else, instead of being out of the question.
    """
    if not demands:
        return compiled
    until = latest(compiled.grid, demands)
    price = DEARER * max(1, sum(task.drop_cost for task in compiled.problem.tasks))
    tasks = tuple(
        task if job.key not in until else (_firm if firm else _late)(task, until[job.key], price)
        for task, job in zip(compiled.problem.tasks, compiled.jobs, strict=True)
    )
    return replace(compiled, problem=replace(compiled.problem, tasks=tasks))


def must_problem(compiled: Compiled, demands: Sequence[Demand]) -> Problem:
    """Return the problem in which what is demanded must be done, and everything else may be left.

    It begins now and ends with the latest demand and the longest way home (who is done by noon may drive home after it),
    so that neither has to be told as a rule of its own. What is pinned to a later time is no matter.
    """
    until = latest(compiled.grid, demands)
    problem, last = compiled.problem, max(until.values())
    now = min((task.release for task in problem.tasks), default=0)
    end = last + max((_way_home(one) for one in problem.resources), default=0)
    pins = tuple(pin for pin in problem.pins if pin.start < last)
    end = max((end, *(pin.end for pin in pins)))
    days = tuple((a, min(b, end)) for a, b in problem.days if a < last)
    end = days[-1][1]
    return replace(
        problem,
        tasks=tuple(
            _until(task, until.get(job.key), now, end)
            for task, job in zip(problem.tasks, compiled.jobs, strict=True)
        ),
        resources=tuple(_first_days(one, len(days)) for one in problem.resources),
        horizon=end,
        days=days,
        pins=pins,
        buckets=(),
    )


def _until(task: Task, until: int | None, now: int, end: int) -> Task:
    modes = tuple(
        replace(mode, windows=tuple(replace(w, start=max(w.start, now)) for w in mode.windows if w.end > now))
        if mode.windows is not None
        else mode
        for mode in task.modes
    )
    latest_end = min(task.latest_end, end if until is None else until)
    return replace(
        task,
        modes=modes,
        optional=until is None,
        later=False,
        release=task.release if task.release > now else 0,
        latest_start=FAR if task.latest_start >= end else task.latest_start,
        latest_end=FAR if latest_end >= end else latest_end,
    )


def _way_home(one: Resource) -> int:
    if one.moves is None or one.moves.depot is None:
        return 0
    return int(one.moves.minutes[:, one.moves.depot].max())


def _first_days(one: Resource, days: int) -> Resource:
    if one.hours is None:
        return one
    weeks = tuple(tuple(d for d in week if d < days) for week in one.hours.weeks)
    return replace(one, hours=replace(one.hours, weeks=weeks))


def latest(grid: Quarters, demands: Sequence[Demand]) -> dict[tuple[str, str], int]:
    """Return the last quarter hour of each demanded pass; of two demands of one pass the earlier holds."""
    out: dict[tuple[str, str], int] = {}
    for demand in demands:
        out[demand.key] = min(out.get(demand.key, grid.down(demand.until)), grid.down(demand.until))
    return out


def _firm(task: Task, until: int, price: int) -> Task:
    return replace(
        task, latest_end=min(task.latest_end, until), later=False, drop_cost=task.drop_cost + price
    )


def _late(task: Task, until: int, price: int) -> Task:
    curve = task.end_curve or Curve()
    steep = price / QUARTERS_A_DAY
    times = sorted({t for t, _ in curve.points} | {until})
    points = hull([(t, round(curve.at(t) + steep * max(0, t - until))) for t in times])
    bent = Curve(tuple(points), curve.slope_before, curve.slope_after + steep)
    return replace(task, end_curve=bent, drop_cost=task.drop_cost + LATEST_DAYS * price)


def unmet(plan: Plan, situation: Situation, demands: Sequence[Demand]) -> tuple[Demand, ...]:
    """Return the demands that a plan does not keep."""
    out = []
    for demand in still_open(situation, demands):
        done = sum(
            block.area_ha
            for block in plan.blocks
            if (block.field, block.pass_id) == demand.key and block.end <= demand.until
        )
        if done < situation.left_ha(*demand.key) - LEAST_HA:
            out.append(demand)
    return tuple(out)
