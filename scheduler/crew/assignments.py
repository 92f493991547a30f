"""A person's or a rig's work as dated assignments over all issued plans: what moved, since when, what was called off.

In: the issued plans, oldest first. Out: assignments with a stable name, a number that rises with every change, and the moment of
the last change, so that calendars elsewhere follow along.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from scheduler.crew.language import Words
from scheduler.crew.notes import job_name
from scheduler.farm.farm import Farm
from scheduler.planning.plan import Plan, PlanBlock
from shared.assignment import Assignment
from shared.units import show

KEPT = timedelta(days=14)
"""Assignments that ended longer ago are left out."""
Wanted = Callable[[PlanBlock], bool]


def of_person(plans: Sequence[Plan], farm: Farm, person: str, now: datetime) -> list[Assignment]:
    """Return a person's assignments, in that person's language."""
    words = Words(farm.operator_by_id[person].language)
    return _follow(plans, farm, person, words, now, lambda block: person in (block.operator, block.support))


def of_machine(plans: Sequence[Plan], farm: Farm, machine: str, now: datetime) -> list[Assignment]:
    """Return a machine's assignments."""
    return _follow(plans, farm, machine, Words("en"), now, lambda block: machine in block.machines)


def _follow(
    plans: Sequence[Plan], farm: Farm, whose: str, words: Words, now: datetime, wanted: Wanted
) -> list[Assignment]:
    known: dict[str, Assignment] = {}
    for plan in plans:
        there: set[str] = set()
        for block in filter(wanted, plan.blocks):
            if farm.spec(block.field, block.pass_id) is None:
                continue  # The farm has lost the field or the pass since.
            made = _assignment(plan, block, farm, whose, words)
            there.add(made.name)
            before = known.get(made.name)
            known[made.name] = made if before is None else _newer(before, made)
        for name, old in known.items():
            # What had begun when the plan was made was worked, not called off.
            if name not in there and not old.cancelled and old.start >= plan.made_at:
                known[name] = replace(old, cancelled=True, number=old.number + 1, changed_at=plan.made_at)
    return sorted(
        (one for one in known.values() if one.end >= now - KEPT), key=lambda one: (one.start, one.name)
    )


def _newer(before: Assignment, made: Assignment) -> Assignment:
    """Return an assignment as it is now; under way it keeps the start that people know."""
    if before.start < made.changed_at and not before.cancelled:
        made = replace(made, start=min(before.start, made.start))
    same = replace(made, number=before.number, changed_at=before.changed_at)
    return before if same == before else replace(made, number=before.number + 1)


def _assignment(plan: Plan, block: PlanBlock, farm: Farm, whose: str, words: Words) -> Assignment:
    field = farm.field_by_id[block.field]
    rig = " + ".join(farm.machine_label(name) for name in block.machines)
    people = [farm.operator_label(name) for name in filter(None, (block.operator, block.support))]
    lines = [show(block.area_ha, "area_ha", farm.units, 0), rig, ", ".join(people)]
    if field.guidance_line:
        lines.append(words("Guidance line: {line}", line=field.guidance_line))
    lines.append(words("The plan advises. Labels, local law and licensed people decide."))
    return Assignment(
        f"{whose}/{block.id}", block.start, block.end, f"{job_name(farm, block, words)}: {field.label}", field.label,
        "\n".join(line for line in lines if line), field.latitude_deg, field.longitude_deg, 0, plan.made_at,
    )  # fmt: skip


def machines_at_work(plans: Iterable[Plan]) -> list[str]:
    """Return every machine that some plan uses."""
    return sorted({name for plan in plans for block in plan.blocks for name in block.machines})
