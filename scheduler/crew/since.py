"""What is different on a person's list since the one that they hold: new jobs, other hours or rigs, jobs that are gone."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from scheduler.crew.language import Words
from scheduler.crew.notes import pass_name
from scheduler.events.situation import FieldPass, PassState, Situation
from scheduler.farm.rig import Rig
from scheduler.planning.plan import Plan, PlanBlock

LEAST = timedelta(minutes=15)
"""Smaller shifts are not told: the plan counts quarter hours."""


def changed_since(
    before: Plan,
    plan: Plan,
    situation: Situation,
    rigs: dict[str, Rig],
    operator: str,
    day: date,
    words: Words,
) -> tuple[str, ...]:
    """Return a sentence for each job of a person that is different from an earlier plan of the same day.

    What was over by the time of the new plan, is taken as done by it, or was reported finished, is not missed.
    """
    old = _by_job(b for b in _own(before, operator, day) if b.end > plan.made_at)
    new = _by_job(b for b in _own(plan, operator, day) if b.end > plan.made_at)
    out = []

    def say(line: str, job: FieldPass, **values: str) -> None:
        out.append(words(line, job=_job(job, situation, words), **values))

    for job, blocks in new.items():
        rig = blocks[0].rig
        if job not in old:
            say("New: {job}, {time}.", job, time=_hours(blocks, words))
            continue
        if _moved(old[job], blocks, plan.made_at):
            say(
                "{job}: now {time} (was {then}).",
                job,
                time=_hours(blocks, words),
                then=_hours(old[job], words),
            )
        if rig != old[job][0].rig and rig in rigs:
            say("{job}: now with {rig}.", job, rig=rigs[rig].label)
    over = {(one.field, one.pass_id) for one in plan.presumed if one.over}
    for job in old:
        if job not in new and job not in over and not situation.passes.get(job, PassState()).finished:
            say("Not on your list any more: {job}.", job)
    return tuple(out)


def _own(plan: Plan, operator: str, day: date) -> list[PlanBlock]:
    found = [b for b in plan.of_day(day) if operator in (b.operator, b.support)]
    return sorted(found, key=lambda b: b.start)


def _by_job(blocks: Iterable[PlanBlock]) -> dict[FieldPass, list[PlanBlock]]:
    out: dict[FieldPass, list[PlanBlock]] = {}
    for block in blocks:
        out.setdefault((block.field, block.pass_id), []).append(block)
    return out


def _moved(old: list[PlanBlock], new: list[PlanBlock], made: datetime) -> bool:
    """Return whether hours differ; of work that should have begun by the new plan only the end counts."""
    if len(old) != len(new):
        return True
    pairs = zip(old, new, strict=True)
    return any(
        abs(max(a.start, made) - max(b.start, made)) >= LEAST or abs(a.end - b.end) >= LEAST for a, b in pairs
    )


def _hours(blocks: list[PlanBlock], words: Words) -> str:
    return ", ".join(f"{words.clock(b.start)}-{words.clock(b.end)}" for b in blocks)


def _job(job: FieldPass, situation: Situation, words: Words) -> str:
    farm = situation.farm
    spec = farm.spec(*job)
    name = job[1] if spec is None else pass_name(spec, words)
    return words("{job} in {place}", job=name, place=farm.field_label(job[0]))
