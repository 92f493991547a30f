"""A morning: what is true, what the ground will allow, the plan, and what changed; issuing it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from scheduler.events.derive import situation as derive_situation
from scheduler.events.situation import Situation
from scheduler.farm.farm import Farm
from scheduler.planning.costs import CENTS
from scheduler.planning.diff import Changes, compare
from scheduler.planning.instead import Tell, with_instead
from scheduler.planning.plan import Plan
from scheduler.planning.schedule import make_plan
from scheduler.planning.told_news import news_lines
from scheduler.solver.result import Limits, Progress, ProgressSink
from scheduler.windows.build import build_outlook
from scheduler.windows.records import Outlook
from scheduler.wiring.issued import issue_plan, news_since
from scheduler.wiring.news import read_state
from scheduler.wiring.plans_known import latest_plan
from scheduler.wiring.workspace import Workspace
from shared.clock import Horizon
from shared.errors import WeatherUnavailable
from shared.weather_records import DailyWeather, HourlyWeather

SPIN_UP_DAYS = 100


@dataclass(frozen=True)
class Morning:
    """A plan and everything it was made from."""

    plan: Plan
    situation: Situation
    outlook: Outlook
    changes: Changes | None
    news: tuple[str, ...]


def look_ahead(workspace: Workspace, now: datetime) -> tuple[Situation, Outlook]:
    """Return what is true at `now` and what the ground and the crops will allow."""
    situation = derive_situation(workspace.farm, read_state(workspace), now)
    observed, forecast, normals = known_weather(workspace, now)
    return situation, build_outlook(situation, horizon_at(situation.farm, now), observed, forecast, normals)


def horizon_at(farm: Farm, now: datetime) -> Horizon:
    """Return the days that are planned exactly from a moment on, on the farm as events changed it."""
    today = now.astimezone(ZoneInfo(farm.time_zone)).date()
    return Horizon(today, farm.plan.horizon_days, farm.time_zone)


def known_weather(
    workspace: Workspace, now: datetime
) -> tuple[HourlyWeather, HourlyWeather | None, DailyWeather]:
    """Return what was observed, the forecast (None when there is none) and the past years, as known at `now`."""
    place, first = workspace.farm.place, now.astimezone(workspace.zone).date() - timedelta(days=SPIN_UP_DAYS)
    observed = workspace.weather.observed(place, first, now)
    return observed, forecast_now(workspace, now), workspace.weather.normals(place)


def forecast_now(workspace: Workspace, now: datetime) -> HourlyWeather | None:
    """Return the forecast, the last one kept when there is no newer, or None: the outlook goes on with past years then."""
    kept = workspace.forecasts.newest(now)
    try:
        found = workspace.weather.forecast(workspace.farm.place, now)
    except WeatherUnavailable as error:
        return _kept(kept, now, f"no new forecast: {error}")
    if kept is not None and _older(found, kept):
        return _kept(kept, now, f"{found.source} gives an older forecast than before; the newer one is used")
    workspace.forecasts.keep(found, now)
    return found


def _older(found: HourlyWeather, kept: HourlyWeather) -> bool:
    """Return whether a source went back in time; another source may well be a few hours older."""
    if found.source != kept.source or found.issued_at is None or kept.issued_at is None:
        return False
    return found.issued_at < kept.issued_at


def _kept(kept: HourlyWeather | None, now: datetime, why: str) -> HourlyWeather | None:
    if kept is None or kept.end_utc <= now:
        return None
    return replace(kept, notes=(*kept.notes, why))


def plan_morning(
    workspace: Workspace, now: datetime, seconds: float | None = None, progress: ProgressSink | None = None,
    use_engine: bool = True,
) -> Morning:  # fmt: skip
    """Make a checked plan with its changes against the plan that people know."""
    situation, outlook = look_ahead(workspace, now)
    settings = situation.farm.plan
    horizon = Horizon(outlook.first_day, outlook.days, outlook.time_zone)
    limits = Limits(settings.seconds if seconds is None else seconds, settings.workers, settings.seed)
    previous = latest_plan(workspace)
    plan = make_plan(situation, outlook, horizon, limits, previous, progress, use_engine)
    if use_engine and plan is not previous:
        plan = with_instead(plan, situation, outlook, _telling(plan, progress))
    news = news_since(workspace, previous, situation)
    changes = None if previous is None else compare(previous, plan, news, situation.farm)
    told = news_lines(news, situation.farm)
    silence = [] if changes is None else changes.unreported(situation.farm)
    return Morning(plan, situation, outlook, changes, (*told, *silence))


def _telling(plan: Plan, progress: ProgressSink | None) -> Tell | None:
    """Return what tells of second choices as of a search; each takes a second or less."""
    if progress is None:
        return None
    value, bound = plan.value.total * CENTS, plan.value.bound * CENTS
    return lambda number, of: progress(
        Progress(float(number), f"second choice {number + 1} of {of}", value, bound, float(of - number))
    )


def issue(workspace: Workspace, morning: Morning) -> None:
    """Keep a morning's plan as the one that people work by."""
    issue_plan(workspace, morning.plan)
