"""Calibration joined: past records and weather in, one event for each field (or the whole farm) out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from adapters.files.past_records import PastCheck, read_past_checks, read_week_reports
from scheduler.events.decide import planner_event
from scheduler.events.derive import situation as derive_situation
from scheduler.events.kinds import GroundCalibrated
from scheduler.events.situation import Check, Situation
from scheduler.windows.ground import ground_of, learn_fields
from scheduler.windows.rain import field_rain
from scheduler.wiring.daily_weather import read_daily_weather, stretch_at
from scheduler.wiring.mornings import known_weather
from scheduler.wiring.news import read_state
from scheduler.wiring.workspace import Workspace
from scheduler.workability.calibrate import Calibration, WeekReport, aligned, calibrate
from scheduler.workability.district import typical_ground
from scheduler.workability.learning import Learned
from shared.day_to_hours import hours_from_days
from shared.errors import FitgroundError
from shared.vocabulary import DayOrder, EventKind
from shared.weather_records import DailyWeather, HourlyWeather

LEAD_DAYS = 120
"""Days run before the first record, so that the start is forgotten."""


@dataclass(frozen=True)
class Taught:
    """What records taught: one body to save, and its sentence for people, by field ("" for all)."""

    bodies: dict[str, GroundCalibrated]
    weeks: Calibration | None = None
    fields: dict[str, Learned] | None = None


def from_weeks(
    workspace: Workspace, file: Path, weather: Path | None, dates: DayOrder | None = None
) -> Taught:
    """Learn the farm's limits from weekly reports of suitable days in its district.

    Parameters
    ----------
    file : Path
        Weekly reports.
    weather : Path, optional
        Daily weather that covers them; default: the farm's past years.
    dates : DayOrder, optional
        Which comes first in days such as 5/11/2027.

    Raises
    ------
    FitgroundError
        Too few weeks lie inside the weather.
    """
    farm = workspace.farm
    days = read_daily_weather(weather) if weather is not None else [workspace.weather.normals(farm.place)]
    reports = [WeekReport(day, value) for day, value in read_week_reports(file, dates)]
    most = max(
        farm.fields, key=lambda field: sum(f.area_ha for f in farm.fields if f.texture == field.texture)
    )
    tiled = sum(f.area_ha for f in farm.fields if f.tiled) * 2 >= sum(f.area_ha for f in farm.fields)
    ground = typical_ground(most.texture, tiled, None)
    try:
        found = calibrate(days, farm.place, aligned(days, farm.place, reports, ground=ground), ground=ground)
    except ValueError as error:
        raise FitgroundError(
            f"{file.name}: {error}; the weather runs from {days[0].first_day} to {days[-1].last_day}."
        ) from error
    body = GroundCalibrated(
        limit_shift=round(found.after.rule.limit - found.before.rule.limit, 4),
        learned_from=f"{found.fitted_after.weeks + found.held_after.weeks} weekly reports of {file.name}",
        error_before=round(found.held_before.mae, 3), error_after=round(found.held_after.mae, 3),
    )  # fmt: skip
    return Taught({"": body}, weeks=found)


def from_checks(
    workspace: Workspace,
    now: datetime,
    file: Path | None,
    weather: Path | None,
    dates: DayOrder | None = None,
) -> Taught:
    """Learn every field from what was found in it: a file of past records, and the spade tests of the log.

    Raises
    ------
    FitgroundError
        Nothing was found in any field inside the weather.
    """
    situation = derive_situation(workspace.farm, read_state(workspace), now)
    past = (
        []
        if file is None
        else read_past_checks(file, {f.id: f.label for f in situation.farm.fields}, dates, now.date())
    )
    told = [*situation.checks, *(_check(one, workspace) for one in past)]
    told = [check for check in told if check.at <= now]
    if not told:
        raise FitgroundError(
            "there is no spade test in the log and no file of records; report some, or name a file."
        )
    # Calibrated anew from all that is known: what an earlier calibration counted is counted again, once.
    farm_wide = {key: value for key, value in situation.calibrated.items() if key == ""}
    bare = replace(situation, checks=tuple(told), calibrated=farm_wide)
    observed = _observed(workspace, now, sorted(check.at for check in told), weather)
    grounds = [ground_of(bare, field) for field in bare.farm.fields]
    found, _ = learn_fields(bare, grounds, observed, field_rain(bare, observed))
    by_field = {bare.farm.fields[k].id: learned for k, learned in found.items()}
    if not by_field:
        raise FitgroundError(
            f"no record lies inside the weather, which begins on {observed.start_utc:%Y-%m-%d}."
        )
    return Taught({name: _body(name, learned, bare) for name, learned in by_field.items()}, fields=by_field)


def _body(field: str, learned: Learned, situation: Situation) -> GroundCalibrated:
    count = sum(check.field_id == field for check in situation.checks)
    slow = learned.drying_factor_after
    return GroundCalibrated(
        field=field, limit_shift=round(learned.limit_shift_after.mean, 4), drying_factor=round(slow.mean, 4),
        limit_sd=max(1e-4, round(learned.limit_shift_after.sd, 4)),
        drying_log_sd=max(1e-4, round(slow.sd / max(slow.mean, 1e-6), 4)), learned_from=f"{count} ground checks",
    )  # fmt: skip


def _check(one: PastCheck, workspace: Workspace) -> Check:
    return Check(one.field, datetime.combine(one.day, one.at, workspace.zone), one.verdict, one.pass_id)


def _observed(
    workspace: Workspace, now: datetime, moments: Sequence[datetime], weather: Path | None
) -> HourlyWeather:
    """Return the observed hours around the records, from a file or from the farm's own weather."""
    if weather is not None:
        first, last = (moments[k].astimezone(workspace.zone).date() for k in (0, -1))
        stretches = read_daily_weather(weather)
        days = stretch_at(stretches, first)
        if last >= stretch_at(stretches, last).first_day > days.first_day:
            raise FitgroundError(
                f"{weather.name}: there is no weather from {days.last_day + timedelta(days=1)} on for more than a month, and "
                f"records lie before and after it; allowed: weather without such a hole from {first} to {last}."
            )
        wanted = first - timedelta(days=LEAD_DAYS)
        hours = hours_from_days(_from(days, wanted), workspace.farm.place, workspace.farm.time_zone)
        return hours.between(hours.start_utc, now.astimezone(UTC))
    observed, _, _ = known_weather(workspace, now)
    return observed


def _from(days: DailyWeather, first: date) -> DailyWeather:
    skip = max(0, (first - days.first_day).days)
    if skip == 0:
        return days
    names = (
        "rain_mm",
        "tmax_c",
        "tmin_c",
        "solar_mj_m2",
        "rh_max_pct",
        "rh_min_pct",
        "wind_m_s",
        "rain_from_h",
        "rain_hours",
    )
    cut = {name: value[:, skip:] for name in names if (value := getattr(days, name)) is not None}
    return replace(days, first_day=days.first_day + timedelta(days=skip), **cut)


def save_taught(workspace: Workspace, taught: Taught, now: datetime) -> Sequence[str]:
    """Write what was learned into the log; return the ids of the events."""
    records = []
    for name, body in taught.bodies.items():
        key = f"calibrated-{name or 'farm'}-{now.astimezone(UTC):%Y%m%dT%H%M%S}"
        records.append(planner_event(key, body, EventKind.GROUND_CALIBRATED, now))
    return [record.id for record in workspace.log.append(records)]
