"""The US National Weather Service: gridpoint quantities, made members by the stated error model.

The rain amounts of a grid end days before its temperatures do; the forecast given back ends with them, since an hour nobody
speaks of is unknown and never dry. Chance of rain: that of the covering interval; wind is the prevailing 10 m wind.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from adapters.http.polite import PoliteClient, Reply, degrees
from adapters.weather.hourly_grid import (
    HOUR,
    KM_H_TO_M_S,
    WIND_10_TO_2,
    bridged,
    checked,
    full_hour,
    states,
    sun_from_cloud,
)
from adapters.weather.one_value import MEMBERS, Interval, rain_members, temperature_members
from adapters.weather.reading import STALE_MOST, check_age, known_shape
from shared.errors import WeatherUnavailable
from shared.weather_records import DailyWeather, HourlyWeather, Place

NAME = "us-national"
HOST = "https://api.weather.gov"
OLD = timedelta(hours=18)
DURATION = re.compile(r"P(?:(\d+)D)?(?:T(?:(\d+)H)?(?:(\d+)M)?)?$")
TO_UNIT = {
    "wmoUnit:degC": 1.0, "wmoUnit:percent": 0.01, "wmoUnit:mm": 1.0, "wmoUnit:km_h-1": KM_H_TO_M_S, "wmoUnit:m_s-1": 1.0,
}  # fmt: skip
Rows = list[tuple[datetime, float, float | None]]


class UsNational:
    """A `shared.ports.WeatherSource` that forecasts."""

    name = NAME

    def __init__(self, client: PoliteClient, base_url: str = HOST) -> None:
        self._client, self._base = client, base_url.rstrip("/")

    def forecast(self, place: Place, now: datetime) -> HourlyWeather:
        """Return the latest grid as members (see the port)."""
        at = f"{degrees(place.latitude_deg)},{degrees(place.longitude_deg)}"
        points = self._client.json(f"{self._base}/points/{at}", expiry=timedelta(days=7))
        with known_shape(NAME):
            grid = points.payload["properties"]["forecastGridData"]
            if not (isinstance(grid, str) and grid.startswith(f"{HOST}/")):
                raise ValueError(f"the grid's address {grid!r}")
        reply = self._client.json(self._base + grid.removeprefix(HOST), stale_most=STALE_MOST)
        with known_shape(NAME):
            return _record(reply, place, now)

    def observed(self, place: Place, first_day: date, until: datetime) -> HourlyWeather:
        """Refuse: the service gives no past (see the port)."""
        raise WeatherUnavailable(f"{NAME} gives forecasts only.")

    def normals(self, place: Place) -> DailyWeather:
        """Refuse: the service gives no past years (see the port)."""
        raise WeatherUnavailable(f"{NAME} gives forecasts only.")


def open_us_national(
    folder: Path, options: Mapping[str, Any], time_zone: str, client: PoliteClient
) -> UsNational:
    """Open the source; option: ``base_url``."""
    return UsNational(client, str(options.get("base_url", HOST)))


def _record(reply: Reply, place: Place, now: datetime) -> HourlyWeather:
    layers = reply.payload["properties"]
    issued = _moment(str(layers["updateTime"]))
    check_age(NAME, issued, now)
    start = full_hour(now)
    rain = _rows(layers, "quantitativePrecipitation")
    if not rain:
        raise WeatherUnavailable(f"{NAME} gives no rain amounts at the moment.")
    end = max(at + timedelta(hours=length) for at, length, _ in rain)
    hours = int((full_hour(end) - start) // HOUR)
    if hours < 12:
        raise WeatherUnavailable(
            f"{NAME} gives rain amounts up to {end:%Y-%m-%d %H:%M} UTC only; its forecast is too old."
        )
    covered = np.isfinite(states(rain, start, hours))
    if not covered.all():
        hours = int(np.argmin(covered))
        if hours < 12:
            raise WeatherUnavailable(f"{NAME} leaves out rain amounts of the coming hours.")
    temp = bridged(
        "temp_c", checked("temp_c", states(_rows(layers, "temperature"), start, hours), NAME), NAME
    )
    wet_air = bridged("rh_pct", 100 * states(_rows(layers, "relativeHumidity"), start, hours), NAME)
    wet_air = np.clip(checked("rh_pct", wet_air, NAME), 0, 100)
    wind = bridged(
        "wind_m_s", checked("wind_m_s", states(_rows(layers, "windSpeed"), start, hours), NAME), NAME
    )
    cloud = states(_rows(layers, "skyCover"), start, hours)
    cloud = np.where(np.isfinite(cloud), cloud, 0.5)
    chance = states(_rows(layers, "probabilityOfPrecipitation"), start, hours)
    intervals = _intervals(rain, chance, start, hours)
    seed = int(issued.timestamp()) % 2**32
    notes = [f"{NAME}: one forecast with its chance of rain, made {MEMBERS} members by rule"]
    if reply.stale:
        notes.append(f"{reply.stale}: the forecast kept from {issued:%Y-%m-%d %H:%M} UTC is used")
    elif now - issued > OLD:
        notes.append(f"{NAME} still gives the forecast of {issued:%Y-%m-%d %H:%M} UTC")
    alike = (MEMBERS, 1)
    return HourlyWeather(
        start, rain_members(intervals, hours, MEMBERS, seed),
        temperature_members(temp, MEMBERS, seed + 1), np.tile(wet_air, alike),
        np.tile(wind * WIND_10_TO_2, alike), np.tile(sun_from_cloud(cloud, place, start), alike),
        source=NAME, issued_at=issued, notes=tuple(notes),
    )  # fmt: skip


def _intervals(rain: Rows, chance: Any, start: datetime, hours: int) -> list[Interval]:
    out = []
    for at, length, amount in rain:
        first = int((at - start) // HOUR)
        last = first + max(1, round(length))
        a, b = max(0, first), min(hours, last)
        if b <= a or amount is None:
            continue
        told = chance[a:b][np.isfinite(chance[a:b])]
        rate = float(checked("rain_mm", np.array([amount / (last - first)]), NAME)[0])
        # An interval that began before now counts with the share of its hours that lies ahead.
        out.append(Interval(a, b - a, rate * (b - a), float(told.max()) if len(told) else None))
    return out


def _rows(layers: Mapping[str, Any], name: str) -> Rows:
    layer = layers.get(name) or {}
    values = layer.get("values") or []
    factor = TO_UNIT.get(str(layer.get("uom", "")))
    if values and factor is None:
        raise WeatherUnavailable(f"{NAME} gives {name} in {layer.get('uom')!r}; known: {', '.join(TO_UNIT)}.")
    out: Rows = []
    for row in values:
        moment, _, length = str(row.get("validTime", "")).partition("/")
        value = row.get("value")
        number = (
            None
            if not isinstance(value, int | float) or not np.isfinite(value)
            else float(value) * (factor or 1.0)
        )
        out.append((_moment(moment), _length_h(length), number))
    return out


def _moment(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text.replace("Z", "+00:00"))
        if moment.tzinfo is None:
            raise ValueError(text)
    except ValueError as error:
        raise WeatherUnavailable(f"{NAME} gives the time {text!r}, which cannot be read.") from error
    return moment


def _length_h(text: str) -> float:
    found = DURATION.match(text)
    if not found:
        raise WeatherUnavailable(f"{NAME} gives the duration {text!r}, which cannot be read.")
    days, hours, minutes = (int(part or 0) for part in found.groups())
    return days * 24 + hours + minutes / 60
