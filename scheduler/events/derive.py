"""From facts to the situation: what is done, who is away, what rained, what is in stock, at one moment.

Pure. Facts are taken in the order in which they happened, told late or not (same moment: in log order); what
happened after `now` is not counted (replays ask for past mornings).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, time
from zoneinfo import ZoneInfo

from scheduler.events import kinds
from scheduler.events.codec import Event
from scheduler.events.derive_work import finish, progress, sampled, still_running, stop_or_go
from scheduler.events.draft import Draft
from scheduler.events.grown_farm import grown_farm
from scheduler.events.paces import learned_paces, with_paces
from scheduler.events.situation import (
    Calibrated,
    Check,
    PassState,
    Pinned,
    Rain,
    Sighting,
    Situation,
    Span,
    Supply,
)
from scheduler.events.spans import NOT_HIRED, NOT_WITH_US, absences, closed, merged, told
from scheduler.events.state import State
from scheduler.farm.altered import Part
from scheduler.farm.farm import Farm
from shared.vocabulary import Operation


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
    draft = Draft(grown, ZoneInfo(grown.time_zone))
    _start(draft)
    for event in facts:
        _count(draft, event)
    paces = learned_paces(draft, now)
    return Situation(
        farm=with_paces(grown, paces),
        now=now,
        passes=still_running(draft, now),
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
        paces=paces,
        sequence=state.sequence,
        last_plan_id=draft.last_plan,
    )


def _start(draft: Draft) -> None:
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


def _count(draft: Draft, event: Event) -> None:
    """Count one fact."""
    body = event.body
    match body:
        case kinds.PassStarted() | kinds.PassPaused():
            stop_or_go(draft, event, body)
        case kinds.PassProgressed():
            progress(draft, event, body)
        case kinds.PassFinished():
            finish(draft, event, body)
        case kinds.PassCancelled():
            key = (body.field, body.pass_id)
            draft.passes[key] = replace(draft.passes.get(key, PassState()), cancelled=True, running=None)
        case kinds.MachineDown():
            draft.down[body.machine] = _absent(draft.down.get(body.machine, []), event, body)
        case kinds.MachineAdded():
            draft.down[body.machine.id] = absences(event, body.start, body.until, NOT_HIRED)
        case kinds.OperatorAdded():
            draft.away[body.operator.id] = absences(event, body.start, body.until, NOT_WITH_US)
        case kinds.MachineBack():
            draft.down[body.machine] = closed(draft.down.get(body.machine, []), event.happened_at)
        case kinds.OperatorAbsent():
            draft.away[body.operator] = _absent(draft.away.get(body.operator, []), event, body)
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
        case kinds.SupplyCounted(product=product):
            taken = draft.used.get(product, 0.0) - draft.received.get(product, 0.0)
            draft.opening[product] = body.amount + taken
        case kinds.FarmChanged(part=Part.PRODUCT) if "stock" in body.values:
            for product in body.name.split(","):
                draft.opening.pop(product, None)
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
            sampled(draft, event, body)
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


def _supplies(draft: Draft) -> dict[str, Supply]:
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
        opening = draft.opening.get(product.id, product.amount(product.stock))
        stock = opening + received - used
        out[product.id] = Supply(max(0.0, stock), tuple(sorted(coming)), received, used)
    return out


def _absent(spans: list[Span], event: Event, body: kinds.MachineDown | kinds.OperatorAbsent) -> list[Span]:
    new = Span(body.start or event.happened_at, body.until, body.why, event.id)
    return told(spans, new, event.happened_at)


def _rain(draft: Draft, event: Event, body: kinds.RainMeasured) -> Rain:
    end = body.until or event.happened_at
    local = end.astimezone(draft.zone)
    midnight = datetime.combine(local.date(), time(0), draft.zone).astimezone(UTC)
    return Rain(body.field, body.since or midnight, end, body.rain_mm, event.id)
