"""What was done, piece by piece: every report of work with its area, time, people and what was true then."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from scheduler.events.derive import situation as derive_situation
from scheduler.events.kinds import PassFinished, PassProgressed
from scheduler.events.situation import Situation
from scheduler.events.state import State
from scheduler.farm.land import Field
from scheduler.farm.programme import PassSpec
from scheduler.planning.jobs import rate_factor

LEAST_HA = 0.005


@dataclass(frozen=True)
class Done:
    """One report of work.

    Attributes
    ----------
    area_ha : float
        What this report added; for "finished" reports the rest of the field.
    start, end : datetime or None
        Farm-local; None where nobody said them.
    day : date
        Farm-local.
    rate_factor : float
        What tissue results made of the nitrogen rate then.
    """

    event_id: str
    field: Field
    spec: PassSpec
    area_ha: float
    day: date
    start: datetime | None
    end: datetime | None
    operator: str | None
    rig: str | None
    rate_factor: float = 1.0


def work_done(situation: Situation, state: State) -> tuple[Done, ...]:
    """Return every report of work that still stands, in the order in which it happened."""
    farm, zone = situation.farm, ZoneInfo(situation.farm.time_zone)
    covered: dict[tuple[str, str], float] = {}
    out = []
    for event in sorted(state.facts.values(), key=lambda one: (one.happened_at, one.sequence)):
        body = event.body
        if not isinstance(body, PassProgressed | PassFinished) or event.happened_at > situation.now:
            continue
        field, spec = farm.field_by_id.get(body.field), farm.spec(body.field, body.pass_id)
        if field is None or spec is None:
            continue
        key = (body.field, body.pass_id)
        rest = max(0.0, field.area_ha - covered.get(key, 0.0))
        area = min(body.area_ha, rest) if isinstance(body, PassProgressed) else rest
        if area < LEAST_HA:
            continue
        covered[key] = covered.get(key, 0.0) + area
        spans = (body.started_at, body.ended_at) if isinstance(body, PassProgressed) else (None, None)
        start, end = (None if moment is None else moment.astimezone(zone) for moment in spans)
        then = (
            derive_situation(farm, state, event.happened_at) if spec.id in farm.tissue.passes else situation
        )
        out.append(
            Done(
                event.id, field, spec, area, (end or event.happened_at.astimezone(zone)).date(), start, end, body.operator,
                body.rig if isinstance(body, PassProgressed) else None, rate_factor(then, field.id, spec),
            )
        )  # fmt: skip
    return tuple(out)
