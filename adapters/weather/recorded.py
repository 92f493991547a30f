"""Recorded weather in a folder: what was observed, the forecasts as issued, and many years of past days.

    weather/normals.csv                  date,rain_mm,tmax_c,tmin_c[,solar_mj_m2,rh_max_pct,rh_min_pct,wind_m_s]
    weather/observed.csv                 the same, plus rain_from_h,rain_hours
    weather/forecasts/2027-05-10T0500.csv   the same, plus member; the name is the local time of issue

All values are of local calendar days and are spread over the hours by `shared.day_to_hours`. Only what lies before
the asked moment is ever shown, so a replay never knows tomorrow.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from shared.day_to_hours import hours_from_days
from shared.errors import WeatherUnavailable
from shared.weather_records import DailyWeather, HourlyWeather, Place

if TYPE_CHECKING:
    from adapters.http.polite import PoliteClient

NEEDED = ("date", "rain_mm", "tmax_c", "tmin_c")
OPTIONAL = ("solar_mj_m2", "rh_max_pct", "rh_min_pct", "wind_m_s", "rain_from_h", "rain_hours")
LIMITS = {
    "rain_mm": (0, 500), "tmax_c": (-60, 60), "tmin_c": (-60, 60), "solar_mj_m2": (0, 60), "rh_max_pct": (0, 100),
    "rh_min_pct": (0, 100), "wind_m_s": (0, 75), "rain_from_h": (0, 24), "rain_hours": (0, 24), "member": (0, 10_000),
}  # fmt: skip

ELSE = "--now asks for another day, and [weather] in farm.toml may name a live source (docs/weather.md)"


class RecordedWeather:
    """A `shared.ports.WeatherSource` over a folder of recorded files."""

    def __init__(self, folder: Path, time_zone: str) -> None:
        self.name = f"recorded weather in {folder.name}/"
        self._folder, self._time_zone, self._zone = folder, time_zone, ZoneInfo(time_zone)

    def observed(self, place: Place, first_day: date, until: datetime) -> HourlyWeather:
        """Return observed hours from `first_day` to `until` (see the port)."""
        days = self._days(self._folder / "observed.csv")
        have_from, last_day = days.first_day, days.last_day
        asked = until.astimezone(self._zone).date()
        if last_day < asked - timedelta(days=1) or last_day < first_day:
            raise WeatherUnavailable(
                f"{self._folder.name}/observed.csv ends on {last_day}, before {asked}; {ELSE}."
            )
        if have_from > asked:
            raise WeatherUnavailable(
                f"{self._folder.name}/observed.csv begins on {have_from}, after {asked}; "
                f"days from {have_from} on can be asked for; {ELSE}."
            )
        if first_day > have_from:
            days = _cut(days, (first_day - have_from).days)
        hours = hours_from_days(days, place, self._time_zone).between(
            datetime.combine(days.first_day, datetime.min.time(), self._zone).astimezone(UTC),
            until.astimezone(UTC),
        )
        if hours.hours == 0 or hours.end_utc < until.astimezone(UTC) - timedelta(hours=1):
            raise WeatherUnavailable(
                f"{self._folder.name}/observed.csv ends on {last_day}, before {asked}; {ELSE}."
            )
        return replace(hours, source=self.name)

    def forecast(self, place: Place, now: datetime) -> HourlyWeather:
        """Return the newest forecast issued at or before `now` (see the port)."""
        found = [(issued, path) for path in self._forecasts() if (issued := self._issued(path)) <= now]
        if not found:
            raise WeatherUnavailable(
                f"{self._folder.name}/forecasts holds no forecast issued before {now.astimezone(self._zone):%Y-%m-%d %H:%M}."
            )
        issued, path = max(found)
        members = [
            _daily(rows, path.name) for _, rows in _table(path, ("member",)).groupby("member", sort=True)
        ]
        hourly = [hours_from_days(days, place, self._time_zone) for days in members]
        if len({one.hours for one in hourly}) != 1:
            raise WeatherUnavailable(
                f"{path.name}: the members cover different days; allowed: the same days for each."
            )
        stacked: dict[str, Any] = {
            name: np.concatenate([getattr(one, name) for one in hourly], axis=0)
            for name in ("rain_mm", "temp_c", "rh_pct", "wind_m_s", "solar_mj_m2")
        }
        return HourlyWeather(
            hourly[0].start_utc, source=self.name, issued_at=issued.astimezone(UTC), **stacked
        )

    def normals(self, place: Place) -> DailyWeather:
        """Return many years of past days (see the port)."""
        return self._days(self._folder / "normals.csv")

    def _days(self, path: Path) -> DailyWeather:
        return _daily(_table(path), path.name)

    def _forecasts(self) -> list[Path]:
        return sorted((self._folder / "forecasts").glob("*.csv"))

    def _issued(self, path: Path) -> datetime:
        try:
            return datetime.strptime(path.stem, "%Y-%m-%dT%H%M").replace(tzinfo=self._zone)
        except ValueError as error:
            raise WeatherUnavailable(
                f"forecasts/{path.name}: the name is no time of issue; allowed: a name such as 2027-05-10T0500.csv."
            ) from error


def open_recorded(
    folder: Path, options: Mapping[str, Any], time_zone: str, client: PoliteClient | None = None
) -> RecordedWeather:
    """Open recorded weather; it has no options and asks nobody."""
    if options:
        raise WeatherUnavailable(
            f"farm.toml: weather.options {sorted(options)[0]!r} is not known; recorded weather has no options."
        )
    return RecordedWeather(folder, time_zone)


def _table(path: Path, more: tuple[str, ...] = ()) -> pd.DataFrame:
    """Read a file of days, anew only where it was written since; nobody changes what it returns."""
    name = f"{path.parent.name}/{path.name}"
    try:
        return _checked(path, path.stat().st_mtime, name, more)
    except FileNotFoundError as error:
        raise WeatherUnavailable(f"{name} is missing.") from error
    except (OSError, UnicodeDecodeError, pd.errors.ParserError, pd.errors.EmptyDataError) as error:
        raise WeatherUnavailable(f"{name} cannot be read as CSV ({error}).") from error


@lru_cache(maxsize=32)
def _checked(path: Path, _stamp: float, name: str, more: tuple[str, ...]) -> pd.DataFrame:
    """Return a table in which every value is a number; every refusal is a sentence."""
    frame = pd.read_csv(path, dtype=str, keep_default_na=False).fillna("")
    missing = [column for column in (*NEEDED, *more) if column not in frame.columns]
    if missing:
        raise WeatherUnavailable(
            f"{name}: the column {missing[0]!r} is missing; allowed: {', '.join((*NEEDED, *OPTIONAL))}."
        )
    try:
        frame["date"] = [date.fromisoformat(text) for text in frame["date"]]
    except ValueError as error:
        raise WeatherUnavailable(f"{name}: {error}; allowed: dates such as 2027-05-10.") from error
    for column in (name for name in LIMITS if name in frame.columns):
        frame[column] = _numbers(frame[column], column, name)
    for row, (high, low) in enumerate(zip(frame["tmax_c"], frame["tmin_c"], strict=True), 2):
        if high < low:
            raise WeatherUnavailable(f"{name}: row {row}, tmax_c {high:g} lies below tmin_c {low:g}.")
    return frame


def _numbers(values: pd.Series, column: str, name: str) -> pd.Series:
    numbers = pd.to_numeric(values.where(values.str.strip() != "", "nan"), errors="coerce")
    low, high = LIMITS.get(column, (-1e9, 1e9))
    for row, (text, number) in enumerate(zip(values, numbers, strict=True), 2):
        if text.strip() == "" and column not in (*NEEDED, "member"):
            continue
        if not low <= number <= high:
            raise WeatherUnavailable(
                f"{name}: row {row}, {column} {text!r} is not usable; allowed: {low} to {high}."
            )
    return numbers


def _daily(rows: pd.DataFrame, name: str) -> DailyWeather:
    days = list(rows["date"])
    for before, after in pairwise(days):
        if after != before + timedelta(days=1):
            raise WeatherUnavailable(f"{name}: {after} follows {before}; allowed: every day once, in order.")
    if not days:
        raise WeatherUnavailable(f"{name} holds no days.")
    values: dict[str, Any] = {
        column: rows[column].to_numpy(float)[None, :] for column in (*NEEDED[1:], *OPTIONAL) if column in rows
    }
    return DailyWeather(days[0], source=name, **values)


def _cut(days: DailyWeather, first: int) -> DailyWeather:
    columns: dict[str, Any] = {
        name: None if (values := getattr(days, name)) is None else values[:, first:]
        for name in (*NEEDED[1:], *OPTIONAL)
    }
    return replace(days, first_day=days.first_day + timedelta(days=first), **columns)
