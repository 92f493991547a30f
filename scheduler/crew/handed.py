"""A machine that changes hands during a day: who has it before, who needs it next, told to both.

Where it is handed over (in the field, at the yard) is for them to agree: the plan only knows when each of them works with it.
"""

from __future__ import annotations

from scheduler.crew.language import Words
from scheduler.farm.farm import Farm
from scheduler.planning.plan import Plan, PlanBlock


def handed(plan: Plan, farm: Farm, block: PlanBlock, words: Words) -> tuple[str, ...]:
    """Return sentences for who drives in a block: from whom the machine comes, and who takes it after."""
    if not block.machines:
        return ()
    machine, out = farm.machine_label(block.machines[0]), []
    before, after = _neighbours(plan, block)
    if before is not None:
        line = "{name} has {machine} until {time}, in {place}: agree where you take it over"
        out.append(words(line, machine=machine, **_of(farm, before), time=words.clock(before.end)))
    if after is not None:
        line = "{name} needs {machine} next, in {place} from {time}: agree where you hand it over"
        out.append(words(line, machine=machine, **_of(farm, after), time=words.clock(after.start)))
    return tuple(out)


def comes_hitched(plan: Plan, block: PlanBlock) -> bool:
    """Tell whether somebody else brings the rig as it is, so that nothing is to be hitched at the yard."""
    before, _ = _neighbours(plan, block)
    return before is not None and before.rig == block.rig


def is_out(plan: Plan, block: PlanBlock) -> bool:
    """Tell whether a rig is on the road to a block when the plan is made: hitched, and filled as it was told."""
    first = min((b.start for b in plan.blocks if b.machines[:1] == block.machines[:1]), default=None)
    return bool(block.machines) and block.machines[0] in plan.on_way and block.start == first


def _neighbours(plan: Plan, block: PlanBlock) -> tuple[PlanBlock | None, PlanBlock | None]:
    """Return the blocks of the machine right before and after on the same day, where somebody else drives."""
    row = sorted(
        (b for b in plan.of_day(block.start.date()) if b.machines[:1] == block.machines[:1]),
        key=lambda b: b.start,
    )
    place = next((k for k, b in enumerate(row) if b.id == block.id), None)
    if place is None:
        return None, None
    around = (row[place - 1] if place > 0 else None, row[place + 1] if place + 1 < len(row) else None)
    before, after = (None if one is None or one.operator == block.operator else one for one in around)
    return before, after


def _of(farm: Farm, block: PlanBlock) -> dict[str, str]:
    return {"name": farm.operator_label(block.operator), "place": farm.field_label(block.field)}
