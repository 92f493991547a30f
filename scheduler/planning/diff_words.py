"""Changes in words: one sentence per block that moved, changed hands or size, came or fell away."""

from __future__ import annotations

from enum import StrEnum

from scheduler.farm.farm import Farm
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.planning.wording import Names, when


class ChangeKind(StrEnum):
    """What happened to a block."""

    MOVED = "moved"
    REASSIGNED = "reassigned"
    RESIZED = "resized"
    ADDED = "added"
    DROPPED = "dropped"


def change_text(
    a: PlanBlock | None, b: PlanBlock | None, kinds: tuple[ChangeKind, ...], new: Plan, farm: Farm | None
) -> str:
    """Return what is different about a block, without the cause."""
    names = Names(farm)
    block = b or a
    assert block is not None
    head = f"{names.job(block.field, block.pass_id)} in {names.field(block.field)}"
    if a is None and b is not None:
        return f"{head}: new, {when(b.start)}, {names.person(b.operator)} {_by(b, names)}, {names.area(b.area_ha)}."
    if b is None and a is not None:
        return f"{head}: no longer on {when(a.start)} with {names.person(a.operator)}{_instead(a, new)}."
    assert a is not None and b is not None
    parts = []
    if ChangeKind.MOVED in kinds:
        parts.append(f"from {when(a.start)} to {when(b.start)}")
    swapped = a.support is not None and (a.operator, a.support) == (b.support, b.operator)
    if swapped:
        parts.append(
            f"{names.person(b.operator)} drives and {names.person(b.support)} brings the tender, not the other way round"
        )
    elif a.operator != b.operator:
        parts.append(f"from {names.person(a.operator)} to {names.person(b.operator)}")
    if a.rig != b.rig:
        parts.append(f"{names.machines(b.machines)} instead of {names.machines(a.machines)}")
    if a.support != b.support and not swapped:
        parts.append(f"tender by {names.person(b.support)} instead of {names.person(a.support)}")
    if ChangeKind.RESIZED in kinds:
        now, then = names.area(b.area_ha), names.area(a.area_ha)
        if now != then:
            parts.append(f"{now} instead of {then}")
        elif not parts:
            parts.append(f"{names.area(b.area_ha, 1)} instead of {names.area(a.area_ha, 1)}")
    return f"{head}: {', '.join(parts)}."


def _by(block: PlanBlock, names: Names) -> str:
    return f"with {names.machines(block.machines)}" if block.machines else "on foot"


def _instead(a: PlanBlock, new: Plan) -> str:
    """Say where work that fell away has gone."""
    key = (a.field, a.pass_id)
    later = next((x for x in new.later if (x.field, x.pass_id) == key), None)
    if later is not None:
        return f", left to the week of {later.week_from:%a} {later.week_from.day} {later.week_from:%b}"
    out = next((x for x in new.left_out if (x.field, x.pass_id) == key), None)
    if out is not None:
        return f", left out: {out.reason}"
    return ""
