"""A keyless global forecast service with an ensemble: members as they are; past hours and past years from its archive.

Its free terms exclude commercial use, and a working farm is arguably that: the source stays off until the farm file says
``accept_terms = true`` (somebody read the terms and they fit) or gives an ``api_key``. Everything is asked in GMT: the service
applies one offset to a whole series, which is an hour off behind a clock change. Hourly rain is that of the hour before.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from adapters.http.polite import PoliteClient, Reply
from adapters.weather.hourly_grid import HOUR, KM_H_TO_M_S, WIND_10_TO_2, bridged, checked, dry_sun, full_hour
from shared.clock import local_midnight
from shared.errors import WeatherUnavailable
from shared.weather_records import DailyWeather, HourlyWeather, Place

NAME = "global-ensemble"
FORECAST_HOST = "https://api.open-meteo.com/v1/forecast"
ENSEMBLE_HOST = "https://ensemble-api.open-meteo.com/v1/ensemble"
ARCHIVE_HOST = "https://archive-api.open-meteo.com/v1/archive"
TERMS = "its free terms exclude commercial use"
CREDIT = "weather data by the global forecast service, CC BY 4.0"
VARIABLES = (
    "precipitation",
    "temperature_2m",
    "relative_humidity_2m",
    "wind_speed_10m",
    "shortwave_radiation",
)
UNITS = {"precipitation": "mm", "temperature_2m": "°C", "relative_humidity_2m": "%", "wind_speed_10m": "km/h",
         "shortwave_radiation": "W/m²"}  # fmt: skip
W_TO_MJ_H = 3600 / 1e6
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
        params = {"hourly": ",".join(VARIABLES[:4]), "models": self._models, "forecast_days": "15"}
        reply = self._ask("ensemble", place, params, timedelta(hours=2))
        times, columns = _table(reply)
        start = full_hour(now)
        first, members = times.index(start) if start in times else -1, _members(columns)
        if first < 0 or len(times) - first < 24:
            raise WeatherUnavailable(f"{NAME} gives no hours ahead of now; its forecast is too old.")
        hours = _reach(columns["precipitation"], first)
        parts = {name: _cube(columns, name, members, first, hours) for name in VARIABLES[1:4]}
        # An hour's rain is stamped with its end: the hour that begins at `first` stands one row further.
        fell = _cube(columns, "precipitation", members, first + 1, hours)
        notes = (
            f"{NAME}: {len(members)} members",
            CREDIT,
            *([f"{reply.stale}: an earlier reply is used"] if reply.stale else []),
        )
        temp = np.stack(
            [bridged("temp_c", checked("temp_c", row, NAME), NAME) for row in parts["temperature_2m"]]
        )
        wet_air = np.stack([bridged("rh_pct", row, NAME) for row in parts["relative_humidity_2m"]])
        wind = np.stack([bridged("wind_m_s", row, NAME) for row in parts["wind_speed_10m"]])
        rain = np.stack([bridged("rain_mm", checked("rain_mm", row, NAME), NAME) for row in fell])
        sun = np.tile(dry_sun(temp[0], place, start), (len(members), 1))
        return HourlyWeather(
            start, rain, temp, np.clip(wet_air, 0, 100), wind * KM_H_TO_M_S * WIND_10_TO_2, sun, source=NAME,
            issued_at=min(reply.fetched_at, now), notes=notes,
        )  # fmt: skip

    def observed(self, place: Place, first_day: date, until: datetime) -> HourlyWeather:
        """Return the last hours of the service's own analysis, at most 92 days back (see the port)."""
        days = min(MOST_PAST_DAYS, (until.astimezone(self._zone).date() - first_day).days + 1)
        params = {"hourly": ",".join(VARIABLES), "past_days": str(days), "forecast_days": "1"}
        reply = self._ask("forecast", place, params, timedelta(hours=1))
        times, columns = _table(reply)
        begin = max(times[0], local_midnight(first_day, self._zone))
        a, b = times.index(begin), int((full_hour(until) - times[0]) // HOUR)
        if b <= a or b > len(times):
            raise WeatherUnavailable(f"{NAME} gives no observed hours up to {until:%Y-%m-%d %H:%M}.")
        cut = {name: _column(columns, name)[a:b] for name in VARIABLES}
        rain = (
            _column(columns, "precipitation")[a + 1 : b + 1]
            if b < len(times)
            else np.append(cut["precipitation"][1:], 0.0)
        )
        temp = bridged("temp_c", checked("temp_c", cut["temperature_2m"], NAME), NAME)
        sun = cut["shortwave_radiation"] * W_TO_MJ_H
        values = (
            bridged("rain_mm", checked("rain_mm", rain, NAME), NAME), temp,
            np.clip(bridged("rh_pct", cut["relative_humidity_2m"], NAME), 0, 100),
            bridged("wind_m_s", cut["wind_speed_10m"], NAME) * KM_H_TO_M_S * WIND_10_TO_2,
            np.where(np.isfinite(sun), sun, dry_sun(temp, place, begin)),
        )  # fmt: skip
        rain_h, temp_h, air_h, wind_h, sun_h = (value[None, :] for value in values)
        return HourlyWeather(begin, rain_h, temp_h, air_h, wind_h, sun_h, source=NAME, notes=(CREDIT,))

    def normals(self, place: Place) -> DailyWeather:
        """Return twenty past years by day from the service's archive (see the port)."""
        last = datetime.now(UTC).year - 1
        params = {
            "daily": "precipitation_sum,temperature_2m_max,temperature_2m_min,shortwave_radiation_sum", "models": "era5",
            "start_date": f"{last - NORMAL_YEARS + 1}-01-01", "end_date": f"{last}-12-31", "timezone": str(self._zone),
        }  # fmt: skip
        payload = self._ask("archive", place, params, timedelta(days=365)).payload
        try:
            daily = payload["daily"]
            rows = {
                name: np.array([np.nan if v is None else v for v in daily[name]], float)[None, :]
                for name in daily
                if name != "time"
            }
            first = date.fromisoformat(daily["time"][0])
        except (KeyError, TypeError, ValueError, IndexError) as error:
            raise WeatherUnavailable(
                f"{NAME} answered past years in a shape that is not known ({error})."
            ) from error
        return DailyWeather(
            first, rows["precipitation_sum"], rows["temperature_2m_max"], rows["temperature_2m_min"],
            solar_mj_m2=rows.get("shortwave_radiation_sum"), source=f"{NAME} archive", notes=(CREDIT,),
        )  # fmt: skip

    def _ask(self, what: str, place: Place, params: Mapping[str, str], expiry: timedelta) -> Reply:
        if not self._allowed:
            raise WeatherUnavailable(
                f"{NAME} is off: {TERMS}; allowed: weather.options.accept_terms = true once somebody has read them, or an api_key."
            )
        asked = {
            "latitude": f"{place.latitude_deg:.4f}",
            "longitude": f"{place.longitude_deg:.4f}",
            "timezone": "GMT",
            **params,
        }
        if self._key:
            asked["apikey"] = self._key
        return self._client.json(self._hosts[what], asked, expiry)


def open_global_ensemble(
    folder: Path, options: Mapping[str, Any], time_zone: str, client: PoliteClient
) -> GlobalEnsemble:
    """Open the source; options: ``accept_terms``, ``api_key``, ``model``, and the addresses."""
    return GlobalEnsemble(client, time_zone, options)


def _table(reply: Reply) -> tuple[list[datetime], dict[str, list[Any]]]:
    """Return UTC times and columns of the hourly table."""
    try:
        hourly, units = reply.payload["hourly"], reply.payload.get("hourly_units", {})
        times = [datetime.fromisoformat(text).replace(tzinfo=UTC) for text in hourly["time"]]
        if reply.payload.get("utc_offset_seconds", 0) != 0:
            raise ValueError("times are not in GMT")
        for name, values in hourly.items():
            if name != "time" and len(values) != len(times):
                raise ValueError(f"{name} has {len(values)} values for {len(times)} hours")
    except (KeyError, TypeError, ValueError) as error:
        raise WeatherUnavailable(f"{NAME} answered in a shape that is not known ({error}).") from error
    for name, unit in UNITS.items():
        if units.get(name, unit) != unit:
            raise WeatherUnavailable(f"{NAME} gives {name} in {units[name]!r}; known: {unit}.")
    return times, {name: values for name, values in hourly.items() if name != "time"}


def _members(columns: Mapping[str, Any]) -> list[str]:
    """Return the endings of the member columns of rain, the control first: they are counted, never taken for granted."""
    found = [
        m.group(1)
        for name in columns
        if (m := re.fullmatch(r"precipitation((?:_member\d+)?(?:_[a-z0-9_]+)?)", name))
    ]
    if not found:
        raise WeatherUnavailable(f"{NAME} gives no rain.")
    return sorted(found)


def _reach(rain: list[Any], first: int) -> int:
    """Return for how many hours from `first` on the control speaks of rain."""
    known = [k for k in range(first, len(rain)) if rain[k] is not None]
    return (known[-1] - first) if known else 0


def _cube(columns: Mapping[str, Any], name: str, members: list[str], first: int, hours: int) -> Floats:
    rows = [
        _column(columns, name + end) if name + end in columns else _column(columns, name) for end in members
    ]
    return np.stack([row[first : first + hours] for row in rows])


def _column(columns: Mapping[str, Any], name: str) -> Floats:
    if name not in columns:
        raise WeatherUnavailable(f"{NAME} leaves out {name}.")
    return np.array([np.nan if value is None else value for value in columns[name]], float)
