"""Events in plain sentences, in the farm's units: for the log, the morning page and the cause of a change."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from scheduler.events import kinds
from scheduler.events.codec import Event
from scheduler.events.grown_farm import grown_farm
from scheduler.events.news import pin_of
from scheduler.events.situation import Situation
from scheduler.events.state import State
from scheduler.farm.altered import Part
from scheduler.farm.cell_texts import WEEKDAYS, days_text
from scheduler.farm.farm import Farm
from scheduler.farm.product import AMOUNT_KIND
from shared.clock import is_iso_date
from shared.units import show

EVER = datetime.min.replace(tzinfo=UTC)
"""A moment at which no hire has ended."""


@dataclass(frozen=True)
class NewsRow:
    """One line of the story: when, who, what, and whether it was corrected since."""

    id: str
    when: str
    by: str
    text: str
    corrected: bool


def _field(farm: Farm, field_id: str | None) -> str:
    return farm.field_label(field_id) if field_id else "the whole farm"


def _pass(farm: Farm, field_id: str, pass_id: str) -> str:
    spec = farm.spec(field_id, pass_id)
    return spec.label if spec is not None else pass_id


def describe(event: Event, farm: Farm) -> str:
    """Return one sentence about an event, without a full stop."""
    body, zone = event.body, ZoneInfo(farm.time_zone)
    match body:
        case kinds.RainMeasured():
            rain = (
                show(body.rain_mm, "rain_mm", farm.units, 2 if farm.units == "us" else 1) + " of"
                if body.rain_mm
                else "no"
            )
            return f"{rain} rain on {_field(farm, body.field)}"
        case kinds.ForecastReceived():
            return f"new forecast from {body.source}, issued {body.issued_at.astimezone(zone):%a %H:%M}"
        case kinds.PassStarted() | kinds.PassPaused():
            return _stop_or_go(body, farm)
        case kinds.PassProgressed():
            who = f" by {farm.operator_label(body.operator)}" if body.operator else ""
            area = show(body.area_ha, "area_ha", farm.units)
            return f"{area} done on {_field(farm, body.field)}: {_pass(farm, body.field, body.pass_id)}{who}"
        case kinds.PassFinished():
            return f"{_pass(farm, body.field, body.pass_id)} finished on {_field(farm, body.field)}"
        case kinds.PassCancelled():
            why = f" ({body.why})" if body.why else ""
            return f"{_pass(farm, body.field, body.pass_id)} cancelled on {_field(farm, body.field)}{why}"
        case kinds.PassAdded():
            return f"{_pass(farm, body.field, body.like)} added once more on {_field(farm, body.field)}"
        case kinds.MachineDown() | kinds.OperatorAbsent():
            down = isinstance(body, kinds.MachineDown)
            name = (
                farm.machine_label(body.machine)
                if isinstance(body, kinds.MachineDown)
                else farm.operator_label(body.operator)
            )
            end = f" until {body.until.astimezone(zone):%a %d %b %H:%M}" if body.until else ", end unknown"
            start = f" from {body.start.astimezone(zone):%a %d %b %H:%M}" if body.start else ""
            why = f" ({body.why})" if body.why else ""
            return f"{name} {'is out of order' if down else 'is away'}{start}{end}{why}"
        case kinds.MachineBack():
            return f"{farm.machine_label(body.machine)} runs again"
        case kinds.OperatorBack():
            return f"{farm.operator_label(body.operator)} is back"
        case kinds.MachineAdded():
            like = f", like {farm.machine_label(body.like)}" if body.like else ""
            return f"{body.machine.label} joined the machines{like}{_for_a_time(body, zone)}"
        case kinds.OperatorAdded():
            return f"{body.operator.label} joined the crew{_for_a_time(body, zone)}"
        case _:
            return _more(event, farm, zone)


def _stop_or_go(body: kinds.PassStarted | kinds.PassPaused, farm: Farm) -> str:
    who = f" by {farm.operator_label(body.operator)}" if body.operator else ""
    went = f"{_pass(farm, body.field, body.pass_id)} on {_field(farm, body.field)}"
    if isinstance(body, kinds.PassStarted):
        return f"{went} begun{who}"
    return f"{went} paused{who}" + (f" ({body.why})" if body.why else "")


def _for_a_time(body: kinds.MachineAdded | kinds.OperatorAdded, zone: ZoneInfo) -> str:
    start = "" if body.start is None else f" from {body.start.astimezone(zone):%a %d %b %H:%M}"
    return start + ("" if body.until is None else f" until {body.until.astimezone(zone):%a %d %b %H:%M}")


def _more(event: Event, farm: Farm, zone: ZoneInfo) -> str:
    body = event.body
    match body:
        case kinds.SupplyDelivered():
            return f"{_of_product(farm, body.product, body.amount)} delivered"
        case kinds.SupplyCounted():
            return f"counted: {_of_product(farm, body.product, body.amount)} there" + (
                f" ({body.why})" if body.why else ""
            )
        case kinds.SupplyDelayed():
            product = farm.product_by_id.get(body.product)
            name = product.label if product is not None else body.product
            return f"{name}: delivery {body.delivery} comes on {body.new_date:%a %d %b} instead"
        case kinds.StageScouted():
            seen = [body.stage] if body.stage else []
            seen += (
                [show(body.height_m, "depth_m", farm.units, 0) + " tall"] if body.height_m is not None else []
            )
            return f"{_field(farm, body.field)} is at {', '.join(seen)}"
        case kinds.GroundChecked():
            return f"ground of {_field(farm, body.field)} checked by hand: {body.verdict.value}"
        case kinds.GroundCalibrated():
            where = _field(farm, body.field) if body.field else "every field not named otherwise"
            return (
                f"ground of {where} calibrated: limits {body.limit_shift:+.3f} of field capacity, "
                f"drains {body.drying_factor:.2f} times as slowly ({body.learned_from})"
            )
        case kinds.TissueSampled():
            told = f"tissue of {_field(farm, body.field)}: {body.value_pct:g} % {body.nutrient}"
            moves = body.nutrient == farm.tissue.nutrient and farm.goes_by_tissue(body.field)
            return f"{told}, side-dress rate x {farm.tissue.factor(body.value_pct):.2f}" if moves else told
        case kinds.FarmChanged(part=Part.OPERATOR, values={"shift": [_, *_] as shifts}) if (
            len(body.values) == 1
        ):
            return f"{_thing(farm, body)} works {_hours(shifts)}{f' ({body.why})' if body.why else ''}"
        case kinds.FarmChanged():
            said = ", ".join(f"{key} {_plain(value)}" for key, value in body.values.items())
            return f"{_thing(farm, body)}: {said} from now on{f' ({body.why})' if body.why else ''}"
        case kinds.BlockPinned():
            start = body.start.astimezone(zone)
            return f"{_pass(farm, body.field, body.pass_id)} on {_field(farm, body.field)} pinned to {start:%a %H:%M}"
        case kinds.BlockUnpinned():
            return f"pin {body.pin} taken out"
        case kinds.PlanIssued():
            return f"plan {body.plan_id} issued"
        case kinds.EventCorrected():
            return (
                f"report {body.event_id} corrected"
                if body.body is not None
                else f"report {body.event_id} taken out"
            )
        case _:
            return event.kind.value.replace("_", " ")


def _of_product(farm: Farm, name: str, amount: float) -> str:
    product = farm.product_by_id.get(name)
    if product is None:
        return name
    size = product.package_amount
    if amount <= 0:
        return f"nothing of {product.label}"
    size, kind = product.package_amount, AMOUNT_KIND[product.form]
    shown = f"{amount / size:,.0f} bags" if size else show(amount, kind, farm.units, 0)
    return f"{shown} of {product.label}"


def _thing(farm: Farm, body: kinds.FarmChanged) -> str:
    named = {
        Part.FIELD: Farm.field_label,
        Part.MACHINE: Farm.machine_label,
        Part.OPERATOR: Farm.operator_label,
    }
    if body.part in named:
        return " and ".join(named[body.part](farm, name) for name in body.name.split(","))
    return "the plan" if body.part is Part.PLAN else body.name.replace("/", ", ")


def _plain(value: object) -> str:
    if isinstance(value, list | tuple):
        return ", ".join(_plain(one) for one in value)
    if isinstance(value, dict) and {"start", "end"} <= set(value):
        return _shift(value)
    if isinstance(value, dict):
        return " ".join(f"{key} {_plain(one)}" for key, one in value.items())
    return {True: "yes", False: "no"}.get(value, str(value)) if isinstance(value, bool) else str(value)


def _hours(shifts: Sequence[Mapping[str, Any]]) -> str:
    """Write shifts; where the first is of single dates, it changes no other."""
    if all(map(is_iso_date, shifts[0].get("days", ["mon"]))):
        return _shift(shifts[0])
    return f"{', '.join(map(_shift, shifts))} from now on"


def _shift(shift: Mapping[str, Any]) -> str:
    return f"{shift['start']}-{shift['end']} on {_days(shift.get('days', WEEKDAYS[:6]))}"


def _days(days: Sequence[str]) -> str:
    """Write the days of a shift: mon-sat, Sun 16 May."""
    dated = [f"{date.fromisoformat(day):%a %d %b}" for day in days if is_iso_date(day)]
    weekly = [day for day in days if not is_iso_date(day)]
    return ", ".join([*dated, *([days_text(weekly)] if weekly else [])])


def describe_told(event: Event, state: State, farm: Farm) -> str:
    """Return the sentence of an event of a log: corrections and pins taken out say what they were about."""
    body = event.body
    if isinstance(body, kinds.EventCorrected) and body.event_id in state.told:
        before = describe(state.told[body.event_id], farm)
        now = state.facts.get(body.event_id)
        return (
            f"taken out: {before}"
            if now is None
            else f"corrected: {describe(now, farm)} (told before: {before})"
        )
    if isinstance(body, kinds.BlockUnpinned):
        pin = pin_of(body.pin, state)
        return describe(event, farm) if pin is None else f"pin taken out: {describe(pin, farm)}"
    return describe(event, farm)


def at_work(situation: Situation) -> list[str]:
    """Return a line for each pass that somebody said today to have begun, the latest last."""
    farm, zone = situation.farm, ZoneInfo(situation.farm.time_zone)
    running = [(state.running, key) for key, state in situation.passes.items() if state.running is not None]
    return [
        f"{run.since.astimezone(zone):%H:%M} {_pass(farm, *key)}, {_field(farm, key[0])}"
        + (f": {farm.operator_label(run.operator)}" if run.operator else "")
        for run, key in sorted(running, key=lambda one: one[0].since)
    ]


def history(state: State, farm: Farm) -> list[NewsRow]:
    """Return the story of the log, oldest first; who joined at some time is named."""
    zone = ZoneInfo(farm.time_zone)
    farm = grown_farm(farm, state.told.values(), EVER)
    return [
        NewsRow(
            event.id,
            f"{event.happened_at.astimezone(zone):%Y-%m-%d %H:%M}",
            event.by,
            describe_told(event, state, farm),
            event.id in state.corrected,
        )
        for event in state.told.values()
    ]
