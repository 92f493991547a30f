"""What is in a machine when it comes to a block: other seed, another spray, that has to come out first.

Question answered: *what has to be cleaned out of which machine before this block?* What was in it last is known from the plan's
block before, else from what was reported. The time for it is kept by the engine (`places`, `last_set_up`).
"""

from __future__ import annotations

from dataclasses import dataclass

from scheduler.events.situation import Situation
from scheduler.farm.machine import Machine
from scheduler.farm.rig import rigs_of
from scheduler.planning.last_set_up import last_set_ups
from scheduler.planning.plan import Plan, PlanBlock


@dataclass(frozen=True)
class CleanOut:
    """A machine to clean out, what is in it, and what comes in, by ids; `same_day`: the plan keeps the time for it."""

    machine: Machine
    there: tuple[str, ...]
    coming: tuple[str, ...]
    same_day: bool


def clean_out_before(plan: Plan, situation: Situation, block: PlanBlock) -> CleanOut | None:
    """Return what has to be cleaned out before a block; None for nothing."""
    worker = _worker(situation, block)
    if worker is None or worker.clean_out_minutes <= 0 or block.under_way:
        return None
    reported = last_set_ups(situation).get(worker.id)
    worked = [] if reported is None else [(reported.ended, reported.spec.contents)]
    worked += [
        (one.end, _contents(situation, one))
        for one in plan.blocks
        if worker.id in one.machines and one.end <= block.start
    ]
    if not worked:
        return None
    ended, there = max(worked)
    return _clean_out(worker, there, _contents(situation, block), ended.date() == block.start.date())


def clean_out_between(situation: Situation, block: PlanBlock, then: PlanBlock) -> CleanOut | None:
    """Return what has to be cleaned out where a machine was filled for one block and goes to another; None for nothing."""
    worker = _worker(situation, then)
    if worker is None or worker != _worker(situation, block):
        return None
    there, coming = _contents(situation, block), _contents(situation, then)
    return _clean_out(worker, there, coming, block.start.date() == then.start.date())


def _worker(situation: Situation, block: PlanBlock) -> Machine | None:
    return next((rig.worker for rig in rigs_of(situation.farm) if rig.id == block.rig), None)


def _clean_out(
    worker: Machine, there: tuple[str, ...], coming: tuple[str, ...], same_day: bool
) -> CleanOut | None:
    if worker.clean_out_minutes <= 0 or not there or not coming or there == coming:
        return None
    return CleanOut(worker, there, coming, same_day)


def _contents(situation: Situation, block: PlanBlock) -> tuple[str, ...]:
    spec = situation.farm.spec(block.field, block.pass_id)
    return spec.contents if spec is not None else ()
