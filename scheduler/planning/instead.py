"""What people do when they stand in front of a field and it is not fit after all.

Question answered: *if the ground is not fit when its block begins, where does its crew go then?* For every block of today and
tomorrow whose first hour is doubtful, their day from there on is planned once more, with the odds as they would be then
(`given_unfit`) and everybody else at the work of that day that they were told. What comes out is a guess at the plan that would
be made on the report, not a promise: the report comes first.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import timedelta

from scheduler.events.situation import Situation
from scheduler.farm.rig import Rig, rigs_of
from scheduler.planning.checker import check_plan
from scheduler.planning.compile import compile_problem
from scheduler.planning.compiled import Compiled
from scheduler.planning.document import Answer, document
from scheduler.planning.fit_windows import PER_HOUR, fit_of
from scheduler.planning.jobs import key_of
from scheduler.planning.plan import LOOK_FIRST, Instead, Plan, PlanBlock
from scheduler.planning.presumed import Known, known_now
from scheduler.planning.quarters import Quarters
from scheduler.solver.dispatch import dispatch
from scheduler.solver.problem import Pin, Problem
from scheduler.solver.result import CorePlan, Limits, Status
from scheduler.solver.solve import solve
from scheduler.windows.given import given_unfit
from scheduler.windows.records import FieldPass, Outlook, RigKey
from shared.clock import Horizon

MOST = 6
"""So many doubtful blocks are looked at, the first ones; fewer where"""
EFFORT_FIELDS = 600
"""their number times that of the fields would come to more."""
AHEAD = timedelta(hours=24)
EFFORT_S = 1.0

Tell = Callable[[int, int], None]
"""Told before each block: which one, of how many."""


@dataclass(frozen=True)
class _Morning:
    """A plan with what it was made from, and what it goes by."""

    plan: Plan
    told: Situation
    outlook: Outlook
    known: Known


def with_instead(plan: Plan, situation: Situation, outlook: Outlook, tell: Tell | None = None) -> Plan:
    """Return the plan with what its people do where a doubtful field turns out unfit.

    Parameters
    ----------
    plan : Plan
        Just made for `situation` and `outlook`.
    tell : callable, optional
        Told before each search.
    """
    morning = _Morning(plan, situation, outlook, known_now(situation, plan, outlook))
    most = max(1, min(MOST, EFFORT_FIELDS // max(1, len(situation.farm.fields))))
    doubtful = list(_doubtful(morning))[:most]
    found: list[tuple[PlanBlock, Instead]] = []
    for number, (block, key, hour) in enumerate(doubtful):
        if tell is not None:
            tell(number, len(doubtful))
        then = given_unfit(outlook, (block.field, block.pass_id), key, hour)
        if then is not None:
            other = _plan_then(morning, block, then, _given_to_others(found, block))
            found += [] if other is None else [(block, one) for one in _seconds(plan, block, other)]
    return plan.model_copy(update={"instead": tuple(one for _, one in found)})


def _doubtful(morning: _Morning) -> Iterator[tuple[PlanBlock, RigKey, int]]:
    """Return the blocks that may well not begin, with their kind of rig and first hour, in order of start."""
    outlook, now = morning.outlook, morning.told.now
    rigs: dict[str, Rig] = {rig.id: rig for rig in rigs_of(morning.told.farm)}
    grid = Quarters(Horizon(outlook.first_day, outlook.days, outlook.time_zone))
    for block in morning.plan.blocks:
        if block.under_way or block.start > now + AHEAD:
            continue
        key = key_of(None if block.rig is None else rigs[block.rig])
        hours, hour = fit_of(outlook, block.field, block.pass_id, key), grid.down(block.start) // PER_HOUR
        if hours is not None and float(hours.chance[hour]) < LOOK_FIRST:
            yield block, key, hour


def _given_to_others(found: list[tuple[PlanBlock, Instead]], block: PlanBlock) -> set[FieldPass]:
    """Return the second choices of that day of people who are not at work in a block: all of them may be wanted at once."""
    return {
        (one.then.field, one.then.pass_id)
        for first, one in found
        if one.then is not None
        and first.start.date() == block.start.date()
        and one.operator not in (block.operator, block.support)
    }


def _plan_then(morning: _Morning, block: PlanBlock, outlook: Outlook, given: set[FieldPass]) -> Plan | None:
    """Return a checked plan in which all other work of the next days stands; None where none was found."""
    known, seed = morning.known, morning.plan.seed
    situation = known.situation
    horizon = Horizon(outlook.first_day, outlook.days, outlook.time_zone)
    compiled = compile_problem(situation, outlook, horizon, situation.farm.plan, known.plan)
    mended = dispatch(compiled.problem, start=compiled.start)
    problem = _others_stand(compiled, mended, block, given)
    limits = Limits(EFFORT_S, 1, seed, deterministic=True, bound=False)
    found = solve(problem, limits, None, compiled.start, mended)
    if found.status not in (Status.OPTIMAL, Status.FEASIBLE):
        return None
    answer = Answer(found.plan, found.value, 0.0, found.value, Status.FEASIBLE, "engine")
    then = document(compiled, answer, situation, outlook, morning.plan, "", limits, False, known.presumed)
    return None if check_plan(then, morning.told, outlook) else then


def _others_stand(compiled: Compiled, mended: CorePlan, block: PlanBlock, given: set[FieldPass]) -> Problem:
    """Return the problem with what is sound up to the end of the day standing, but for what the block's people do from it on.

    Work that others were told of, or will be (`given`), is theirs even where its odds are too low for a plan now.
    """
    problem, sound = compiled.problem, set(mended.blocks)
    pinned = {(pin.task, pin.start, pin.end) for pin in problem.pins}
    crew = {compiled.names.index(name) for name in (block.operator, block.support) if name is not None}
    begin = compiled.grid.down(block.start)
    day_end = next(end for start, end in problem.days if start <= begin < end)
    standing, theirs = [], {k for k, job in enumerate(compiled.jobs) if job.key in given}
    for one in compiled.start.blocks if compiled.start else ():
        own = begin <= one.start and crew & set(one.resources)
        if own or one.start >= day_end or (one.task, one.start, one.end) in pinned:
            continue
        if one in sound:
            standing.append(Pin(one.task, one.mode, one.start, one.end, one.amount, one.resources))
        else:
            theirs.add(one.task)
    theirs -= {pin.task for pin in (*problem.pins, *standing)}
    tasks = tuple(
        replace(task, release=max(task.release, day_end)) if k in theirs else task
        for k, task in enumerate(problem.tasks)
    )
    return replace(problem, tasks=tasks, pins=(*problem.pins, *standing))


def _seconds(plan: Plan, block: PlanBlock, other: Plan) -> Iterator[Instead]:
    """Return the second choice of each person of a block; none that counts on others not being where they were told to be."""
    crew = {block.operator, block.support}
    others = [one for one in plan.blocks if not crew & {one.operator, one.support} - {None}]
    for name in (block.operator, block.support):
        if name is not None:
            later = (one for one in other.of_operator(name) if one.start >= block.start)
            day = [one for one in later if one.start.date() == block.start.date()]
            then = min(day, key=lambda one: one.start, default=None)
            if then is None or not any(_in_the_way(one, then) for one in others):
                yield Instead(block=block.id, operator=name, then=then)


def _in_the_way(one: PlanBlock, then: PlanBlock) -> bool:
    """Return whether a block of others needs the same work, machine or person at the time."""
    if (one.field, one.pass_id) == (then.field, then.pass_id):
        return one.start.date() == then.start.date()
    held = {*one.machines, one.operator, one.support} & {*then.machines, then.operator, then.support}
    return bool(held - {None}) and one.start < then.end and then.start < one.end
