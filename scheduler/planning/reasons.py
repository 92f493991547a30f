"""Why a block lies where it lies, and why it does not start sooner.

Question answered: *why then, and why not sooner?* Input: a plan laid out as `Room` and one of its blocks; output:
plain sentences. "Not sooner" is found by trying: the block is taken out and offered to every earlier quarter hour
with the same rig and person; what refuses it there is the reason.
"""

from __future__ import annotations

from collections import Counter

import numpy as np

from scheduler.planning.costs import CENTS, EARLY_PER_HA_DAY
from scheduler.planning.plan import PlanBlock
from scheduler.planning.refusals import Refusals
from scheduler.planning.room import Room
from scheduler.planning.wording import Names, day_text, listed, money, when
from scheduler.solver.result import Block
from shared.vocabulary import Reason

DAY = 96
PRESSING = 5.0
"""Money per day below which a delay is not worth a word."""
CLOSING_DAYS = 7


def why_then(room: Room, core: Block, block: PlanBlock, followers: list[PlanBlock], names: Names) -> str:
    """Return what speaks for this time."""
    job = room.compiled.jobs[core.task]
    task = room.compiled.problem.tasks[core.task]
    said = []
    if block.pinned:
        said.append("Pinned by the person in charge.")
    if block.under_way:
        said.append("The work is under way and goes on.")
    share = core.amount / task.size
    if task.end_curve is not None:
        step = share * (task.end_curve.at(core.end + DAY) - task.end_curve.at(core.end)) / CENTS
        step -= EARLY_PER_HA_DAY * block.area_ha
        if step >= PRESSING:
            said.append(f"A day later would cost about {money(step)}.")
    window = room.outlook.windows.get(job.key)
    if window is not None and window.closes is not None:
        days = (window.closes - block.start.date()).days
        if 0 <= days <= CLOSING_DAYS:
            said.append(f"The window closes on {day_text(window.closes)}.")
    nearest = min(followers, key=lambda b: b.start, default=None)
    if nearest is not None:
        said.append(f"{names.job(nearest.field, nearest.pass_id)} waits for it ({when(nearest.start)}).")
    if not said:
        said.append("Nothing presses; it is done while rig and people are free.")
    said.append(f"Odds that it can run: {block.chance:.0%}.")
    return " ".join(said)


def why_not_sooner(room: Room, core: Block, block: PlanBlock, names: Names) -> str:
    """Return what refuses an earlier start with the same rig and person."""
    if core.start <= room.now:
        return "It starts as soon as can be."
    if block.pinned:
        return "The pin names this time."
    job = room.compiled.jobs[core.task]
    option = room.compiled.modes[core.task][core.mode].option
    person = room.situation.farm.operator_by_id[block.operator]
    found = room.refusals(job, option, core.end - core.start, block.area_ha, [person], without=core)[0]
    count = found.count()
    free = np.flatnonzero(count[room.now : core.start] == 0)
    if len(free) and free[-1] + room.now == core.start - 1:
        first = int(free[0]) + room.now
        return f"There was room from {room.clock(first)}; in all, with wages, road and odds, this costs less."
    causes = found.at(core.start - 1)
    text = f"Not before {block.start:%H:%M}: {listed(_cause_texts(room, causes, core, block, names))}."
    if len(free):
        return f"{text} Room on {room.clock(int(free[0]) + room.now)} was left, since in all this costs less."
    before = earlier_cause(room, found, core)
    if before is not None and before not in causes:
        text += f" Earlier, mostly: {before.value}."
    return text


def earlier_cause(room: Room, found: Refusals, core: Block) -> Reason | None:
    """Return the commonest cause at earlier starts inside working hours."""
    tally: Counter[Reason] = Counter()
    off = found.flags[Reason.OFF_SHIFT]
    for quarter in range(room.now, core.start):
        if not off[quarter]:
            tally.update(found.at(quarter))
    return tally.most_common(1)[0][0] if tally else None


def _cause_texts(room: Room, causes: list[Reason], core: Block, block: PlanBlock, names: Names) -> list[str]:
    """Return the causes at the quarter before a block, as parts of a sentence; weather first."""
    said = [cause.value for cause in causes if cause not in _TEXTS and cause not in _BUSY]
    held: dict[str, list[str]] = {}
    if Reason.RIG_BUSY in causes:
        _add_held(room, core, block.machines, held)
    if Reason.OPERATOR_BUSY in causes:
        _add_held(room, core, (block.operator,), held)
    for field, who in held.items():
        said.append(
            f"{listed(who)} {'work' if len(who) > 1 else 'works'} in {field} until then, road counted"
        )
    if not held and _BUSY & set(causes):
        said.append("rig or driver are needed elsewhere")
    for cause in causes:
        if cause is Reason.WAITS_FOR_PASS:
            before = _waits_for(room, core)
            said.append(
                f"{names.job(block.field, before)} comes first" if before else "an earlier pass comes first"
            )
        elif cause in _TEXTS:
            said.append(_TEXTS[cause].format(who=names.person(block.operator)))
    return said


_BUSY = {Reason.RIG_BUSY, Reason.OPERATOR_BUSY}
_TEXTS = {
    Reason.WAITS_FOR_PASS: "",
    Reason.OFF_SHIFT: "the working day, the daily service and the road there allow no earlier start",
    Reason.HOURS: "the hours of {who} are used up",
    Reason.NO_SUPPORT: "nobody is free to drive the tender",
    Reason.STOCK: "the product is not there before",
    Reason.NO_FIT_HOURS: "the odds of fit hours are too low",
    Reason.NO_OPERATOR: "{who} is away",
    Reason.RIG_DOWN: "the rig is down",
    Reason.DARK: "it is dark",
}


def _add_held(room: Room, core: Block, ids: tuple[str, ...], held: dict[str, list[str]]) -> None:
    found = _held_by(room, core, ids)
    if found is not None:
        held.setdefault(found[1], []).append(found[0])


def _held_by(room: Room, core: Block, ids: tuple[str, ...]) -> tuple[str, str] | None:
    """Return who or what of a block is held by another one before it, and in which field."""
    names = Names(room.situation.farm)
    best: tuple[int, str, str] | None = None
    for name in ids:
        for other in room.entries[room.index[name]]:
            if other.end <= core.start and other != core and (best is None or other.end > best[0]):
                label = (
                    names.machine(name) if name in room.situation.farm.machine_by_id else names.person(name)
                )
                best = (other.end, label, room.compiled.jobs[other.task].field.label)
    return None if best is None else (best[1], best[2])


def _waits_for(room: Room, core: Block) -> str | None:
    job = room.compiled.jobs[core.task]
    ends: list[tuple[int, str]] = []
    for tie in room.ties[job.field.id]:
        if tie.after == job.spec.id:
            k = room.task_of.get((tie.field_id, tie.before))
            ends += [(b.end, tie.before) for b in room.core.blocks if b.task == k]
    return max(ends)[1] if ends else None
