"""The possible weathers ahead: observed hours, then the forecast's members, then past years where it ends.

Question answered: *which weathers does this morning reckon with?* In: observed hours, the forecast (or none), past
years by day. Out: one hourly record of equal members from some hours before the horizon to its end (and beyond for the
season), how many hours of it are known, and sentences about what was used. Each member goes on with one real past
year, so that the spread of distant days is the spread this place has shown; no dry day is ever made up.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from shared.day_to_hours import hours_from_days
from shared.errors import WeatherUnavailable
from shared.weather_records import HOURLY_QUANTITIES, DailyWeather, HourlyWeather, Place

MEMBERS_LEAST = 10
"""A forecast of fewer members is repeated to as many past years, so that what follows it has odds at all."""
MEMBERS_MOST = 30
STALE_H = 30.0
HOUR = timedelta(hours=1)
OPTIONAL = ("solar_mj_m2", "rh_max_pct", "rh_min_pct", "wind_m_s", "rain_from_h", "rain_hours")


@dataclass(frozen=True)
class Ahead:
    """Weather from now on.

    Attributes
    ----------
    weather : HourlyWeather
        Members from the hour of `now` to the end asked for.
    known_until : datetime
        End of the forecast; behind it, past years. Equal to the start when there is no usable forecast.
    notes : tuple of str
        What a person should know.
    """

    weather: HourlyWeather
    known_until: datetime
    notes: tuple[str, ...]


def full_hour(moment: datetime) -> datetime:
    """Return the start of the hour [UTC]."""
    return moment.astimezone(UTC).replace(minute=0, second=0, microsecond=0)


def weather_ahead(
    now: datetime,
    until: datetime,
    observed: HourlyWeather,
    forecast: HourlyWeather | None,
    normals: DailyWeather,
    place: Place,
    time_zone: str,
) -> Ahead:
    """Return the members from the end of the observed hours (at most now) to `until`.

    Raises
    ------
    WeatherUnavailable
        The past years cover no day of the dates asked for.
    """
    start = min(full_hour(now), observed.end_utc)
    usable = forecast is not None and forecast.end_utc > start
    members = _member_count(forecast if usable else None, normals)
    notes: list[str] = []
    parts: list[HourlyWeather] = []
    known_until = start
    if forecast is not None and usable:
        if forecast.start_utc > start:
            parts.append(_past_years(start, forecast.start_utc, members, normals, place, time_zone))
            notes.append("between the observed hours and the forecast past years stand in for the weather")
        part = forecast.between(max(start, forecast.start_utc), until)
        parts.append(_spread(part, members))
        known_until = part.end_utc
        notes += [*forecast.notes, *_age_notes(forecast, now, time_zone)]
    elif forecast is not None:
        notes.append("the last forecast has run out: past years stand in for the weather ahead")
    else:
        notes.append("no forecast: past years stand in for the weather ahead")
    if known_until < until:
        parts.append(_past_years(known_until, until, members, normals, place, time_zone))
        if usable:
            last = (known_until - HOUR).astimezone(ZoneInfo(time_zone))
            notes.append(f"after {last.day} {last:%B} past years stand in for the weather")
    whole = parts[0]
    for part in parts[1:]:
        whole = whole.followed_by(part)
    issued = forecast.issued_at if forecast is not None and usable else None
    source = forecast.source if forecast is not None and usable else normals.source
    return Ahead(replace(whole, source=source, issued_at=issued, notes=()), known_until, tuple(notes))


def _member_count(forecast: HourlyWeather | None, normals: DailyWeather) -> int:
    years = max(1, min(normals.days // 365, MEMBERS_MOST))
    if forecast is None:
        return years
    return forecast.members if forecast.members >= MEMBERS_LEAST else max(forecast.members, years)


def _spread(part: HourlyWeather, members: int) -> HourlyWeather:
    if part.members == members:
        return part
    pick = np.arange(members) % part.members
    return replace(part, **{name: getattr(part, name)[pick] for name in HOURLY_QUANTITIES})


def _age_notes(forecast: HourlyWeather, now: datetime, time_zone: str) -> list[str]:
    if forecast.issued_at is None:
        return []
    age_h = (now - forecast.issued_at) / HOUR
    issued = forecast.issued_at.astimezone(ZoneInfo(time_zone))
    when = f"{issued:%A} {issued.day} {issued:%B} at {issued:%H:%M}"
    if age_h <= STALE_H:
        return [f"forecast of {when}, {forecast.members} members"]
    age = f"{age_h / 24:.0f} days" if age_h >= 48 else f"{age_h:.0f} hours"
    return [f"the newest forecast is {age} old ({when}): odds are worse than they look"]


def _past_years(
    start: datetime, end: datetime, members: int, normals: DailyWeather, place: Place, time_zone: str
) -> HourlyWeather:
    """Return `members` past years of the dates between two hours."""
    zone = ZoneInfo(time_zone)
    first, last = start.astimezone(zone).date(), (end - HOUR).astimezone(zone).date()
    columns = _columns(normals, first, (last - first).days + 1, members)
    rows: dict[str, Any] = {
        name: None if (values := getattr(normals, name)) is None else values[0][columns]
        for name in ("rain_mm", "tmax_c", "tmin_c", *OPTIONAL)
    }
    days = replace(normals, first_day=first, source=normals.source, notes=(), **rows)
    hours = hours_from_days(days, place, time_zone).between(start, end)
    return replace(hours, notes=())


def _columns(normals: DailyWeather, first: date, days: int, members: int) -> NDArray[np.int_]:
    """Return which day of the past (members, days) stands for each day; whole years, spread over the record."""
    dates = normals.dates()
    column = {day: k for k, day in enumerate(dates)}
    years = sorted({day.year for day in dates})
    whole = [
        year for year in years
        if all(_same(first + timedelta(days=k), year - first.year) in column for k in range(days))
    ]  # fmt: skip
    if not whole:
        raise WeatherUnavailable(
            f"the past years hold no year with all days from {first} on ({days} days); allowed: at least one whole year."
        )
    picked = [whole[m * len(whole) // members] for m in range(members)]
    return np.array(
        [
            [column[_same(first + timedelta(days=k), year - first.year)] for k in range(days)]
            for year in picked
        ],
        dtype=np.int_,
    )


def _same(day: date, years: int) -> date:
    """Return the same day so many years on; 29 February becomes the 28th in a common year."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return day.replace(year=day.year + years, day=28)
