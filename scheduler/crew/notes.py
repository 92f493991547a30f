"""What to watch in the fields of a day, in the reader's language.

Question answered: *which of the plan's worries are about fields that this person goes to?* English is what the plan itself
says; another language starts from the same line and its values.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, datetime

from scheduler.crew.language import Words
from scheduler.farm.farm import Farm
from scheduler.farm.programme import PassSpec
from scheduler.planning.plan import Plan, PlanBlock, Worry
from shared.units import to_people

TOGETHER = "\u00a0"
"""A space at which no line ends: a number keeps its unit."""


def pass_name(spec: PassSpec, words: Words) -> str:
    """Return what a pass is called: its own name in English, else its operations."""
    if spec.name and words.language == "en":
        return spec.name
    text = " + ".join(words(operation.value.replace("-", " ")) for operation in spec.operations)
    return text[:1].upper() + text[1:]


def pass_spec(farm: Farm, block: PlanBlock) -> PassSpec:
    """Return the pass that a block works."""
    spec = farm.spec(block.field, block.pass_id)
    assert spec is not None, f"plan names the unknown pass {block.pass_id} in {block.field}"
    return spec


def job_name(farm: Farm, block: PlanBlock, words: Words) -> str:
    """Return what is done in a block, in words: ``Side-dress + interseed``."""
    return pass_name(pass_spec(farm, block), words)


def notes_of(
    plan: Plan, farm: Farm, fields: set[str], words: Words, less: Collection[str] = ()
) -> tuple[str, ...]:
    """Return the worries about some fields but those of the lines `less`; in another language those that can be said in it."""
    found = [worry for worry in plan.worries if worry.field in fields and worry.line not in less]
    if words.language == "en":
        return tuple(worry.text for worry in found)
    return tuple(_said(worry, farm, words) for worry in found if worry.line)


def _said(worry: Worry, farm: Farm, words: Words) -> str:
    spec = farm.spec(worry.field or "", worry.pass_id or "")
    job = worry.pass_id or "" if spec is None else pass_name(spec, words)
    values = {name: _value(name, text, farm, words) for name, text in worry.values.items()}
    return words(worry.line, job=job, place=farm.field_label(worry.field or ""), **values)


def _value(name: str, text: str, farm: Farm, words: Words) -> str:
    if name == "chance":
        return f"{words.number(100 * float(text))}{TOGETHER}%"
    if name == "left_ha":
        area, unit = to_people(float(text), "area_ha", farm.units)
        return f"{words.number(area, 0 if area >= 10 else 1)}{TOGETHER}{unit}"
    if name == "start":
        moment = datetime.fromisoformat(text)
        return f"{words.day(moment.date())}, {words.clock(moment)}"
    return words.day(date.fromisoformat(text))
