"""What is in a machine when it comes to a block: other seed, another spray, that has to come out first.

Question answered: *what has to be cleaned out of which machine before this block?* What was in
it last is known from the plan's block before, else from what was reported. The time for it is kept by the
engine (`places`, `last_set_up`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from scheduler.events.situation import Situation
from scheduler.farm.machine import Machine
from scheduler.farm.rig import rigs_of
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
    workers = _workers(situation)
    worker = workers.get(block.rig or "")
    if worker is None or worker.clean_out_minutes <= 0 or block.under_way:
        return None
    worked = max(_worked(plan, situation, worker, workers, block.start), default=None)
    if worked is None:
        return None
    ended, *last = worked
    return _clean_out(situation, worker, (last[0], last[1]), block, ended.date() == block.start.date())


def clean_out_between(situation: Situation, block: PlanBlock, then: PlanBlock) -> CleanOut | None:
    """Return what has to be cleaned out where a machine was filled for one block and goes to another; None for nothing."""
    workers = _workers(situation)
    worker = workers.get(then.rig or "")
    if worker is None or worker != workers.get(block.rig or ""):
        return None
    return _clean_out(
        situation, worker, (block.field, block.pass_id), then, block.start.date() == then.start.date()
    )


def _workers(situation: Situation) -> dict[str, Machine]:
    return {rig.id: rig.worker for rig in rigs_of(situation.farm)}


def _clean_out(
    situation: Situation, worker: Machine, last: tuple[str, str], then: PlanBlock, same_day: bool
) -> CleanOut | None:
    there, coming = (_products(situation, *key) for key in (last, (then.field, then.pass_id)))
    if worker.clean_out_minutes <= 0 or not there or not coming or there == coming:
        return None
    return CleanOut(worker, there, coming, same_day)


def _worked(
    plan: Plan, situation: Situation, worker: Machine, workers: dict[str, Machine], until: datetime
) -> Iterator[tuple[datetime, str, str]]:
    """Yield when a machine ended work before a time, with field and pass: planned, and reported."""
    for one in plan.blocks:
        if worker.id in one.machines and one.end <= until:
            yield one.end, one.field, one.pass_id
    for (field, pass_id), state in situation.passes.items():
        ended = state.finished_at or state.last_report_at
        if ended is not None and ended <= until and workers.get(state.last_rig or "") == worker:
            yield ended.astimezone(until.tzinfo), field, pass_id


def _products(situation: Situation, field: str, pass_id: str) -> tuple[str, ...]:
    spec = situation.farm.spec(field, pass_id)
    return spec.contents if spec is not None else ()
