"""The document of a plan: the engine's answer in fields, people, hours and money, with its reasons and odds."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime

from scheduler.events.presumed import Presumed
from scheduler.events.situation import Situation
from scheduler.planning.compiled import Compiled
from scheduler.planning.costs import CENTS
from scheduler.planning.decode import chance_before, later_work, money_parts, plan_blocks, undone
from scheduler.planning.explain import explained
from scheduler.planning.left_out import rows_alone
from scheduler.planning.odds import with_odds
from scheduler.planning.one_visit import running_on
from scheduler.planning.order import ties_of
from scheduler.planning.pace_notes import counted_on
from scheduler.planning.plan import Plan, Value
from scheduler.planning.room import Room
from scheduler.solver.result import CorePlan, Limits, Status
from scheduler.windows.records import Outlook
from shared.clock import Horizon


@dataclass(frozen=True)
class Answer:
    """A core plan that breaks no rule of the engine, with what is known of it."""

    core: CorePlan
    value: float
    bound: float
    first_value: float
    status: Status
    method: str


def document(
    compiled: Compiled,
    answer: Answer,
    situation: Situation,
    outlook: Outlook,
    previous: Plan | None,
    mark: str,
    limits: Limits,
    reasons: bool,
    presumed: tuple[Presumed, ...],
) -> Plan:
    """Return the plan as people read it; `reasons` False leaves out sentences and odds."""
    ties = {field.id: ties_of(situation, field, outlook) for field in situation.farm.fields}
    shown = running_on(compiled, answer.core)
    blocks = plan_blocks(compiled, shown, outlook, ties, previous)
    horizon = compiled.grid.horizon
    aside = compiled.aside_cost
    total = answer.value + aside
    bound = min(answer.bound + aside, total)
    value = Value(
        total=round(total / CENTS, 2),
        bound=round(bound / CENTS, 2),
        gap=round((total - bound) / total, 4) if total > bound and total > 0 else 0.0,
        dispatch_total=round((answer.first_value + aside) / CENTS, 2),
        parts=money_parts(compiled, answer.core),
        status=answer.status.value,
    )
    plan = Plan(
        id="",
        farm=situation.farm.name,
        made_at=situation.now,
        first_day=horizon.first_day,
        days=horizon.days,
        time_zone=horizon.time_zone,
        blocks=blocks,
        later=later_work(compiled, answer.core),
        presumed=presumed,
        on_way=dict(situation.on_way),
        value=value,
        method=answer.method,
        log_sequence=situation.sequence,
        forecast_issued_at=outlook.forecast_issued_at,
        notes=tuple(dict.fromkeys(compiled.notes + outlook.notes)),
        paces=counted_on(situation),
        seed=limits.seed,
        fingerprint=mark,
    )
    left = undone(compiled, answer.core)
    if reasons:
        room = Room(compiled, shown, situation, outlook)
        plan = with_odds(explained(plan, room, left), situation, outlook).model_copy(
            update={
                "before": "" if previous is None else previous.id,
                "chance_before": chance_before(compiled, outlook, previous, situation.now),
            }
        )
    else:
        plan = plan.model_copy(update={"left_out": rows_alone(compiled, outlook, left)})
    return plan.model_copy(update={"id": _plan_id(plan, situation.now, horizon)})


def _plan_id(plan: Plan, now: datetime, horizon: Horizon) -> str:
    """Return an id that sorts by time and differs where the plan does."""
    text = plan.model_dump_json(include={"blocks", "later", "log_sequence", "forecast_issued_at"})
    local = now.astimezone(horizon.zone)
    return f"plan-{local:%Y-%m-%d-%H%M}-{hashlib.sha256(text.encode()).hexdigest()[:8]}"
