"""What reports of work teach about the pace of machines: visits with their times, and the farm with what was learned.

Question answered: *how long does work really take here?* A visit counts where both of its times were told, or where somebody
pressed `Start` on the phone and reported from there. Only days that are over count, so that a plan made during a day keeps the pace
of its morning.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta

from scheduler.events import kinds
from scheduler.events.codec import Event
from scheduler.events.draft import Draft, Worked
from scheduler.events.situation import PassState
from scheduler.farm.farm import Farm
from scheduler.farm.learned_pace import LearnedPace, Visit, learned_pace
from scheduler.farm.programme import PassSpec
from scheduler.farm.rig import Rig, pace

FROM_PHONE = "crew page"
"""Source of reports that are told where the work is, as it begins and ends; others may be told in the evening."""
PLAYED = "what if"
"""Source of reports that nobody made: played springs interrupt work by the weather, and teach no pace."""


def count_visit(
    draft: Draft,
    event: Event,
    body: kinds.PassProgressed | kinds.PassFinished,
    old: PassState,
    area_ha: float,
) -> None:
    """Keep a visit that was reported with its times."""
    told = body if isinstance(body, kinds.PassProgressed) else None
    ended = (told.ended_at if told is not None else None) or event.happened_at
    began, anew = _began(event, told, old)
    if event.source == PLAYED or began is None or area_ha <= 0:
        return
    named = (
        (told.rig if told is not None else None) or (old.running.rig if old.running else None) or old.last_rig
    )
    spec, ground = draft.farm.spec(body.field, body.pass_id), draft.farm.field_by_id[body.field]
    rig = None if spec is None else _rig(draft.rigs, spec, named)
    if spec is None or rig is None or rig.worker.width_m is None or rig.worker.speed_km_h is None:
        return
    factor = draft.farm.tissue_factor(spec, body.field, draft.factors)
    nominal = pace(draft.farm, rig, spec, ground, factor).minutes(area_ha)
    minutes = (ended - began) / timedelta(minutes=1) - (rig.worker.setup_minutes if anew else 0.0)
    draft.visits.append(Worked(rig.worker.id, ended.astimezone(draft.zone).date(), Visit(minutes, nominal)))


def _rig(known: Iterable[Rig], spec: PassSpec, named: str | None) -> Rig | None:
    """Return the rig that was named; where none was, one that does the pass if only one machine of the farm can."""
    rigs = [rig for rig in known if (rig.id == named if named else rig.does(spec.operations))]
    return rigs[0] if len({rig.worker.id for rig in rigs}) == 1 else None


def _began(event: Event, told: kinds.PassProgressed | None, old: PassState) -> tuple[datetime | None, bool]:
    """Return when a visit began, and whether the field was set up for it; no time where nobody said it."""
    if told is not None and told.started_at is not None and told.ended_at is not None:
        return told.started_at, old.last_report_at is None or told.started_at > old.last_report_at
    if old.running is None or event.source != FROM_PHONE:
        return None, False
    going_on = old.last_report_at is not None and old.last_report_at > old.running.since
    return (old.last_report_at, False) if going_on else (old.running.since, True)


def learned_paces(draft: Draft, now: datetime) -> dict[str, LearnedPace]:
    """Return what the visits of days that are over teach, by machine."""
    today, visits = now.astimezone(draft.zone).date(), dict[str, list[Visit]]()
    for one in draft.visits:
        if one.day < today:
            visits.setdefault(one.machine, []).append(one.visit)
    found = {name: learned_pace(rows) for name, rows in visits.items()}
    return {name: one for name, one in found.items() if one is not None}


def with_paces(farm: Farm, paces: Mapping[str, LearnedPace]) -> Farm:
    """Return the farm whose machines take as long as was learned; the same where it is not to learn."""
    if not paces or not farm.plan.learn_pace:
        return farm
    machines = tuple(
        m.model_copy(update={"time_factor": m.time_factor * paces[m.id].factor}) if m.id in paces else m
        for m in farm.machines
    )
    return farm.model_copy(update={"machines": machines})
