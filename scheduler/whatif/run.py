"""One way, worked out: imagine it, look ahead, plan, count. Pure, and everything it takes can be sent to another process."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from scheduler.events.derive import situation as derive_situation
from scheduler.events.state import State, fold
from scheduler.farm.farm import Farm
from scheduler.planning.demand_clash import against
from scheduler.planning.demands import Demand, still_open, unmet
from scheduler.planning.plan import Plan
from scheduler.planning.presumed import known_now
from scheduler.planning.schedule import make_plan
from scheduler.solver.result import Limits
from scheduler.whatif.demand import within
from scheduler.whatif.imagine import Imagined, imagine
from scheduler.whatif.invented import days_of
from scheduler.whatif.outcome import Outcome, dropped_loss, outcome_of, refused_outcome
from scheduler.whatif.study import Way
from scheduler.whatif.tilt import tilted
from scheduler.windows.build import build_outlook
from scheduler.windows.records import Outlook
from shared.clock import Horizon
from shared.errors import FitgroundError, ReportRefused
from shared.event_record import EventRecord
from shared.weather_records import DailyWeather, HourlyWeather


@dataclass(frozen=True)
class Morning:
    """Everything that a what-if starts from: the farm, its log, the weather known, the moment, the effort.

    `known` is the plan that people work by: of today's work it tells what is done by now though nobody reported it.
    """

    farm: Farm
    records: tuple[EventRecord, ...]
    now: datetime
    horizon: Horizon
    observed: HourlyWeather
    forecast: HourlyWeather | None
    normals: DailyWeather
    limits: Limits
    known: Plan | None = None


@dataclass(frozen=True)
class Worked:
    """A way with its plan and what the plan was made from."""

    imagined: Imagined
    outlook: Outlook
    plan: Plan


def first_plan(morning: Morning) -> Plan:
    """Return today's plan, from which the search of every way starts: so a way that only adds is never dearer.

    It carries no fingerprint, so that the way without a change is searched as long as the others.
    """
    return work(morning, ()).plan.model_copy(update={"fingerprint": ""})


def work(morning: Morning, lines: tuple[str, ...], start: Plan | None = None, again: int = 0) -> Worked:
    """Return the plan of a way: the same road as every plan, on a copied log.

    Raises
    ------
    ReportRefused
        A line makes no sense, or what must be done by a time cannot be.
    """
    state = fold(State(), morning.records)
    there, outlook = look(morning, imagine(morning.farm, state, morning.now, lines))
    limits = replace(morning.limits, seed=morning.limits.seed + 1009 * again)
    demands = still_open(there.situation, within(there.demands, morning.horizon))
    plan = make_plan(there.situation, outlook, morning.horizon, limits, start, demands=demands)
    if unmet(plan, there.situation, demands):
        raise ReportRefused(_stands_against(morning, there, outlook, demands))
    return Worked(there, outlook, plan)


def _stands_against(morning: Morning, there: Imagined, outlook: Outlook, demands: tuple[Demand, ...]) -> str:
    """Return in a sentence why what must be done cannot be done by then."""
    why = against(there.situation, outlook, morning.horizon, demands)
    if not why.lines:
        return "no plan was found that does all of it by then (no proof that there is none)."
    return f"these cannot hold together: {' '.join(why.lines)}"


def look(morning: Morning, there: Imagined) -> tuple[Imagined, Outlook]:
    """Return what ground and crops would allow, and what would be true by then by the plan that people know."""
    forecast = morning.forecast
    if forecast is not None:
        forecast = tilted(forecast, there.tilt, morning.horizon.time_zone)
    outlook = build_outlook(there.situation, morning.horizon, morning.observed, forecast, morning.normals)
    return replace(there, situation=known_now(there.situation, morning.known, outlook).situation), outlook


def outcome(morning: Morning, way: Way, start: Plan | None = None) -> Outcome:
    """Return the figures of a way; a way that cannot be carries its reason instead."""
    try:
        done = work(morning, way.changes, start, way.again)
    except FitgroundError as error:
        return refused_outcome(way.name, way.changes, str(error))
    return outcome_of(way.name, way.changes, done.plan, done.imagined.situation, beside(morning, done))


def beside(morning: Morning, done: Worked) -> dict[str, float]:
    """Return the money that no plan holds: hire that is owed anyway, and the loss of what was wished away."""
    end = morning.now + timedelta(days=morning.horizon.days)
    hire = sum(one.price.fixed(days_of(one, morning.now, end)) for one in done.imagined.invented)
    keys = tuple(key for one in done.imagined.invented for key in one.dropped)
    if not keys:
        return {"hire": hire}
    situation = derive_situation(morning.farm, fold(State(), morning.records), morning.now)
    present = build_outlook(situation, morning.horizon, morning.observed, morning.forecast, morning.normals)
    return {"hire": hire, "dropped": dropped_loss(keys, present, situation)}
