"""A plan with its reasons: why then, why not sooner, why left out, what binds, what to watch, what to get ready.

Question answered: *why is the plan as it is?* Input: the plan without reasons and what it was made from; output: the
same plan with every sentence filled in. Every reason is found by trying (`room`), none is guessed.
"""

from __future__ import annotations

from scheduler.planning.bottlenecks import binds
from scheduler.planning.left_out import left_out_rows
from scheduler.planning.plan import Plan
from scheduler.planning.ready import ready_list
from scheduler.planning.reasons import why_not_sooner, why_then
from scheduler.planning.room import Room
from scheduler.planning.wording import Names
from scheduler.planning.worries import worries


def explained(plan: Plan, room: Room, undone: list[tuple[int, float, float]]) -> Plan:
    """Return the plan with its reasons.

    Parameters
    ----------
    plan : Plan
        Blocks in the order of ``sorted(room.core.blocks)``.
    room : Room
        The same plan in the engine's terms.
    undone : list of (job, area [ha], loss)
        What is in neither blocks nor weeks.
    """
    names = Names(room.situation.farm)
    blocks = []
    for core, block in zip(sorted(room.core.blocks), plan.blocks, strict=True):
        followers = [b for b in plan.blocks if block.id in b.waits_for and b.pass_id != block.pass_id]
        blocks.append(
            block.model_copy(
                update={
                    "why_then": why_then(room, core, block, followers, names),
                    "why_not_sooner": why_not_sooner(room, core, block, names),
                }
            )
        )
    out = left_out_rows(room, undone)
    plan = plan.model_copy(update={"blocks": tuple(blocks), "left_out": out, "binds": binds(room, out)})
    return plan.model_copy(
        update={
            "ready": ready_list(plan, room.situation),
            "worries": worries(plan, room.situation, room.outlook),
        }
    )
