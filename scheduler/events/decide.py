"""Report -> event, or a refusal in one sentence. Nothing is stored here; a decision changes nothing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from pydantic import ValidationError

from scheduler.events import kinds
from scheduler.events.codec import Event, encode
from scheduler.events.situation import PassState, Situation
from scheduler.events.state import State
from scheduler.events.words import FUTURE_TOLERANCE, Report
from shared.errors import ReportRefused
from shared.event_record import EventRecord
from shared.units import show
from shared.vocabulary import EventKind

RAIN_MOST_MM = 400.0
"""More rain than this in one reading is taken for a slip; the largest daily falls on record in the Corn Belt are near it."""
OVERRUN_SHARE = 0.03
"""Area reported beyond what was left, up to this share of the field, is capped: people round."""


@dataclass(frozen=True)
class Decision:
    """An event to store, whether it was known before, and what a person should be told."""

    record: EventRecord
    known: bool = False
    notes: tuple[str, ...] = ()


def decide(report: Report, state: State, now_situation: Situation) -> Decision:
    """Return the event that a report becomes.

    Parameters
    ----------
    report : Report
    state : State
        The log so far.
    now_situation : Situation
        What is true now; its `now` is the moment of the decision.

    Raises
    ------
    ReportRefused
        One clear sentence; nothing is stored.
    """
    key, now = report.key(), now_situation.now
    if key in state.told:
        return Decision(encode(state.told[key]), known=True)
    if report.happened_at > now + FUTURE_TOLERANCE:
        raise ReportRefused(
            f"the report is about {report.happened_at:%Y-%m-%d %H:%M}, which lies in the future; "
            f"allowed: up to now ({now.astimezone(report.happened_at.tzinfo):%Y-%m-%d %H:%M})."
        )
    if report.kind is EventKind.EVENT_CORRECTED:
        body, notes = _correction(report, state)
    else:
        body, notes = _typed(report, now_situation)
    event = Event(key, report.kind, report.happened_at, now, body, report.by, report.source)
    return Decision(encode(event), notes=notes)


def _typed(report: Report, situation: Situation) -> tuple[kinds.Body, tuple[str, ...]]:
    raw = dict(report.body)
    if report.kind is EventKind.RAIN_MEASURED:
        _check_rain(raw)
    body = _model(report.kind, raw)
    check = _CHECKS.get(report.kind)
    return check(body, report, situation) if check is not None else (body, ())


def _model(kind: EventKind, raw: dict[str, object]) -> kinds.Body:
    try:
        return kinds.KINDS[kind].model_validate(raw)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(part) for part in first["loc"]) or "the report"
        shown = "" if isinstance(first.get("input"), dict) else f" {first.get('input')!r}"
        raise ReportRefused(f"{kind.value}: {place}{shown} is not usable: {first['msg'].lower()}.") from error


def _check_rain(raw: dict[str, object]) -> None:
    try:
        rain = float(str(raw.get("rain_mm")))
    except ValueError as error:
        raise ReportRefused(f"rain {raw.get('rain_mm')!r} is not a number of millimetres.") from error
    if not 0 <= rain <= RAIN_MOST_MM:
        raise ReportRefused(
            f"rain of {rain:g} mm ({rain / 25.4:.1f} in) in one reading cannot be right; allowed: 0 to {RAIN_MOST_MM:g} mm."
        )


Checked = tuple[kinds.Body, tuple[str, ...]]


def _known_field(situation: Situation, field_id: str | None) -> None:
    if field_id is not None and field_id not in situation.farm.field_by_id:
        raise ReportRefused(
            f"the field {field_id!r} is not known; known: {', '.join(situation.farm.field_by_id)}."
        )


def _known_pass(situation: Situation, field_id: str, pass_id: str) -> PassState:
    _known_field(situation, field_id)
    state = situation.passes.get((field_id, pass_id))
    if state is None:
        known = [key[1] for key in situation.passes if key[0] == field_id]
        raise ReportRefused(f"{field_id} has no pass {pass_id!r}; its passes: {', '.join(known)}.")
    return state


def _rain(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.RainMeasured)
    _known_field(situation, body.field)
    return body, ()


def _progress(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.PassProgressed)
    state = _known_pass(situation, body.field, body.pass_id)
    farm = situation.farm
    if state.cancelled:
        raise ReportRefused(f"{body.pass_id} in {body.field} was cancelled; correct that report first.")
    if state.finished:
        raise ReportRefused(
            f"{body.pass_id} in {body.field} is finished already; correct an earlier report instead."
        )
    if body.area_ha <= 0:
        raise ReportRefused(f"area {show(body.area_ha, 'area_ha', farm.units)} is not above 0.")
    if body.operator is not None and body.operator not in farm.operator_by_id:
        raise ReportRefused(
            f"the operator {body.operator!r} is not known; known: {', '.join(farm.operator_by_id)}."
        )
    if body.started_at and body.ended_at and body.ended_at < body.started_at:
        raise ReportRefused(
            f"the work ends ({body.ended_at:%H:%M}) before it starts ({body.started_at:%H:%M})."
        )
    left = situation.left_ha(body.field, body.pass_id)
    over = body.area_ha - left
    if over > OVERRUN_SHARE * farm.field_by_id[body.field].area_ha:
        raise ReportRefused(
            f"{show(body.area_ha, 'area_ha', farm.units)} of {body.pass_id} in {body.field} is more than is left "
            f"({show(left, 'area_ha', farm.units)})."
        )
    if over > 0:
        note = f"only {show(left, 'area_ha', farm.units)} was left; counted as that, and the pass as finished"
        return body.model_copy(update={"area_ha": left}), (note,)
    return body, ()


def _finish(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.PassFinished)
    state = _known_pass(situation, body.field, body.pass_id)
    if state.finished:
        raise ReportRefused(f"{body.pass_id} in {body.field} was finished before; nothing was noted.")
    if state.cancelled:
        raise ReportRefused(f"{body.pass_id} in {body.field} was cancelled; correct that report first.")
    return body, ()


def _cancel(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.PassCancelled)
    if _known_pass(situation, body.field, body.pass_id).finished:
        raise ReportRefused(f"{body.pass_id} in {body.field} is finished, so it cannot be cancelled.")
    return body, ()


def _added(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.PassAdded)
    _known_pass(situation, body.field, body.like)
    if (body.field, body.pass_id) in situation.passes:
        raise ReportRefused(f"{body.field} has a pass {body.pass_id!r} already.")
    return body, ()


def _span(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.MachineDown | kinds.OperatorAbsent)
    farm = situation.farm
    if isinstance(body, kinds.MachineDown) and body.machine not in farm.machine_by_id:
        raise ReportRefused(
            f"the machine {body.machine!r} is not known; known: {', '.join(farm.machine_by_id)}."
        )
    if isinstance(body, kinds.OperatorAbsent) and body.operator not in farm.operator_by_id:
        raise ReportRefused(
            f"the operator {body.operator!r} is not known; known: {', '.join(farm.operator_by_id)}."
        )
    if body.until is not None and body.until <= report.happened_at:
        raise ReportRefused(
            f"the end {body.until:%Y-%m-%d %H:%M} is not after the start {report.happened_at:%Y-%m-%d %H:%M}."
        )
    if body.until is not None and body.until - report.happened_at > timedelta(days=366):
        raise ReportRefused(
            f"the end {body.until:%Y-%m-%d} is more than a year away; leave --until out for an open end."
        )
    return body, ()


def _back(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.MachineBack | kinds.OperatorBack)
    machine = isinstance(body, kinds.MachineBack)
    name = body.machine if isinstance(body, kinds.MachineBack) else body.operator
    spans = (situation.machine_down if machine else situation.operator_away).get(name, ())
    if not any(span.end is None or span.end > report.happened_at for span in spans):
        return body, (f"{name} was not reported {'down' if machine else 'away'}; noted all the same",)
    return body, ()


def _delivered(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.SupplyDelivered)
    supply = situation.supplies.get(body.product)
    if supply is None:
        raise ReportRefused(
            f"the product {body.product!r} is not known; known: {', '.join(situation.supplies)}."
        )
    names = [name for _, _, name in supply.deliveries]
    if body.delivery is not None and body.delivery not in names:
        raise ReportRefused(
            f"{body.product} waits for no delivery {body.delivery!r}; expected: {', '.join(names) or '(none)'}."
        )
    if body.delivery is None and len(names) == 1:
        return body.model_copy(update={"delivery": names[0]}), (
            f"counted as the expected delivery {names[0]}",
        )
    return body, ()


def _late(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.SupplyDelayed)
    supply = situation.supplies.get(body.product)
    names = [] if supply is None else [name for _, _, name in supply.deliveries]
    if body.delivery not in names:
        raise ReportRefused(
            f"{body.product} waits for no delivery {body.delivery!r}; expected: {', '.join(names) or '(none)'}."
        )
    return body, ()


STAGES = {
    "corn": ["VE", *(f"V{n}" for n in range(1, 21)), "VT", *(f"R{n}" for n in range(1, 7))],
    "soybean": ["VE", "VC", *(f"V{n}" for n in range(1, 21)), *(f"R{n}" for n in range(1, 9))],
}


def _stage(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.StageScouted)
    _known_field(situation, body.field)
    if body.stage is None and body.height_m is None:
        raise ReportRefused("a sighting needs a stage or a height.")
    crop = str(situation.farm.field_by_id[body.field].crop)
    if body.stage is not None and body.stage not in STAGES[crop]:
        raise ReportRefused(f"{body.stage!r} is no stage of {crop}; allowed: {', '.join(STAGES[crop])}.")
    if body.field not in situation.planted:
        raise ReportRefused(f"{body.field} was not planted yet, so it has no stage.")
    return body, ()


def _field_only(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.GroundChecked | kinds.TissueSampled)
    _known_field(situation, body.field)
    if isinstance(body, kinds.TissueSampled):
        tissue = situation.farm.tissue
        return body, (
            f"the side-dress rate is multiplied by {tissue.factor(body.value_pct):.2f} (rule in the farm file)",
        )
    return body, ()


def _pin(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.BlockPinned)
    state = _known_pass(situation, body.field, body.pass_id)
    if state.finished or state.cancelled:
        raise ReportRefused(
            f"{body.pass_id} in {body.field} is {'finished' if state.finished else 'cancelled'} already."
        )
    if body.start < situation.now - timedelta(hours=1):
        raise ReportRefused(f"the pin's time {body.start:%Y-%m-%d %H:%M} is past.")
    return body, ()


def _unpin(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.BlockUnpinned)
    known = [pin.pin for pin in situation.pins]
    if body.pin not in known:
        raise ReportRefused(f"there is no pin {body.pin!r}; pins: {', '.join(known) or '(none)'}.")
    return body, ()


_CHECKS: dict[EventKind, Callable[[kinds.Body, Report, Situation], Checked]] = {
    EventKind.RAIN_MEASURED: _rain,
    EventKind.PASS_PROGRESSED: _progress,
    EventKind.PASS_FINISHED: _finish,
    EventKind.PASS_CANCELLED: _cancel,
    EventKind.PASS_ADDED: _added,
    EventKind.MACHINE_DOWN: _span,
    EventKind.OPERATOR_ABSENT: _span,
    EventKind.MACHINE_BACK: _back,
    EventKind.OPERATOR_BACK: _back,
    EventKind.SUPPLY_DELIVERED: _delivered,
    EventKind.SUPPLY_DELAYED: _late,
    EventKind.STAGE_SCOUTED: _stage,
    EventKind.GROUND_CHECKED: _field_only,
    EventKind.TISSUE_SAMPLED: _field_only,
    EventKind.BLOCK_PINNED: _pin,
    EventKind.BLOCK_UNPINNED: _unpin,
}


def _correction(report: Report, state: State) -> Checked:
    raw = dict(report.body)
    target, kind = str(raw.get("event_id", "")), raw.pop("kind", None)
    old = state.told.get(target)
    if old is None or isinstance(old.body, kinds.EventCorrected | kinds.PlanIssued):
        raise ReportRefused(
            f"there is no report {target!r} that could be corrected; fitground log shows their ids."
        )
    if target in state.corrected:
        raise ReportRefused(f"the report {target!r} was corrected before (by {state.corrected[target]}).")
    if kind is not None and kind != old.kind.value:
        raise ReportRefused(
            f"the report {target!r} is about {old.kind.value}, the correction about {kind}; same kind only."
        )
    body = raw.get("body")
    if isinstance(body, dict):
        if old.kind is EventKind.RAIN_MEASURED:
            _check_rain(body)
        _model(old.kind, body)
    return _model(EventKind.EVENT_CORRECTED, raw), ()


def planner_event(key: str, body: kinds.Body, kind: EventKind, at: datetime) -> EventRecord:
    """Return an event that the planner itself writes (a plan issued, a forecast received)."""
    return encode(Event(key, kind, at.astimezone(UTC), at.astimezone(UTC), body, "fitground", "planner"))
