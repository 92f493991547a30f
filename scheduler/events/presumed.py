"""Work of today that nobody has reported yet and that is taken as done, and what it makes of the situation.

What is presumed is no fact: it never enters the log, and the next report of the work takes its place.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from scheduler.events.derive_work import DONE_TOLERANCE_SHARE
from scheduler.events.situation import LEAST_HA, Situation

MINUTE = timedelta(minutes=1)


@dataclass(frozen=True)
class Presumed:
    """A piece of work.

    Attributes
    ----------
    block : str
        Id of its block in the plan that people know.
    start, end : datetime
        Farm-local; the end to the quarter hour.
    area_ha : float
    rig, operator, support : str or None
    over : bool
        The hours of its block are over; else it goes on, or something came between.
    """

    field: str
    pass_id: str
    block: str
    start: datetime
    end: datetime
    area_ha: float
    rig: str | None
    operator: str
    support: str | None = None
    over: bool = False


def still_presumed(works: Iterable[Presumed], situation: Situation) -> list[Presumed]:
    """Return what a plan took as done that is still of today and of which no report came since."""
    out = []
    for one in works:
        state = situation.passes.get((one.field, one.pass_id))
        told = None if state is None else state.last_report_at
        today = situation.now.astimezone(one.end.tzinfo).date() == one.end.date()
        if (
            state is not None
            and today
            and not (state.finished or state.cancelled)
            and (told is None or told <= one.start)
        ):
            out.append(one)
    return out


def with_presumed(situation: Situation, works: tuple[Presumed, ...]) -> Situation:
    """Return the situation in which what is presumed done is done: area, products and hours."""
    for one in works:
        situation = _counted(situation, one)
    return situation


def _counted(situation: Situation, one: Presumed) -> Situation:
    farm, key = situation.farm, (one.field, one.pass_id)
    state, ground, spec = situation.passes.get(key), farm.field_by_id.get(one.field), farm.spec(*key)
    if state is None or ground is None or spec is None:
        return situation
    left = situation.left_ha(*key) - one.area_ha
    over = left < max(LEAST_HA, ground.area_ha * DONE_TOLERANCE_SHARE)
    # Nobody has said when the spraying was over, only that it was to be: its re-entry interval counts from now.
    sprayed = any(farm.product_by_id[item.product].reentry_hours > 0 for item in spec.products)
    ended = max(one.end, situation.now) if sprayed else one.end
    state = replace(
        state,
        done_ha=ground.area_ha if over else state.done_ha + one.area_ha,
        finished=state.finished or over,
        finished_at=ended if over else state.finished_at,
        started_at=state.started_at or one.start,
        last_rig=one.rig or state.last_rig,
        last_operator=one.operator,
        last_report_at=ended,
        running=None if over else state.running,
    )
    worked = dict(situation.worked_minutes)
    for who in (one.operator, one.support):
        if who is not None:
            day = (who, one.start.date())
            worked[day] = worked.get(day, 0.0) + (one.end - one.start) / MINUTE
    supplies = dict(situation.supplies)
    factor = farm.tissue_factor(spec, one.field, situation.rate_factor)
    for name, rate in farm.taken_by(spec, factor).items():
        if (supply := supplies.get(name)) is not None:
            took = rate * one.area_ha
            supplies[name] = replace(supply, stock=max(0.0, supply.stock - took), used=supply.used + took)
    return replace(
        situation,
        passes={**situation.passes, key: state},
        worked_minutes=worked,
        supplies=supplies,
        presumed=situation.presumed | {key},
    )
