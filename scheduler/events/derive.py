"""From facts to the situation: what is done, who is away, what rained, what is in stock, at one moment.

Pure. Facts are taken in the order in which they happened, told late or not (same moment: in log order); what
happened after `now` is not counted (replays ask for past mornings).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from scheduler.events import kinds
from scheduler.events.codec import Event
from scheduler.events.grown_farm import grown_farm
from scheduler.events.situation import (
    Calibrated,
    Check,
    FieldPass,
    PassState,
    Pinned,
    Rain,
    Sighting,
    Situation,
    Span,
    Supply,
)
from scheduler.events.spans import absences, closed, merged
from scheduler.events.state import State
from scheduler.farm.farm import Farm
from scheduler.farm.programme import PassSpec
from shared.vocabulary import Operation

DONE_TOLERANCE_SHARE = 0.005
"""Area left below this share of the field counts as done: people round acres."""


@dataclass
class _Draft:
    """What is being gathered; turned into a frozen `Situation` at the end."""

    farm: Farm
    zone: ZoneInfo
    passes: dict[FieldPass, PassState] = field(default_factory=dict)
    planted: dict[str, date] = field(default_factory=dict)
    down: dict[str, list[Span]] = field(default_factory=dict)
    away: dict[str, list[Span]] = field(default_factory=dict)
    rain: list[Rain] = field(default_factory=list)
    checks: list[Check] = field(default_factory=list)
    calibrated: dict[str, Calibrated] = field(default_factory=dict)
    sightings: list[Sighting] = field(default_factory=list)
    pins: dict[str, Pinned] = field(default_factory=dict)
    factors: dict[str, float] = field(default_factory=dict)
    used: dict[str, float] = field(default_factory=dict)
    received: dict[str, float] = field(default_factory=dict)
    arrived: set[tuple[str, str]] = field(default_factory=set)
    new_dates: dict[tuple[str, str], date] = field(default_factory=dict)
    worked: dict[tuple[str, date], float] = field(default_factory=dict)
    last_plan: str | None = None


def situation(farm: Farm, state: State, now: datetime) -> Situation:
    """Return what is true at `now`.

    Parameters
    ----------
    farm : Farm
        As its files say; machines, people and passes added by events are put in.
    state : State
    now : datetime
        Aware.
    """
    facts = sorted(
        (event for event in state.facts.values() if event.happened_at <= now),
        key=lambda event: event.happened_at,
    )
    grown = grown_farm(farm, facts, now)
    draft = _Draft(grown, ZoneInfo(grown.time_zone))
    _start(draft)
    for event in facts:
        _count(draft, event)
    return Situation(
        farm=grown,
        now=now,
        passes=draft.passes,
        planted=draft.planted,
        machine_down={key: merged(spans) for key, spans in draft.down.items()},
        operator_away={key: merged(spans) for key, spans in draft.away.items()},
        rain=tuple(draft.rain),
        checks=tuple(draft.checks),
        calibrated=draft.calibrated,
        sightings=tuple(draft.sightings),
        pins=tuple(draft.pins.values()),
        rate_factor=draft.factors,
        supplies=_supplies(draft),
        worked_minutes=draft.worked,
        sequence=state.sequence,
        last_plan_id=draft.last_plan,
    )


def _start(draft: _Draft) -> None:
    """Count what the farm files say was done before the log begins."""
    for ground in draft.farm.fields:
        if ground.planted_on is not None:
            draft.planted[ground.id] = ground.planted_on
        for spec in draft.farm.programme_of(ground).passes:
            done = spec.id in ground.done or (
                ground.planted_on is not None and spec.operation is Operation.PLANT
            )
            state = PassState(done_ha=ground.area_ha, finished=True) if done else PassState()
            draft.passes[(ground.id, spec.id)] = state


def _count(draft: _Draft, event: Event) -> None:
    """Count one fact."""
    body = event.body
    match body:
        case kinds.PassProgressed():
            _progress(draft, event, body)
        case kinds.PassFinished():
            _finish(draft, event, body)
        case kinds.PassCancelled():
            key = (body.field, body.pass_id)
            draft.passes[key] = replace(draft.passes.get(key, PassState()), cancelled=True)
        case kinds.MachineDown():
            draft.down.setdefault(body.machine, []).append(
                Span(body.start or event.happened_at, body.until, body.why, event.id)
            )
        case kinds.MachineAdded():
            draft.down[body.machine.id] = absences(event, body.start, body.until, "not hired then")
        case kinds.OperatorAdded():
            draft.away[body.operator.id] = absences(event, body.start, body.until, "not with us then")
        case kinds.MachineBack():
            draft.down[body.machine] = closed(draft.down.get(body.machine, []), event.happened_at)
        case kinds.OperatorAbsent():
            draft.away.setdefault(body.operator, []).append(
                Span(body.start or event.happened_at, body.until, body.why, event.id)
            )
        case kinds.OperatorBack():
            draft.away[body.operator] = closed(draft.away.get(body.operator, []), event.happened_at)
        case kinds.RainMeasured():
            draft.rain.append(_rain(draft, event, body))
        case kinds.SupplyDelivered():
            draft.received[body.product] = draft.received.get(body.product, 0.0) + body.amount
            if body.delivery:
                draft.arrived.add((body.product, body.delivery))
        case kinds.SupplyDelayed():
            draft.new_dates[(body.product, body.delivery)] = body.new_date
        case kinds.StageScouted():
            draft.sightings.append(
                Sighting(body.field, event.happened_at, body.stage, body.height_m, event.id)
            )
        case kinds.GroundChecked():
            draft.checks.append(Check(body.field, event.happened_at, body.verdict, body.pass_id, event.id))
        case kinds.GroundCalibrated():
            draft.calibrated[body.field or ""] = Calibrated(
                body.limit_shift, body.drying_factor, event.happened_at, event.id
            )
        case kinds.TissueSampled():
            if body.nutrient == draft.farm.tissue.nutrient:
                draft.factors[body.field] = draft.farm.tissue.factor(body.value_pct)
        case kinds.BlockPinned():
            draft.pins[body.pin] = Pinned(
                body.pin,
                body.field,
                body.pass_id,
                body.start,
                body.rig,
                body.operator,
                body.area_ha,
                event.id,
            )
        case kinds.BlockUnpinned():
            draft.pins.pop(body.pin, None)
        case kinds.PlanIssued():
            draft.last_plan = body.plan_id
        case _:
            pass


def _progress(draft: _Draft, event: Event, body: kinds.PassProgressed) -> None:
    key, ground = (body.field, body.pass_id), draft.farm.field_by_id.get(body.field)
    if ground is None or key not in draft.passes:
        return
    old = draft.passes[key]
    done = min(ground.area_ha, old.done_ha + body.area_ha)
    finished = old.finished or done >= ground.area_ha * (1 - DONE_TOLERANCE_SHARE)
    ended = body.ended_at or event.happened_at
    draft.passes[key] = replace(
        old,
        done_ha=ground.area_ha if finished else done,
        started_at=old.started_at or body.started_at or event.happened_at,
        finished=finished,
        finished_at=old.finished_at or (ended if finished else None),
        last_rig=body.rig or old.last_rig,
        last_operator=body.operator or old.last_operator,
        last_report_at=ended,
    )
    _use(draft, body.field, body.pass_id, done - old.done_ha)
    if body.operator and body.started_at and body.ended_at and body.ended_at > body.started_at:
        day = body.started_at.astimezone(draft.zone).date()
        minutes = (body.ended_at - body.started_at) / timedelta(minutes=1)
        draft.worked[(body.operator, day)] = draft.worked.get((body.operator, day), 0.0) + minutes
    _planted(draft, key, ended)


def _finish(draft: _Draft, event: Event, body: kinds.PassFinished) -> None:
    key, ground = (body.field, body.pass_id), draft.farm.field_by_id.get(body.field)
    if ground is None or key not in draft.passes:
        return
    old = draft.passes[key]
    if old.finished:
        return
    _use(draft, body.field, body.pass_id, ground.area_ha - old.done_ha)
    draft.passes[key] = replace(
        old,
        done_ha=ground.area_ha,
        finished=True,
        started_at=old.started_at or event.happened_at,
        finished_at=event.happened_at,
        last_operator=body.operator or old.last_operator,
        last_report_at=event.happened_at,
    )
    _planted(draft, key, event.happened_at)


def _planted(draft: _Draft, key: FieldPass, at: datetime) -> None:
    spec = draft.farm.spec(*key)
    if spec is not None and spec.operation is Operation.PLANT and draft.passes[key].finished:
        draft.planted.setdefault(key[0], at.astimezone(draft.zone).date())


def factor_of(farm: Farm, spec: PassSpec, field_id: str, factors: Mapping[str, float]) -> float:
    """Return what a tissue result makes of the nitrogen rates of a pass."""
    return factors.get(field_id, 1.0) if spec.id in farm.tissue.passes else 1.0


def _use(draft: _Draft, field_id: str, pass_id: str, area_ha: float) -> None:
    spec = draft.farm.spec(field_id, pass_id)
    if spec is None or area_ha <= 0:
        return
    factor = factor_of(draft.farm, spec, field_id, draft.factors)
    for item in spec.products:
        product = draft.farm.product_by_id[item.product]
        rate = product.rate(item.rate) * (factor if product.nitrogen_share > 0 else 1.0)
        draft.used[item.product] = draft.used.get(item.product, 0.0) + rate * area_ha


def _supplies(draft: _Draft) -> dict[str, Supply]:
    out = {}
    for product in draft.farm.products:
        coming = []
        for number, delivery in enumerate(product.deliveries, 1):
            name = delivery.id or f"{product.id}-{number}"
            if (product.id, name) in draft.arrived:
                continue
            day = draft.new_dates.get((product.id, name), delivery.date)
            coming.append((day, product.amount(delivery.amount), name))
        received, used = draft.received.get(product.id, 0.0), draft.used.get(product.id, 0.0)
        stock = product.amount(product.stock) + received - used
        out[product.id] = Supply(max(0.0, stock), tuple(sorted(coming)), received, used)
    return out


def _rain(draft: _Draft, event: Event, body: kinds.RainMeasured) -> Rain:
    end = body.until or event.happened_at
    local = end.astimezone(draft.zone)
    midnight = datetime.combine(local.date(), time(0), draft.zone).astimezone(UTC)
    return Rain(body.field, body.since or midnight, end, body.rain_mm, event.id)
