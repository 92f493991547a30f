"""Who waits for whom in a field: told to both, so that nobody drives in too early or forgets to say that they are through."""

from __future__ import annotations

from datetime import timedelta

from scheduler.crew.language import Words
from scheduler.crew.notes import job_name
from scheduler.crew.owed import ask_first
from scheduler.crew.told import told_line
from scheduler.events.situation import Situation
from scheduler.farm.farm import Farm
from scheduler.planning.plan import Plan, PlanBlock


def waits(plan: Plan, situation: Situation, block: PlanBlock, reader: str, words: Words) -> tuple[str, ...]:
    """Return what must be through in the field before the reader drives in."""
    by_id = {one.id: one for one in plan.blocks}
    farm, out = situation.farm, []
    for earlier in (by_id[name] for name in block.waits_for if name in by_id):
        job = job_name(farm, earlier, words)
        state = situation.passes.get((earlier.field, earlier.pass_id))
        if state is not None and state.finished:
            out.append(words("{job} here: {told}", job=job, told=told_line(situation, earlier.field, earlier.pass_id, words)))  # fmt: skip
        elif reader not in (earlier.operator, earlier.support):
            line = "Start only when {name} has finished {job} here (planned until {time}); ask before you drive in"
            name, time = farm.operator_label(earlier.operator), _when(earlier, block, words)
            out.append(words(line, name=name, job=job, time=time))
    out += ask_first(plan, situation, block.field, block.pass_id, reader, words)
    return tuple(dict.fromkeys(out))


def waited_for(plan: Plan, farm: Farm, block: PlanBlock, reader: str, words: Words) -> tuple[str, ...]:
    """Return who else waits for the block this day or the next, each once, with the first time."""
    first: dict[tuple[str, str], PlanBlock] = {}
    for later in plan.blocks:
        soon = later.start.date() <= block.end.date() + timedelta(days=1)
        if soon and block.id in later.waits_for and reader not in (later.operator, later.support):
            key = (later.operator, later.pass_id)
            first[key] = min(first.get(key, later), later, key=lambda one: one.start)
    return tuple(
        words(
            "{name} waits for this field ({job}, planned from {time}): tell them when you are done or late",
            name=farm.operator_label(later.operator),
            job=job_name(farm, later, words),
            time=words.clock(later.start)
            if later.start.date() == block.end.date()
            else f"{words.day(later.start.date())} {words.clock(later.start)}",
        )
        for later in first.values()
    )


def _when(block: PlanBlock, than: PlanBlock, words: Words) -> str:
    clock = words.clock(block.end)
    return clock if block.end.date() == than.start.date() else f"{words.day(block.end.date())} {clock}"
