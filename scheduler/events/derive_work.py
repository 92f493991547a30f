"""Facts about work counted: who is at it, how far it is, what it took from the stocks."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

from scheduler.events import kinds
from scheduler.events.codec import Event
from scheduler.events.draft import Draft
from scheduler.events.paces import count_visit
from scheduler.events.situation import FieldPass, PassState, Running
from shared.vocabulary import Operation

DONE_TOLERANCE_SHARE = 0.005
"""Area left below this share of the field counts as done: people round acres."""


def stop_or_go(draft: Draft, event: Event, body: kinds.PassStarted | kinds.PassPaused) -> None:
    """Somebody began or paused: nobody is in two fields at a time, so a beginning ends that person's work elsewhere."""
    key, at = (body.field, body.pass_id), event.happened_at
    old = draft.passes.get(key)
    if old is None or old.finished or old.cancelled:
        return
    if isinstance(body, kinds.PassPaused):
        draft.passes[key] = replace(old, running=None, paused_at=at)
        return
    for other, state in draft.passes.items():
        if body.operator and state.running is not None and state.running.operator == body.operator:
            draft.passes[other] = replace(state, running=None, paused_at=at)
    old = draft.passes[key]
    draft.passes[key] = replace(
        old,
        running=Running(at, body.rig, body.operator),
        started_at=old.started_at or at,
        last_rig=body.rig or old.last_rig,
        last_operator=body.operator or old.last_operator,
    )


def still_running(draft: Draft, now: datetime) -> dict[FieldPass, PassState]:
    """Return the passes; what began on an earlier day is over, whether anybody said so or not."""
    today = now.astimezone(draft.zone).date()
    return {
        key: replace(state, running=None)
        if state.running is not None and state.running.since.astimezone(draft.zone).date() != today
        else state
        for key, state in draft.passes.items()
    }


def progress(draft: Draft, event: Event, body: kinds.PassProgressed) -> None:
    """Count an area done, what it took from the stocks, and the time worked."""
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
        running=None if finished else old.running,
        finished_at=old.finished_at or (ended if finished else None),
        last_rig=body.rig or old.last_rig,
        last_operator=body.operator or old.last_operator,
        last_report_at=ended,
    )
    _use(draft, body.field, body.pass_id, done - old.done_ha)
    count_visit(draft, event, body, old, done - old.done_ha)
    if body.operator and body.started_at and body.ended_at and body.ended_at > body.started_at:
        day = body.started_at.astimezone(draft.zone).date()
        minutes = (body.ended_at - body.started_at) / timedelta(minutes=1)
        draft.worked[(body.operator, day)] = draft.worked.get((body.operator, day), 0.0) + minutes
    _planted(draft, key, ended)


def finish(draft: Draft, event: Event, body: kinds.PassFinished) -> None:
    """Count a pass as finished, with what its rest took from the stocks."""
    key, ground = (body.field, body.pass_id), draft.farm.field_by_id.get(body.field)
    if ground is None or key not in draft.passes:
        return
    old = draft.passes[key]
    if old.finished:
        return
    _use(draft, body.field, body.pass_id, ground.area_ha - old.done_ha)
    count_visit(draft, event, body, old, ground.area_ha - old.done_ha)
    draft.passes[key] = replace(
        old,
        done_ha=ground.area_ha,
        finished=True,
        running=None,
        started_at=old.started_at or event.happened_at,
        finished_at=event.happened_at,
        last_operator=body.operator or old.last_operator,
        last_report_at=event.happened_at,
    )
    _planted(draft, key, event.happened_at)


def sampled(draft: Draft, event: Event, body: kinds.TissueSampled) -> None:
    """A result is known, so the sample was taken: nobody need go, whether that was reported or not."""
    ground = draft.farm.field_by_id.get(body.field)
    if ground is None:
        return
    for spec in draft.farm.programme_of(ground).passes:
        old = draft.passes.get((body.field, spec.id))
        if (
            Operation.TISSUE_SAMPLE in spec.operations
            and old is not None
            and not (old.finished or old.cancelled)
        ):
            draft.passes[body.field, spec.id] = replace(
                old, done_ha=ground.area_ha, finished=True, running=None, finished_at=event.happened_at,
                started_at=old.started_at or event.happened_at, last_report_at=event.happened_at,
            )  # fmt: skip


def _planted(draft: Draft, key: FieldPass, at: datetime) -> None:
    spec = draft.farm.spec(*key)
    if spec is not None and spec.operation is Operation.PLANT and draft.passes[key].finished:
        draft.planted.setdefault(key[0], at.astimezone(draft.zone).date())


def _use(draft: Draft, field_id: str, pass_id: str, area_ha: float) -> None:
    spec = draft.farm.spec(field_id, pass_id)
    if spec is None or area_ha <= 0:
        return
    factor = draft.farm.tissue_factor(spec, field_id, draft.factors)
    for name, rate in draft.farm.taken_by(spec, factor).items():
        draft.used[name] = draft.used.get(name, 0.0) + rate * area_ha
