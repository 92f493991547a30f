"""The independent checker: every hard rule of a plan, from the plan, the situation and the outlook alone.

Question answered: *may this plan be handed out?* Output: one sentence per broken rule, none for a good plan. It
shares no code with the engine or with what builds the engine's problem, so that a slip there shows here: roads,
paces, calendars, stocks and lags are worked out once more, in minutes and hectares.

Rules of single blocks are in `check_blocks`, of people and machines over time in `check_days`, of passes in a field
and of products in `check_fields`.
"""

from __future__ import annotations

from dataclasses import replace

from scheduler.events.presumed import with_presumed
from scheduler.events.situation import Situation
from scheduler.planning.check_blocks import block_faults
from scheduler.planning.check_days import day_faults
from scheduler.planning.check_fields import field_faults
from scheduler.planning.check_presumed import presumed_faults
from scheduler.planning.plan import Plan
from scheduler.windows.records import Outlook


def check_plan(plan: Plan, situation: Situation, outlook: Outlook) -> list[str]:
    """Return every broken rule as a sentence.

    Parameters
    ----------
    plan : Plan
    situation : Situation
        What was true when the plan was made, as reported; what the plan takes as done besides is judged, and then counted.
    outlook : Outlook
        Fit hours and windows that the plan was made from.

    Returns
    -------
    list of str
        Empty when every rule holds.
    """
    found = _frame(plan, situation, outlook) + presumed_faults(plan.presumed, plan.on_way, situation)
    situation = replace(with_presumed(situation, plan.presumed), on_way=plan.on_way)
    known = [
        block
        for block in plan.blocks
        if block.field in situation.farm.field_by_id
        and situation.farm.spec(block.field, block.pass_id) is not None
        and block.start < block.end
    ]
    found += block_faults(plan, known, situation, outlook)
    found += day_faults(known, situation)
    found += field_faults(plan, known, situation)
    return found


def _frame(plan: Plan, situation: Situation, outlook: Outlook) -> list[str]:
    found = []
    ids = [block.id for block in plan.blocks]
    for name in sorted({name for name in ids if ids.count(name) > 1}):
        found.append(f"Block {name}: the id is used more than once.")
    if plan.farm != situation.farm.name:
        found.append(f"The plan is for {plan.farm}, the situation of {situation.farm.name}.")
    if plan.first_day != outlook.first_day:
        found.append(f"The plan begins on {plan.first_day}, the outlook on {outlook.first_day}.")
    for block in plan.blocks:
        if block.field not in situation.farm.field_by_id:
            found.append(f"Block {block.id}: field {block.field} is not on the farm.")
        elif situation.farm.spec(block.field, block.pass_id) is None:
            found.append(f"Block {block.id}: {block.pass_id} is no pass of {block.field}.")
        if not block.start < block.end:
            found.append(f"Block {block.id}: ends before it starts.")
    return found
