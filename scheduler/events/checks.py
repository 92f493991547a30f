"""What a report must meet to be believed: known names, possible amounts, an order that can be. One check a kind."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from scheduler.events import kinds
from scheduler.events.report import Report, find
from scheduler.events.situation import PassState, Situation, Supply
from scheduler.farm.altered import CannotChange, new_faults, with_change
from shared.errors import ReportRefused
from shared.units import show
from shared.vocabulary import EventKind

OVERRUN_SHARE = 0.03
"""Area reported beyond what was left, up to this share of the field, is capped: people round."""
SPAN_MOST = timedelta(days=366)
Checked = tuple[kinds.Body, tuple[str, ...]]


def _clock(moment: datetime, situation: Situation) -> str:
    return f"{moment.astimezone(ZoneInfo(situation.farm.time_zone)):%Y-%m-%d %H:%M}"


def _require(what: str, name: str, known: Iterable[str]) -> None:
    """Refuse a name that is not known exactly, with the nearest one."""
    names = {key: key for key in known}
    if name not in names:
        near = find(what, name, names)
        raise ReportRefused(f"the {what} {name!r} is not known; did you mean {near!r}?")


def _known_field(situation: Situation, field_id: str | None) -> None:
    if field_id is not None:
        _require("field", field_id, situation.farm.field_by_id)


def _known_pass(situation: Situation, field_id: str, pass_id: str) -> PassState:
    _known_field(situation, field_id)
    _require(f"pass in {field_id}", pass_id, [key[1] for key in situation.passes if key[0] == field_id])
    return situation.passes[(field_id, pass_id)]


def _known_machine(situation: Situation, machine: str) -> None:
    _require("machine", machine, situation.farm.machine_by_id)


def _known_operator(situation: Situation, operator: str | None) -> None:
    if operator is not None:
        _require("operator", operator, situation.farm.operator_by_id)


def _known_rig(situation: Situation, rig: str | None) -> None:
    for part in filter(None, (rig or "").split("+")):
        _known_machine(situation, part.strip())


def _supply(situation: Situation, product: str) -> Supply:
    _require("product", product, situation.supplies)
    return situation.supplies[product]


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
    _known_operator(situation, body.operator)
    _known_rig(situation, body.rig)
    if body.started_at and body.ended_at and body.ended_at < body.started_at:
        raise ReportRefused(
            f"the work ends ({_clock(body.ended_at, situation)}) before it starts ({_clock(body.started_at, situation)})."
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
    _known_operator(situation, body.operator)
    if state.finished:
        raise ReportRefused(f"{body.pass_id} in {body.field} was finished before; nothing was noted.")
    if state.cancelled:
        raise ReportRefused(f"{body.pass_id} in {body.field} was cancelled; correct that report first.")
    return body, ()


def _cancel(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.PassCancelled)
    state = _known_pass(situation, body.field, body.pass_id)
    if state.finished:
        raise ReportRefused(f"{body.pass_id} in {body.field} is finished, so it cannot be cancelled.")
    if state.cancelled:
        raise ReportRefused(f"{body.pass_id} in {body.field} was cancelled before; nothing was noted.")
    return body, ()


def _added(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.PassAdded)
    _known_pass(situation, body.field, body.like)
    if body.first_date and body.last_date and body.last_date < body.first_date:
        raise ReportRefused(f"the last date {body.last_date} lies before the first, {body.first_date}.")
    if (body.field, body.pass_id) in situation.passes:
        raise ReportRefused(f"{body.field} has a pass {body.pass_id!r} already.")
    return body, ()


def _span(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.MachineDown | kinds.OperatorAbsent)
    if isinstance(body, kinds.MachineDown):
        _known_machine(situation, body.machine)
    else:
        _known_operator(situation, body.operator)
    start = body.start or report.happened_at
    if start - report.happened_at > SPAN_MOST:
        raise ReportRefused(f"the start {_clock(start, situation)} is more than a year away.")
    if body.until is not None and body.until <= start:
        raise ReportRefused(
            f"the end {_clock(body.until, situation)} is not after the start {_clock(start, situation)}."
        )
    if body.until is not None and body.until - start > SPAN_MOST:
        raise ReportRefused(
            f"the end {_clock(body.until, situation)} is more than a year away; leave the end out when it is open."
        )
    return body, ()


def _back(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.MachineBack | kinds.OperatorBack)
    machine = isinstance(body, kinds.MachineBack)
    name = body.machine if isinstance(body, kinds.MachineBack) else body.operator
    _known_machine(situation, name) if machine else _known_operator(situation, name)
    spans = (situation.machine_down if machine else situation.operator_away).get(name, ())
    if any(
        span.start <= report.happened_at and (span.end is None or span.end > report.happened_at)
        for span in spans
    ):
        return body, ()
    ahead = [span for span in spans if span.start > report.happened_at]
    if ahead:
        start = _clock(ahead[0].start, situation)
        return body, (f"what was told of {name} from {start} stands; correct that report to take it out",)
    return body, (f"{name} was not reported {'down' if machine else 'away'}; noted all the same",)


def _delivered(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.SupplyDelivered)
    supply = _supply(situation, body.product)
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
    names = [name for _, _, name in _supply(situation, body.product).deliveries]
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
    assert isinstance(body, kinds.GroundChecked | kinds.GroundCalibrated | kinds.TissueSampled)
    _known_field(situation, body.field)
    if isinstance(body, kinds.GroundChecked) and body.pass_id is not None:
        _known_pass(situation, body.field, body.pass_id)
    if isinstance(body, kinds.TissueSampled) and body.nutrient == situation.farm.tissue.nutrient:
        tissue = situation.farm.tissue
        return body, (
            f"the side-dress rate is multiplied by {tissue.factor(body.value_pct):.2f} (rule in the farm file)",
        )
    return body, ()


def _pin(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.BlockPinned)
    state = _known_pass(situation, body.field, body.pass_id)
    _known_operator(situation, body.operator)
    _known_rig(situation, body.rig)
    if state.finished or state.cancelled:
        raise ReportRefused(
            f"{body.pass_id} in {body.field} is {'finished' if state.finished else 'cancelled'} already."
        )
    if body.start < situation.now - timedelta(hours=1):
        raise ReportRefused(f"the pin's time {_clock(body.start, situation)} is past.")
    return body, ()


def _unpin(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.BlockUnpinned)
    known = [pin.pin for pin in situation.pins]
    if body.pin not in known:
        raise ReportRefused(f"there is no pin {body.pin!r}; pins: {', '.join(known) or '(none)'}.")
    return body, ()


def _joined(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.MachineAdded | kinds.OperatorAdded)
    thing = body.machine if isinstance(body, kinds.MachineAdded) else body.operator
    farm = situation.farm
    if thing.id in farm.machine_by_id or thing.id in farm.operator_by_id:
        raise ReportRefused(f"{thing.id!r} is on the farm already; give the new one a name of its own.")
    start = body.start or report.happened_at
    if body.until is not None and body.until <= start:
        raise ReportRefused(
            f"the end {_clock(body.until, situation)} is not after the start {_clock(start, situation)}."
        )
    return body, ()


def _changed(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.FarmChanged)
    try:
        after = with_change(situation.farm, body.part, body.name, body.values)
    except CannotChange as error:
        raise ReportRefused(f"{error}.") from error
    faults = new_faults(situation.farm, after)
    if faults:
        raise ReportRefused(f"this change does not go with the rest of the farm: {faults[0]}")
    return body, ()


CHECKS: dict[EventKind, Callable[[kinds.Body, Report, Situation], Checked]] = {
    EventKind.RAIN_MEASURED: _rain,
    EventKind.PASS_PROGRESSED: _progress,
    EventKind.PASS_FINISHED: _finish,
    EventKind.PASS_CANCELLED: _cancel,
    EventKind.PASS_ADDED: _added,
    EventKind.MACHINE_DOWN: _span,
    EventKind.OPERATOR_ABSENT: _span,
    EventKind.MACHINE_BACK: _back,
    EventKind.OPERATOR_BACK: _back,
    EventKind.MACHINE_ADDED: _joined,
    EventKind.OPERATOR_ADDED: _joined,
    EventKind.GROUND_CALIBRATED: _field_only,
    EventKind.FARM_CHANGED: _changed,
    EventKind.SUPPLY_DELIVERED: _delivered,
    EventKind.SUPPLY_DELAYED: _late,
    EventKind.STAGE_SCOUTED: _stage,
    EventKind.GROUND_CHECKED: _field_only,
    EventKind.TISSUE_SAMPLED: _field_only,
    EventKind.BLOCK_PINNED: _pin,
    EventKind.BLOCK_UNPINNED: _unpin,
}
