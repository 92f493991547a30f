"""What to do where a doubtful field is not fit after all: a line below the job, and the same for the manager.

Question answered: *I stand in front of it and it is too wet; what now?* The report comes first: the plan made on it counts, and
what stands here is what it will likely be. What can hurt in the other field is told with it, since it may not be on the list.
"""

from __future__ import annotations

from collections.abc import Collection

from scheduler.crew.clean_line import clean_out_line
from scheduler.crew.language import Words
from scheduler.crew.load_sheet import CrewRecord
from scheduler.crew.notes import job_name
from scheduler.crew.waits import waits
from scheduler.events.situation import Situation
from scheduler.farm.farm import Farm
from scheduler.farm.rig import rigs_of
from scheduler.planning.clean_out import clean_out_between
from scheduler.planning.plan import Instead, Plan, PlanBlock

NOTHING = "If it is not fit: report it. Nothing else is left for you that day by what is known now."
AGAIN = "If it is not fit: report it, and look again about {time} (odds {chance} %)."
GO_ON = "If it is not fit: report it, then: {job} in {place}, about {time} (odds {chance} %)."
GO_ON_WITH = "If it is not fit: report it, then: {job} in {place} with {rig}, about {time} (odds {chance} %)."


class Second(CrewRecord):
    """The second choice of one job.

    Attributes
    ----------
    text : str
        One sentence.
    notes, hazards : tuple of str
        What must be there or through before, and what can hurt in that field.
    """

    text: str
    notes: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()


def second_choice(
    plan: Plan,
    situation: Situation,
    block: PlanBlock,
    reader: str,
    listed: Collection[PlanBlock],
    words: Words,
) -> Second | None:
    """Return what a person does where a block of theirs is not fit as it begins; None where nobody worked it out.

    Parameters
    ----------
    listed : collection of PlanBlock
        What is on the person's list that day: its hazards and products are known.
    """
    one = next((one for one in plan.instead if (one.block, one.operator) == (block.id, reader)), None)
    if one is None:
        return None
    if one.then is None:
        return Second(text=words(NOTHING))
    farm, then = situation.farm, one.then
    chance = f"{then.chance:.0%}"[:-1]
    if _same_work(then, block):
        return Second(text=words(AGAIN, time=words.clock(then.start), chance=chance))
    place = farm.field_label(then.field)
    job = words("tender") if then.support == reader else job_name(farm, then, words)
    rig = next((rig.label for rig in rigs_of(farm) if rig.id == then.rig), words("on foot"))
    line = GO_ON if then.rig == block.rig else GO_ON_WITH
    text = words(line, job=job, place=place, time=words.clock(then.start), rig=rig, chance=chance)
    notes = [f"{place}: {text}" for text in waits(plan, situation, then, reader, words)]
    goods = _products(farm, then) - {name for known in listed for name in _products(farm, known)}
    if goods:
        names = ", ".join(sorted(farm.product_by_id[name].label for name in goods))
        notes.insert(0, words("For {place} have with you: {products}", place=place, products=names))
    cleaned = None if then.support == reader else clean_out_between(situation, block, then)
    notes += [f"{place}: {clean_out_line(cleaned, farm, words)}"] if cleaned is not None else []
    known = then.field in {known.field for known in listed}
    hazards = () if known else farm.field_by_id[then.field].hazards
    return Second(text=text, notes=tuple(notes), hazards=tuple(f"{place}: {words(h)}" for h in hazards))


def second_lines(plan: Plan, farm: Farm, words: Words) -> list[str]:
    """Return the second choices as the manager reads them: ``Heron at 07:15 (Ilse): Plant corn in Kiln about 08:00, 60%.``."""
    by_id, out = {block.id: block for block in plan.blocks}, []
    rows: dict[tuple[str, str], list[str]] = {}
    for one in plan.instead:
        if one.block in by_id:
            rows.setdefault((one.block, _what(one, by_id[one.block], farm, words)), []).append(one.operator)
    for (name, what), people in rows.items():
        block = by_id[name]
        day = "" if block.start.date() == plan.first_day else f"{words.short_day(block.start.date())} "
        who = " and ".join(farm.operator_label(person) for person in people)
        out.append(f"{farm.field_label(block.field)} at {day}{words.clock(block.start)} ({who}): {what}.")
    return out


def _what(one: Instead, block: PlanBlock, farm: Farm, words: Words) -> str:
    then = one.then
    if then is None:
        return "nothing else that day"
    odds = f"about {words.clock(then.start)}, {then.chance:.0%}"
    if _same_work(then, block):
        return f"look again {odds}"
    return f"{job_name(farm, then, words)} in {farm.field_label(then.field)} {odds}"


def _same_work(one: PlanBlock, other: PlanBlock) -> bool:
    return (one.field, one.pass_id) == (other.field, other.pass_id)


def _products(farm: Farm, block: PlanBlock) -> set[str]:
    spec = farm.spec(block.field, block.pass_id)
    return set() if spec is None else {item.product for item in spec.products}
