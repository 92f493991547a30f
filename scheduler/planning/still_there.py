"""An issued plan read on a farm that has changed since: what it counts on that is no longer there is left out, and said.

Between two plans somebody takes a field out of the files, renames a machine or takes back that a helper joined. Lists and
pages are made of the plan that people know, and would ask for things that nobody can find.
"""

from __future__ import annotations

from datetime import datetime

from scheduler.farm.farm import Farm
from scheduler.planning.plan import Plan, PlanBlock, Worry
from scheduler.planning.wording import first_few


def still_there(plan: Plan, farm: Farm, now: datetime) -> Plan:
    """Return the plan without what the farm no longer has, with a worry that names it.

    Work that was over by `now` keeps the people and machines that did it, whoever has left since.
    """
    kept = tuple(one for one in plan.instead if one.then is None or not _missing(one.then, farm, now))
    if len(kept) < len(plan.instead):
        # Nobody was promised a second choice: it goes without a word.
        plan = plan.model_copy(update={"instead": kept})
    text = gone_text(plan, farm, now)
    if not text:
        return plan
    said = Worry(severity=3, text=text)
    return plan.model_copy(
        update={
            "blocks": tuple(one for one in plan.blocks if not _missing(one, farm, now)),
            "later": tuple(one for one in plan.later if not _lost(one.field, one.pass_id, farm)),
            "left_out": tuple(one for one in plan.left_out if not _lost(one.field, one.pass_id, farm)),
            "worries": (said, *(one for one in plan.worries if not _about_lost(one, farm))),
        }
    )


def gone_text(plan: Plan, farm: Farm, now: datetime) -> str:
    """Return a sentence about what the plan counts on and the farm no longer has; empty where that is nothing."""
    gone = [name for one in plan.blocks for name in _missing(one, farm, now)]
    behind = [(one.field, one.pass_id) for one in plan.later]
    behind += [(one.field, one.pass_id) for one in plan.left_out]
    gone += [name for work in behind for name in _lost(*work, farm)]
    if not gone:
        return ""
    made = f"{plan.made_at:%a %d %b %H:%M}"
    return (
        f"The plan of {made} counts on what the farm no longer has ({first_few(gone)}): "
        "that work is not shown; plan anew."
    )


def _missing(block: PlanBlock, farm: Farm, now: datetime) -> list[str]:
    """Return what a block counts on in vain."""
    lost = _lost(block.field, block.pass_id, farm)
    if lost or block.end <= now:
        return lost
    people = [name for name in (block.operator, block.support) if name and name not in farm.operator_by_id]
    return [*people, *(name for name in block.machines if name not in farm.machine_by_id)]


def _lost(field: str, pass_id: str | None, farm: Farm) -> list[str]:
    if field not in farm.field_by_id:
        return [field]
    if pass_id is not None and farm.spec(field, pass_id) is None:
        return [f"{pass_id} in {farm.field_label(field)}"]
    return []


def _about_lost(worry: Worry, farm: Farm) -> bool:
    return worry.field is not None and bool(_lost(worry.field, worry.pass_id, farm))
