"""The evening question: what was planned for today and nobody has said a word about.

Without progress the plan of tomorrow begins with a guess. Asked for is each field's pass that stood in the plan which was
in force when it should have begun.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from zoneinfo import ZoneInfo

from scheduler.crew.language import Words
from scheduler.events.news import worked_on
from scheduler.events.state import State
from scheduler.farm.farm import Farm
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.service.handouts import MANAGER
from shared.parcel import Parcel


def planned_today(plans: Sequence[Plan], now: datetime, day: date) -> list[PlanBlock]:
    """Return the blocks that should have begun by now, each from the plan that was in force at its start.

    Parameters
    ----------
    plans : sequence of Plan
        Oldest first.
    """
    out: dict[tuple[str, str, str | None], PlanBlock] = {}
    for k, plan in enumerate(plans):
        until = plans[k + 1].made_at if k + 1 < len(plans) else now
        for block in plan.of_day(day):
            # Of work under way when a plan was made, the first plan of the day knows.
            if (block.start >= plan.made_at or k == 0) and block.start < min(until, now):
                out.setdefault((block.field, block.pass_id, block.operator), block)
    return sorted(out.values(), key=lambda block: block.start)


def unreported(blocks: Iterable[PlanBlock], state: State, day: date, zone: ZoneInfo) -> list[PlanBlock]:
    """Return the blocks about whose field and pass nothing was said that happened on the day."""
    told = worked_on(e for e in state.facts.values() if e.happened_at.astimezone(zone).date() == day)
    return [block for block in blocks if (block.field, block.pass_id) not in told]


def reminder_parcels(missing: Sequence[PlanBlock], farm: Farm, day: date) -> tuple[Parcel, ...]:
    """Return a question to each person, and the whole list to the manager; nothing when nothing is missing."""
    if not missing:
        return ()
    out = [_parcel(farm, MANAGER, "en", "", missing, day)]
    for person in farm.operators:
        own = [block for block in missing if person.id == block.operator]
        if own:
            out.append(_parcel(farm, person.id, person.language, person.email, own, day))
    return tuple(out)


def _parcel(
    farm: Farm, to: str, language: str, address: str, blocks: Sequence[PlanBlock], day: date
) -> Parcel:
    words = Words(language)
    lines = []
    for block in blocks:
        who = "" if to != MANAGER or not block.operator else f" ({farm.operator_label(block.operator)})"
        lines.append(f"- {farm.field_label(block.field)}: {words(farm.pass_label(block.pass_id))}{who}")
    text = words("What got done today? Nothing was reported on:") + "\n" + "\n".join(lines) + "\n"
    data = {"missing": [{"field": b.field, "pass": b.pass_id, "operator": b.operator} for b in blocks]}
    return Parcel(
        f"remind-{day}/{to}",
        to,
        words("Report for {day}", day=words.day(day)),
        text,
        "",
        day,
        address,
        data,
        "reminder",
    )
