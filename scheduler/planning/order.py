"""Which pass of a field waits for which, and how long.

Question answered: *what ties the passes of one field together?* Four sources: the lags that the programme
states, the planting (what is listed behind it needs a crop, what is listed before it comes before it), tissue samples
(taken before the pass whose rate they set, by the time a laboratory takes), and re-entry intervals after spraying (nobody
goes in before they are over; passes that a spraying could lock out go in the order of the programme).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from scheduler.events.situation import LEAST_HA, PassState, Situation
from scheduler.farm.farm import Farm
from scheduler.farm.land import Field
from scheduler.farm.programme import PassSpec
from scheduler.planning.jobs import field_passes
from scheduler.windows.records import Outlook
from shared.vocabulary import Operation, Reason

HOUR_MINUTES, DAY_MINUTES = 60.0, 1440.0


@dataclass(frozen=True)
class Tie:
    """From the end of `before` to the start of `after`: at least, and at most, so many minutes.

    `loose` ties only order the two: when `before` is never done, `after` may go all the same.
    """

    field_id: str
    before: str
    after: str
    least_minutes: float
    most_minutes: float | None
    loose: bool
    reason: Reason


@dataclass(frozen=True)
class Bounds:
    """From when, and until when, a pass may start because of passes that are done already."""

    least: datetime | None = None
    most: datetime | None = None
    least_reason: Reason = Reason.WAITS_FOR_PASS
    least_pass: str = ""
    most_pass: str = ""


def reentry_minutes(farm: Farm, spec: PassSpec) -> float:
    """Return the longest re-entry interval of what a pass applies."""
    hours = [farm.product_by_id[item.product].reentry_hours for item in spec.products]
    return max(hours, default=0.0) * HOUR_MINUTES


def ties_of(situation: Situation, field: Field, outlook: Outlook) -> list[Tie]:
    """Return every tie between the passes of a field; cancelled passes tie nothing.

    Where a spraying locks out a pass that is tied to it by nothing else, the one whose window opens first goes first.
    """
    farm = situation.farm
    specs = [s for s in field_passes(situation, field) if not situation.passes[(field.id, s.id)].cancelled]
    found: dict[tuple[str, str], Tie] = {}

    def add(tie: Tie) -> None:
        old = found.get((tie.before, tie.after))
        if old is None:
            found[(tie.before, tie.after)] = tie
            return
        most = [m for m in (old.most_minutes, tie.most_minutes) if m is not None]
        longer = tie if tie.least_minutes > old.least_minutes else old
        found[(tie.before, tie.after)] = Tie(
            field.id, tie.before, tie.after, longer.least_minutes, min(most) if most else None,
            old.loose and tie.loose, longer.reason,
        )  # fmt: skip

    ids = {spec.id for spec in specs}
    for spec in specs:
        for lag in spec.after:
            if lag.pass_id in ids:
                most = None if lag.at_most_days is None else lag.at_most_days * DAY_MINUTES
                add(
                    Tie(
                        field.id, lag.pass_id, spec.id, lag.at_least_days * DAY_MINUTES, most, not lag.required,
                        Reason.WAITS_FOR_PASS,
                    )
                )  # fmt: skip
    planting = next((k for k, spec in enumerate(specs) if Operation.PLANT in spec.operations), None)
    for k, spec in enumerate(specs):
        if planting is not None and k < planting and (specs[planting].id, spec.id) not in found:
            add(Tie(field.id, spec.id, specs[planting].id, 0.0, None, True, Reason.WAITS_FOR_PASS))
        if planting is not None and k > planting and (spec.id, specs[planting].id) not in found:
            add(Tie(field.id, specs[planting].id, spec.id, 0.0, None, False, Reason.WAITS_FOR_PASS))
    for sample, steered in _sampled(situation, field, specs):
        if not {(sample, steered), (steered, sample)} & found.keys():
            wait = farm.tissue.result_days * DAY_MINUTES
            add(Tie(field.id, sample, steered, wait, None, True, Reason.WAITS_FOR_PASS))
    place = {spec.id: (_opens(outlook, field, spec), k) for k, spec in enumerate(specs)}
    for spec in specs:
        locked = reentry_minutes(farm, spec)
        for other in specs:
            if locked <= 0 or other.id == spec.id:
                continue
            behind = place[other.id] > place[spec.id] and (other.id, spec.id) not in found
            if (spec.id, other.id) in found or behind:
                add(Tie(field.id, spec.id, other.id, locked, None, True, Reason.REENTRY))
            elif (other.id, spec.id) not in found:
                add(Tie(field.id, other.id, spec.id, 0.0, None, True, Reason.REENTRY))
    return list(found.values())


def _sampled(situation: Situation, field: Field, specs: list[PassSpec]) -> Iterator[tuple[str, str]]:
    """Yield tissue samples and the passes whose rate they set: while no result is known and that work has not begun."""
    if field.id in situation.rate_factor:
        return
    samples = [spec.id for spec in specs if Operation.TISSUE_SAMPLE in spec.operations]
    for name in situation.farm.tissue.passes:
        state = situation.passes.get((field.id, name))
        if state is not None and state.done_ha == 0 and not state.running and not state.cancelled:
            yield from ((sample, name) for sample in samples)


def _opens(outlook: Outlook, field: Field, spec: PassSpec) -> date:
    window = outlook.windows.get((field.id, spec.id))
    return date.min if window is None or window.opens is None else window.opens


def finished(situation: Situation, field_id: str, pass_id: str) -> bool:
    """Return whether a pass counts as done: reported finished, or nothing worth a trip left."""
    state = situation.passes[(field_id, pass_id)]
    return state.finished or (not state.cancelled and situation.left_ha(field_id, pass_id) < LEAST_HA)


def bounds_from_done(situation: Situation, ties: list[Tie], field_id: str, pass_id: str) -> Bounds:
    """Return the bounds that finished passes (and, for re-entry, sprayed parts) set on a pass."""
    bounds = Bounds()
    for tie in ties:
        if tie.after != pass_id:
            continue
        state = situation.passes[(field_id, tie.before)]
        ended = state.finished_at or state.last_report_at
        if ended is None or not finished(situation, field_id, tie.before):
            continue
        least = ended + timedelta(minutes=tie.least_minutes)
        if bounds.least is None or least > bounds.least:
            bounds = Bounds(least, bounds.most, tie.reason, tie.before, bounds.most_pass)
        if tie.most_minutes is not None:
            most = ended + timedelta(minutes=tie.most_minutes)
            if bounds.most is None or most < bounds.most:
                bounds = Bounds(bounds.least, most, bounds.least_reason, bounds.least_pass, tie.before)
    return _locked_out(situation, bounds, field_id, pass_id)


def _locked_out(situation: Situation, bounds: Bounds, field_id: str, pass_id: str) -> Bounds:
    """Return the bounds with the re-entry interval of whatever was sprayed, also in part or before its turn."""
    farm = situation.farm
    for spec in farm.programme_of(farm.field_by_id[field_id]).passes:
        state = situation.passes.get((field_id, spec.id), PassState())
        ended, locked = state.finished_at or state.last_report_at, reentry_minutes(farm, spec)
        if spec.id == pass_id or locked <= 0 or ended is None or state.done_ha <= 0 or state.cancelled:
            continue
        until = ended + timedelta(minutes=locked)
        if bounds.least is None or until > bounds.least:
            bounds = replace(bounds, least=until, least_reason=Reason.REENTRY, least_pass=spec.id)
    return bounds
