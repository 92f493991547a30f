"""What a report must meet to be believed: known names, possible amounts, an order that can be. One check a kind."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, timedelta

from scheduler.events import check_work, kinds
from scheduler.events.check_names import (
    clock,
    known_field,
    known_machine,
    known_operator,
    known_pass,
    known_rig,
    require,
    work,
)
from scheduler.events.check_work import CANCELLED_ALREADY, FINISHED_ALREADY, Checked
from scheduler.events.report import Report
from scheduler.events.situation import Situation, Supply
from scheduler.events.spans import going_on
from scheduler.farm.altered import CannotChange, Part, new_faults, with_change
from scheduler.farm.farm import Farm
from scheduler.farm.operator import Operator
from shared.clock import is_iso_date
from shared.errors import ReportRefused
from shared.vocabulary import EventKind

SPAN_MOST = timedelta(days=366)


def _supply(situation: Situation, product: str) -> Supply:
    require("product", product, situation.supplies)
    return situation.supplies[product]


def _rain(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.RainMeasured)
    known_field(situation, body.field)
    return body, ()


def _span(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.MachineDown | kinds.OperatorAbsent)
    if isinstance(body, kinds.MachineDown):
        known_machine(situation, body.machine)
        known = situation.machine_down.get(body.machine, ())
    else:
        known_operator(situation, body.operator)
        known = situation.operator_away.get(body.operator, ())
    start = body.start or report.happened_at
    if start - report.happened_at > SPAN_MOST:
        raise ReportRefused(f"the start {clock(start, situation)} is more than a year away.")
    if body.until is not None and body.until <= start:
        raise ReportRefused(
            f"the end {clock(body.until, situation)} is not after the start {clock(start, situation)}."
        )
    if body.until is not None and body.until - start > SPAN_MOST:
        raise ReportRefused(
            f"the end {clock(body.until, situation)} is more than a year away; leave the end out when it is open."
        )
    before = going_on(known, report.happened_at)
    if before is None or start > report.happened_at or before.end == body.until:
        return body, ()
    then, now = (
        f"until {clock(end, situation)}" if end else "with no end" for end in (before.end, body.until)
    )
    return body, (f"this was known already, {then}; from now on it counts {now}",)


def _back(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.MachineBack | kinds.OperatorBack)
    machine = isinstance(body, kinds.MachineBack)
    name = body.machine if isinstance(body, kinds.MachineBack) else body.operator
    known_machine(situation, name) if machine else known_operator(situation, name)
    farm = situation.farm
    label = farm.machine_by_id[name].label if machine else farm.operator_by_id[name].label
    spans = (situation.machine_down if machine else situation.operator_away).get(name, ())
    if any(
        span.start <= report.happened_at and (span.end is None or span.end > report.happened_at)
        for span in spans
    ):
        return body, ()
    ahead = [span for span in spans if span.start > report.happened_at]
    if ahead:
        start = clock(ahead[0].start, situation)
        return body, (f"what was told of {label} from {start} stands; correct that report to take it out",)
    return body, (f"{label} was not reported {'down' if machine else 'away'}; noted all the same",)


def _delivered(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.SupplyDelivered)
    supply = _supply(situation, body.product)
    names = [name for _, _, name in supply.deliveries]
    label = situation.farm.product_by_id[body.product].label
    if body.delivery is not None and body.delivery not in names:
        raise ReportRefused(
            f"{label} waits for no delivery {body.delivery!r}; expected: {', '.join(names) or '(none)'}."
        )
    if body.delivery is None and len(names) == 1:
        return body.model_copy(update={"delivery": names[0]}), (
            f"counted as the expected delivery {names[0]}",
        )
    return body, ()


def _counted(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.SupplyCounted)
    _supply(situation, body.product)
    return body, ()


def _late(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.SupplyDelayed)
    names = [name for _, _, name in _supply(situation, body.product).deliveries]
    label = situation.farm.product_by_id[body.product].label
    if body.delivery not in names:
        raise ReportRefused(
            f"{label} waits for no delivery {body.delivery!r}; expected: {', '.join(names) or '(none)'}."
        )
    return body, ()


STAGES = {
    "corn": ["VE", *(f"V{n}" for n in range(1, 21)), "VT", *(f"R{n}" for n in range(1, 7))],
    "soybean": ["VE", "VC", *(f"V{n}" for n in range(1, 21)), *(f"R{n}" for n in range(1, 9))],
}


def _stage(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.StageScouted)
    known_field(situation, body.field)
    if body.stage is None and body.height_m is None:
        raise ReportRefused("a sighting needs a stage or a height.")
    crop = str(situation.farm.field_by_id[body.field].crop)
    if body.stage is not None and body.stage not in STAGES[crop]:
        raise ReportRefused(f"{body.stage!r} is no stage of {crop}; allowed: {', '.join(STAGES[crop])}.")
    if body.field not in situation.planted:
        label = situation.farm.field_by_id[body.field].label
        raise ReportRefused(f"{label} was not planted yet, so it has no stage.")
    return body, ()


def _field_only(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.GroundChecked | kinds.GroundCalibrated | kinds.TissueSampled)
    known_field(situation, body.field)
    if isinstance(body, kinds.GroundChecked) and body.pass_id is not None:
        known_pass(situation, body.field, body.pass_id)
    if isinstance(body, kinds.TissueSampled):
        return body, _tissue(body, situation)
    return body, ()


def _tissue(body: kinds.TissueSampled, situation: Situation) -> tuple[str, ...]:
    """Return what a result does to rates, and that its crop is not known to be sown where that is so."""
    farm = situation.farm
    label = farm.field_label(body.field)
    unsown = f"{label} is not reported planted; if it is, say so"
    notes = () if body.field in situation.planted else (unsown,)
    if body.nutrient != farm.tissue.nutrient:
        return notes
    if not farm.goes_by_tissue(body.field):
        return (*notes, f"no pass of {label} goes by it")
    factor = farm.tissue.factor(body.value_pct)
    return (*notes, f"the side-dress rate is multiplied by {factor:.2f} (rule in the farm file)")


def _pin(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.BlockPinned)
    state = known_pass(situation, body.field, body.pass_id)
    known_operator(situation, body.operator)
    known_rig(situation, body.rig)
    if state.finished or state.cancelled:
        raise ReportRefused(
            FINISHED_ALREADY if state.finished else CANCELLED_ALREADY,
            **work(situation, body.field, body.pass_id),
        )
    if body.start < situation.now - timedelta(hours=1):
        raise ReportRefused(f"the pin's time {clock(body.start, situation)} is past.")
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
            f"the end {clock(body.until, situation)} is not after the start {clock(start, situation)}."
        )
    return body, ()


def _changed(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    assert isinstance(body, kinds.FarmChanged)
    if body.part is Part.PLAN and "issue_at" in body.values:
        raise ReportRefused(
            "issue_at is read when the service starts; change it in farm.toml, and start it anew."
        )
    try:
        after = with_change(situation.farm, body.part, body.name, body.values)
    except CannotChange as error:
        raise ReportRefused(f"{error}.") from error
    faults = new_faults(situation.farm, after)
    if faults:
        raise ReportRefused(f"this change does not go with the rest of the farm: {faults[0]}")
    return body, _hours_notes(body, situation.farm, after)


def _hours_notes(body: kinds.FarmChanged, before: Farm, after: Farm) -> tuple[str, ...]:
    """Return what other hours of single days do not change."""
    if body.part is not Part.OPERATOR or "shift" not in body.values:
        return ()
    people = body.name.split(",")
    return tuple(
        note for name in people for note in _of_days(before.operator_by_id[name], after.operator_by_id[name])
    )


def _of_days(old: Operator, new: Operator) -> Iterator[str]:
    known = {day for shift in old.shifts for day in shift.days}
    for shift in new.shifts:
        span = (60 * shift.end.hour + shift.end.minute - 60 * shift.start.hour - shift.start.minute) / 60
        for text in (one for one in shift.days if is_iso_date(one) and one not in known):
            day = date.fromisoformat(text)
            usual = old.shift_on(day)
            if usual is not None and (usual.start, usual.end) == (shift.start, shift.end):
                yield f"these are the hours of {new.label} on {day:%a %d %b} anyway"
            elif span > new.most_hours_per_day:
                yield f"{new.label} still works at most {new.most_hours_per_day:g} h of them (most_hours)"


CHECKS: dict[EventKind, Callable[[kinds.Body, Report, Situation], Checked]] = {
    EventKind.RAIN_MEASURED: _rain,
    EventKind.PASS_STARTED: check_work.began,
    EventKind.PASS_PAUSED: check_work.began,
    EventKind.PASS_PROGRESSED: check_work.progress,
    EventKind.PASS_FINISHED: check_work.finish,
    EventKind.PASS_CANCELLED: check_work.cancel,
    EventKind.PASS_ADDED: check_work.added,
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
    EventKind.SUPPLY_COUNTED: _counted,
    EventKind.STAGE_SCOUTED: _stage,
    EventKind.GROUND_CHECKED: _field_only,
    EventKind.TISSUE_SAMPLED: _field_only,
    EventKind.BLOCK_PINNED: _pin,
    EventKind.BLOCK_UNPINNED: _unpin,
}
