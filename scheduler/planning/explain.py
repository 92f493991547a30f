"""Reasons in words."""

from __future__ import annotations

from scheduler.events.situation import Situation
from scheduler.planning.compile import Compiled
from scheduler.planning.costs import drop_cost
from scheduler.planning.plan import LeftOut, Plan
from scheduler.windows.records import Outlook
from shared.vocabulary import Reason


def left_out_rows(
    compiled: Compiled, undone: list[tuple[int, float, float]], outlook: Outlook
) -> tuple[LeftOut, ...]:
    rows = []
    for k, area, loss in undone:
        job = compiled.jobs[k]
        rows.append(
            LeftOut(
                field=job.field.id, pass_id=job.spec.id, area_ha=area, reason=Reason.PRICE, text="", loss=loss
            )
        )
    for job in compiled.left_aside:
        loss = drop_cost(outlook.windows.get(job.key), job) / 100.0
        rows.append(
            LeftOut(
                field=job.field.id,
                pass_id=job.spec.id,
                area_ha=round(job.left_ha, 4),
                reason=Reason.NO_RIG,
                text="",
                loss=loss,
            )
        )
    return tuple(rows)


def explained(plan: Plan, situation: Situation, outlook: Outlook) -> Plan:
    return plan
