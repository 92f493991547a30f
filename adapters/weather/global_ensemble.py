"""A keyless global forecast service with an ensemble: members as they are; past hours and past years from its archive.

Its free terms exclude commercial use, and a working farm is arguably that: the source stays off until the farm file says
``accept_terms = true`` (somebody read the terms and they fit) or gives an ``api_key``. Everything is asked in GMT: the service
applies one offset to a whole series, which is an hour off behind a clock change. Hourly rain is that of the hour before.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from adapters.http.polite import PoliteClient, Reply, degrees
from adapters.weather.day_series import Days, series
from adapters.weather.hourly_grid import (
    HOUR,
    KM_H_TO_M_S,
    WIND_10_TO_2,
    bridged,
    checked,
    full_hour,
    sun_from_cloud,
)
from adapters.weather.reading import STALE_MOST, known_shape
from shared.clock import local_midnight
from shared.errors import WeatherUnavailable
from shared.weather_records import DailyWeather, HourlyWeather, Place

NAME = "global-ensemble"
FORECAST_HOST = "https://api.open-meteo.com/v1/forecast"
ENSEMBLE_HOST = "https://ensemble-api.open-meteo.com/v1/ensemble"
ARCHIVE_HOST = "https://archive-api.open-meteo.com/v1/archive"
TERMS = "its free terms exclude commercial use"
CREDIT = "weather data by open-meteo.com, CC BY 4.0"
VARIABLES = (
    "precipitation",
    "temperature_2m",
    "relative_humidity_2m",
    "wind_speed_10m",
    "shortwave_radiation",
)
UNITS = {"precipitation": "mm", "temperature_2m": "°C", "relative_humidity_2m": "%", "wind_speed_10m": "km/h",
         "shortwave_radiation": "W/m²"}  # fmt: skip
STATES = {
    "temperature_2m": ("temp_c", 1.0), "relative_humidity_2m": ("rh_pct", 1.0), "wind_speed_10m": ("wind_m_s", KM_H_TO_M_S),
}  # fmt: skip
DAILY = {
    "precipitation_sum": ("rain_mm", "mm"), "temperature_2m_max": ("tmax_c", "°C"), "temperature_2m_min": ("tmin_c", "°C"),
    "shortwave_radiation_sum": ("solar_mj_m2", "MJ/m²"),
}  # fmt: skip
MEMBER = r"(?:_member\d+)?(?:_[a-z0-9_]+)?"
W_TO_MJ_H = 3600 / 1e6
LEAST_H = 24
MOST_PAST_DAYS, NORMAL_YEARS = 92, 20
Floats = NDArray[np.float64]


class GlobalEnsemble:
    """A `shared.ports.WeatherSource` that forecasts, remembers three months and knows past years."""

    name = NAME

    def __init__(self, client: PoliteClient, time_zone: str, options: Mapping[str, Any]) -> None:
        self._client, self._zone = client, ZoneInfo(time_zone)
        self._key = str(options.get("api_key", ""))
        self._allowed = bool(self._key) or options.get("accept_terms") is True
        self._models = str(options.get("model", "ecmwf_ifs025_ensemble"))
        self._hosts = {
            "forecast": str(options.get("forecast_url", FORECAST_HOST)),
            "ensemble": str(options.get("ensemble_url", ENSEMBLE_HOST)),
            "archive": str(options.get("archive_url", ARCHIVE_HOST)),
        }

    def forecast(self, place: Place, now: datetime) -> HourlyWeather:
        """Return the ensemble, its members as they are (see the port)."""
        params = {"hourly": ",".join(VARIABLES), "models": self._models, "forecast_days": "15"}
        reply = self._ask("ensemble", place, params, timedelta(hours=2), STALE_MOST)
        with known_shape(NAME):
            times, columns = _table(reply)
            start = full_hour(now)
            if start not in times or len(times) - times.index(start) < LEAST_H:
                raise WeatherUnavailable(f"{NAME} gives no hours ahead of now; its forecast is too old.")
            first, members = times.index(start), _members(columns)
            rain = np.stack([_column(columns, "precipitation" + end)[first + 1 :] for end in members])
            hours = _reach(rain)
            parts = {name: _cube(columns, name, members, first, hours) for name in VARIABLES[1:4]}
            sun = _sun(columns, members, first, hours, place, start)
        stale = (f"{reply.stale}: the forecast fetched {reply.fetched_at:%Y-%m-%d %H:%M} UTC is used",)
        return HourlyWeather(
            start, checked("rain_mm", rain[:, :hours], NAME), parts["temperature_2m"],
            np.clip(parts["relative_humidity_2m"], 0, 100), parts["wind_speed_10m"] * WIND_10_TO_2, sun, source=NAME,
            issued_at=min(reply.fetched_at, now), notes=(f"{NAME}: {len(members)} members", CREDIT, *(stale if reply.stale else ())),
        )  # fmt: skip

    def observed(self, place: Place, first_day: date, until: datetime) -> HourlyWeather:
        """Return the last hours of the service's own analysis, at most 92 days back (see the port)."""
        days = min(MOST_PAST_DAYS, (until.astimezone(self._zone).date() - first_day).days + 1)
        if days < 1:
            raise WeatherUnavailable(f"{NAME} is asked for {first_day}, which lies ahead.")
        params = {"hourly": ",".join(VARIABLES), "past_days": str(days), "forecast_days": "2"}
        reply = self._ask("forecast", place, params, timedelta(hours=1), timedelta(hours=6))
        with known_shape(NAME):
            times, columns = _table(reply)
            begin, end = max(times[0], local_midnight(first_day, self._zone)), full_hour(until)
            first = times.index(begin) if begin in times else len(times)
            rain = _column(columns, "precipitation")[None, first + 1 :]
            hours = min(_reach(rain, least=1), int((end - begin) // HOUR))
            if hours < 1:
                raise WeatherUnavailable(f"{NAME} gives no observed hours up to {until:%Y-%m-%d %H:%M} UTC.")
            parts = {name: _cube(columns, name, [""], first, hours) for name in VARIABLES[1:4]}
            sun = _sun(columns, [""], first, hours, place, begin)
        notes = (CREDIT, *((f"{reply.stale}: hours fetched before are used",) if reply.stale else ()))
        return HourlyWeather(
            begin, checked("rain_mm", rain[:, :hours], NAME), parts["temperature_2m"],
            np.clip(parts["relative_humidity_2m"], 0, 100), parts["wind_speed_10m"] * WIND_10_TO_2, sun, source=NAME, notes=notes,
        )  # fmt: skip

    def normals(self, place: Place) -> DailyWeather:
        """Return twenty past years by day from the service's archive (see the port)."""
        last = self._client.clock().year - 1
        params = {
            "daily": ",".join(DAILY), "models": "era5", "start_date": f"{last - NORMAL_YEARS + 1}-01-01",
            "end_date": f"{last}-12-31", "timezone": str(self._zone),
        }  # fmt: skip
        payload = self._ask("archive", place, params, timedelta(days=30)).payload
        found: Days = {}
        with known_shape(NAME):
            daily, units = payload["daily"], payload.get("daily_units", {})
            for theirs, (ours, unit) in DAILY.items():
                if units.get(theirs, unit) != unit:
                    raise WeatherUnavailable(f"{NAME} gives {theirs} in {units[theirs]!r}; known: {unit}.")
                for text, value in zip(daily["time"], daily[theirs], strict=True):
                    if value is not None:
                        found.setdefault(date.fromisoformat(text), {})[ours] = float(value)
            days = series(found, min(found, default=date(last, 1, 1)), date(last, 12, 31), f"{NAME} archive")
        return replace(days, notes=(*days.notes, CREDIT))

    def _ask(
        self, what: str, place: Place, params: Mapping[str, str], expiry: timedelta, stale_most: timedelta | None = None
    ) -> Reply:  # fmt: skip
        if not self._allowed:
            raise WeatherUnavailable(
                f"{NAME} is off: {TERMS}; allowed: weather.options.accept_terms = true once somebody has read them, or an api_key."
            )
        asked = {
            "latitude": degrees(place.latitude_deg),
            "longitude": degrees(place.longitude_deg),
            "timezone": "GMT",
            **params,
        }
        if self._key:
            asked["apikey"] = self._key
        return self._client.json(self._hosts[what], asked, expiry, stale_most)


def open_global_ensemble(
    folder: Path, options: Mapping[str, Any], time_zone: str, client: PoliteClient
) -> GlobalEnsemble:
    """Open the source; options: ``accept_terms``, ``api_key``, ``model``, and the addresses."""
    return GlobalEnsemble(client, time_zone, options)


def _table(reply: Reply) -> tuple[list[datetime], dict[str, list[Any]]]:
    """Return UTC times and columns of the hourly table."""
    hourly, units = reply.payload["hourly"], reply.payload.get("hourly_units", {})
    times = [datetime.fromisoformat(text).replace(tzinfo=UTC) for text in hourly["time"]]
    if reply.payload.get("utc_offset_seconds", 0) != 0:
        raise ValueError("times are not in GMT")
    if times != [times[0] + k * HOUR for k in range(len(times))]:
        raise ValueError("its times are not hour after hour")
    for name, values in hourly.items():
        if name != "time" and len(values) != len(times):
            raise ValueError(f"{name} has {len(values)} values for {len(times)} hours")
    for name, told in units.items():
        known = next((unit for start, unit in UNITS.items() if re.fullmatch(f"{start}{MEMBER}", name)), told)
        if told != known:
            raise WeatherUnavailable(f"{NAME} gives {name} in {told!r}; known: {known}.")
    return times, {name: values for name, values in hourly.items() if name != "time"}


def _members(columns: Mapping[str, Any]) -> list[str]:
    """Return the endings of the member columns of rain, the control first: they are counted, never taken for granted."""
    found = [m.group(1) for name in columns if (m := re.fullmatch(f"precipitation({MEMBER})", name))]
    if not found:
        raise WeatherUnavailable(f"{NAME} gives no rain.")
    return sorted(found)


def _reach(rain: Floats, least: int = LEAST_H) -> int:
    """Return for how many hours every member speaks of rain; an hour nobody speaks of is unknown, never dry.

    Raises
    ------
    WeatherUnavailable
        Fewer than `least`.
    """
    known = np.asarray(np.isfinite(rain).all(axis=0))
    hours = len(known) if known.all() else int(np.argmin(known))
    if hours < least:
        raise WeatherUnavailable(f"{NAME} speaks of rain for {hours} hours only.")
    return hours


def _cube(columns: Mapping[str, Any], name: str, members: list[str], first: int, hours: int) -> Floats:
    """Return states (members, hours) in SI, short holes bridged; a member that leaves one out takes the control's."""
    ours, factor = STATES[name]
    rows = [_column(columns, name + end if name + end in columns else name) for end in members]
    return np.stack(
        [bridged(ours, checked(ours, row[first : first + hours] * factor, NAME), NAME) for row in rows]
    )


def _sun(
    columns: Mapping[str, Any], members: list[str], first: int, hours: int, place: Place, start: datetime
) -> Floats:
    """Return radiation (members, hours) [MJ/m2]; a mean of the hour before its stamp, by rule where not given."""
    usual = sun_from_cloud(np.full(hours, 0.5), place, start)
    rows = []
    for end in members:
        name = f"shortwave_radiation{end}"
        told = np.full(hours, np.nan)
        if name in columns:
            told = _column(columns, name)[first + 1 : first + 1 + hours] * W_TO_MJ_H
            checked("solar_mj_m2", told, NAME)
        rows.append(np.where(np.isfinite(told), told, usual))
    return np.stack(rows)


def _column(columns: Mapping[str, Any], name: str) -> Floats:
    if name not in columns:
        raise WeatherUnavailable(f"{NAME} leaves out {name}.")
    return np.array([np.nan if value is None else value for value in columns[name]], float)
