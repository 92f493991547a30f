"""Report -> event, or a refusal in one sentence. Nothing is stored here; a decision changes nothing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime
from types import MappingProxyType

from pydantic import ValidationError

from scheduler.events import kinds
from scheduler.events.checks import CHECKS, Checked
from scheduler.events.codec import Event, encode
from scheduler.events.derive import situation as derive_situation
from scheduler.events.report import FUTURE_TOLERANCE, Report
from scheduler.events.situation import Situation
from scheduler.events.state import State
from shared.errors import ReportRefused
from shared.event_record import EventRecord
from shared.vocabulary import EventKind

RAIN_MOST_MM = 400.0
"""More rain than this in one reading is taken for a slip; the largest daily falls on record in the Corn Belt are near it."""


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
    if report.happened_at.tzinfo is None:
        raise ReportRefused(f"the time {report.happened_at} of the report has no time zone.")
    if key in state.told:
        if state.told[key].kind is not report.kind:
            raise ReportRefused(
                f"the id {key!r} belongs to another report already; send it with an id of its own."
            )
        return Decision(encode(state.told[key]), known=True)
    if report.happened_at > now + FUTURE_TOLERANCE:
        raise ReportRefused(
            f"the report is about {report.happened_at:%Y-%m-%d %H:%M}, which lies in the future; "
            f"allowed: up to now ({now.astimezone(report.happened_at.tzinfo):%Y-%m-%d %H:%M})."
        )
    if report.kind is EventKind.EVENT_CORRECTED:
        body, notes = _correction(report, state, now_situation)
    else:
        body, notes = _typed(report, now_situation)
    event = Event(key, report.kind, report.happened_at, now, body, report.by, report.source)
    return Decision(encode(event), notes=notes)


def _typed(report: Report, situation: Situation) -> tuple[kinds.Body, tuple[str, ...]]:
    raw = dict(report.body)
    if report.kind is EventKind.RAIN_MEASURED:
        _check_rain(raw)
    body = _model(report.kind, raw)
    check = CHECKS.get(report.kind)
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


def _correction(report: Report, state: State, now_situation: Situation) -> Checked:
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
    notes: tuple[str, ...] = ()
    if isinstance(body, dict):
        # Judged as if told then, without the report that it replaces.
        others = MappingProxyType({key: fact for key, fact in state.facts.items() if key != target})
        then = derive_situation(now_situation.farm, replace(state, facts=others), old.happened_at)
        if old.kind is EventKind.PASS_ADDED:
            _model(old.kind, body)
        else:
            again = Report(old.kind, body, old.happened_at, report.by, report.source)
            believed, notes = _typed(again, then)
            raw["body"] = believed.model_dump(mode="json", exclude_none=True)
    return _model(EventKind.EVENT_CORRECTED, raw), notes


def planner_event(key: str, body: kinds.Body, kind: EventKind, at: datetime) -> EventRecord:
    """Return an event that the planner itself writes (a plan issued, a forecast received)."""
    return encode(Event(key, kind, at.astimezone(UTC), at.astimezone(UTC), body, "fitground", "planner"))
