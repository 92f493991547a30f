"""What a report of work must meet to be believed: begun, paused, an area done, finished, cancelled, one more pass."""

from __future__ import annotations

from scheduler.events import kinds
from scheduler.events.check_names import clock, known_operator, known_pass, known_rig, work
from scheduler.events.report import Report
from scheduler.events.situation import Situation
from scheduler.events.skipped import LEAST_HA, skipped_before
from shared.errors import ReportRefused
from shared.units import show

OVERRUN_SHARE = 0.03
"""Area reported beyond what was left, up to this share of the field, is capped: people round."""
FINISHED_ALREADY = "{job} in {place} is finished already."
CANCELLED_ALREADY = "{job} in {place} is cancelled already."
WAS_CANCELLED = "{job} in {place} was cancelled; correct that report first."
IS_FINISHED = "{job} in {place} is finished already; correct an earlier report instead."
FINISHED_BEFORE = "{job} in {place} was finished before; nothing was noted."
MORE_THAN_LEFT = "{area} of {job} in {place} is more than is left ({left})."
Checked = tuple[kinds.Body, tuple[str, ...]]


def began(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    """Check that work began or paused."""
    assert isinstance(body, kinds.PassStarted | kinds.PassPaused)
    state = known_pass(situation, body.field, body.pass_id)
    known_operator(situation, body.operator)
    if isinstance(body, kinds.PassStarted):
        known_rig(situation, body.rig)
    if state.finished or state.cancelled:
        raise ReportRefused(
            FINISHED_ALREADY if state.finished else CANCELLED_ALREADY,
            **work(situation, body.field, body.pass_id),
        )
    if isinstance(body, kinds.PassPaused) and state.running is None:
        named = "{job} in {place}".format(**work(situation, body.field, body.pass_id))
        return body, (f"{named} was not reported begun; noted all the same",)
    return body, _skipped(situation, body.field, body.pass_id, wholly=False)


def progress(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    """Check an area done; a little more than was left counts as what was left."""
    assert isinstance(body, kinds.PassProgressed)
    state = known_pass(situation, body.field, body.pass_id)
    farm = situation.farm
    if state.cancelled:
        raise ReportRefused(WAS_CANCELLED, **work(situation, body.field, body.pass_id))
    if state.finished:
        raise ReportRefused(IS_FINISHED, **work(situation, body.field, body.pass_id))
    if body.area_ha <= 0:
        raise ReportRefused("area {area} is not above 0.", area=show(body.area_ha, "area_ha", farm.units))
    known_operator(situation, body.operator)
    known_rig(situation, body.rig)
    if body.started_at and body.ended_at and body.ended_at < body.started_at:
        raise ReportRefused(
            f"the work ends ({clock(body.ended_at, situation)}) before it starts ({clock(body.started_at, situation)})."
        )
    left = situation.left_ha(body.field, body.pass_id)
    over = body.area_ha - left
    if over > OVERRUN_SHARE * farm.field_by_id[body.field].area_ha:
        raise ReportRefused(
            MORE_THAN_LEFT,
            area=show(body.area_ha, "area_ha", farm.units),
            left=show(left, "area_ha", farm.units),
            **work(situation, body.field, body.pass_id),
        )
    if over > 0:
        note = f"only {show(left, 'area_ha', farm.units)} was left; counted as that, and the pass as finished"
        before = _skipped(situation, body.field, body.pass_id, wholly=True)
        return body.model_copy(update={"area_ha": left}), (note, *before)
    return body, _skipped(situation, body.field, body.pass_id, wholly=over > -LEAST_HA)


def finish(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    """Check that a pass is finished."""
    assert isinstance(body, kinds.PassFinished)
    state = known_pass(situation, body.field, body.pass_id)
    known_operator(situation, body.operator)
    if state.finished:
        raise ReportRefused(FINISHED_BEFORE, **work(situation, body.field, body.pass_id))
    if state.cancelled:
        raise ReportRefused(WAS_CANCELLED, **work(situation, body.field, body.pass_id))
    return body, _skipped(situation, body.field, body.pass_id, wholly=True)


def _skipped(situation: Situation, field: str, pass_id: str, wholly: bool) -> tuple[str, ...]:
    """Return a note where work before it was not reported."""
    before = skipped_before(situation, field, pass_id, wholly)
    if not before:
        return ()
    names = " and ".join(situation.farm.pass_label(name) for name in before)
    if len(before) > 1:
        return (f"{names}, which come before it, are not reported done there; if they are, say so",)
    return (f"{names}, which comes before it, is not reported done there; if it is, say so",)


def cancel(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    """Check that a pass is cancelled."""
    assert isinstance(body, kinds.PassCancelled)
    state = known_pass(situation, body.field, body.pass_id)
    if state.finished:
        raise ReportRefused(
            "{job} in {place} is finished, so it cannot be cancelled.",
            **work(situation, body.field, body.pass_id),
        )
    if state.cancelled:
        raise ReportRefused(
            "{job} in {place} was cancelled before; nothing was noted.",
            **work(situation, body.field, body.pass_id),
        )
    return body, ()


def added(body: kinds.Body, report: Report, situation: Situation) -> Checked:
    """Check one more pass."""
    assert isinstance(body, kinds.PassAdded)
    known_pass(situation, body.field, body.like)
    if body.first_date and body.last_date and body.last_date < body.first_date:
        raise ReportRefused(f"the last date {body.last_date} lies before the first, {body.first_date}.")
    if (body.field, body.pass_id) in situation.passes:
        place = situation.farm.field_by_id[body.field].label
        raise ReportRefused(f"{place} has a pass {body.pass_id!r} already.")
    return body, ()
