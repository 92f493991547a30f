"""The location forecast of the Norwegian national weather service, for the whole globe; made members by the stated error model.

Only the block whose length equals the gap to the next time is rain of that gap: the others overlap. It is never asked before
its reply expires, then conditionally (requests-cache keeps to that).
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from adapters.http.polite import PoliteClient, Reply, degrees
from adapters.weather.hourly_grid import (
    HOUR,
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

NAME = "norway"
HOST = "https://api.met.no/weatherapi/locationforecast/2.0"
UNITS = {
    "air_temperature": "celsius", "precipitation_amount": "mm", "relative_humidity": "%", "wind_speed": "m/s",
    "cloud_area_fraction": "%",
}  # fmt: skip
CREDIT = "weather data of the Norwegian Meteorological Institute, CC BY 4.0"


class Norway:
    """A `shared.ports.WeatherSource` that forecasts."""

    name = NAME

    def __init__(self, client: PoliteClient, base_url: str = HOST) -> None:
        self._client, self._base = client, base_url.rstrip("/")

    def forecast(self, place: Place, now: datetime) -> HourlyWeather:
        """Return the latest forecast as members (see the port)."""
        params = {
            "lat": degrees(place.latitude_deg), "lon": degrees(place.longitude_deg), "altitude": f"{place.elevation_m:.0f}",
        }  # fmt: skip
        reply = self._client.json(f"{self._base}/complete", params, stale_most=STALE_MOST)
        with known_shape(NAME):
            return _record(reply, place, now)

    def observed(self, place: Place, first_day: date, until: datetime) -> HourlyWeather:
        """Refuse: the service gives no past (see the port)."""
        raise WeatherUnavailable(f"{NAME} gives forecasts only.")

    def normals(self, place: Place) -> DailyWeather:
        """Refuse: the service gives no past years (see the port)."""
        raise WeatherUnavailable(f"{NAME} gives forecasts only.")


def open_norway(folder: Path, options: Mapping[str, Any], time_zone: str, client: PoliteClient) -> Norway:
    """Open the source; option: ``base_url``."""
    return Norway(client, str(options.get("base_url", HOST)))


def _record(reply: Reply, place: Place, now: datetime) -> HourlyWeather:
    properties = reply.payload["properties"]
    told = properties["meta"]["units"]
    issued = _moment(properties["meta"]["updated_at"])
    check_age(NAME, issued, now)
    series = [(_moment(row["time"]), row["data"]) for row in properties["timeseries"]]
    for name, unit in UNITS.items():
        if told.get(name, unit) != unit:
            raise WeatherUnavailable(f"{NAME} gives {name} in {told[name]!r}; known: {unit}.")
    start, rows = full_hour(now), _steps(series)
    rows = [row for row in rows if row[0] + timedelta(hours=row[1]) > start]
    if len(rows) < 12:
        raise WeatherUnavailable(f"{NAME} gives {len(rows)} steps ahead of now; its forecast is too old.")
    hours = int((rows[-1][0] + timedelta(hours=rows[-1][1]) - start) // HOUR)

    def state(key: str) -> Any:
        return states(
            [(at, length, _number(data["instant"]["details"].get(key))) for at, length, data in rows],
            start,
            hours,
        )

    temp = bridged("temp_c", checked("temp_c", state("air_temperature"), NAME), NAME)
    wet_air = np.clip(bridged("rh_pct", checked("rh_pct", state("relative_humidity"), NAME), NAME), 0, 100)
    wind = bridged("wind_m_s", checked("wind_m_s", state("wind_speed"), NAME), NAME)
    cloud = np.nan_to_num(state("cloud_area_fraction"), nan=50.0) / 100
    seed = int(issued.timestamp()) % 2**32
    notes = [f"{NAME}: one forecast, made {MEMBERS} members by rule", CREDIT]
    if reply.stale:
        notes.append(f"{reply.stale}: the forecast kept from {issued:%Y-%m-%d %H:%M} UTC is used")
    alike = (MEMBERS, 1)
    return HourlyWeather(
        start, rain_members(_rain(rows, start, hours), hours, MEMBERS, seed),
        temperature_members(temp, MEMBERS, seed + 1), np.tile(wet_air, alike), np.tile(wind * WIND_10_TO_2, alike),
        np.tile(sun_from_cloud(cloud, place, start), alike), source=NAME, issued_at=issued, notes=tuple(notes),
    )  # fmt: skip


Step = tuple[datetime, float, Any]


def _steps(series: list[tuple[datetime, Any]]) -> list[Step]:
    """Return (time, hours to the next time, data) while rain of exactly that length is given."""
    out: list[Step] = []
    for (at, data), (later, _) in pairwise(series):
        length = (later - at) / HOUR
        if length <= 0:
            raise ValueError(f"{later:%Y-%m-%d %H:%M} after {at:%Y-%m-%d %H:%M}")
        if f"next_{length:.0f}_hours" not in data:
            break
        out.append((at, length, data))
    return out


def _rain(rows: list[Step], start: datetime, hours: int) -> list[Interval]:
    out = []
    for at, length, data in rows:
        block = data[f"next_{length:.0f}_hours"].get("details", {})
        amount = _number(block.get("precipitation_amount"))
        if amount is None:
            raise WeatherUnavailable(f"{NAME} leaves out the rain of {at:%Y-%m-%d %H:%M} UTC.")
        chance = _number(block.get("probability_of_precipitation"))
        first = int((at - start) // HOUR)
        a, b = max(0, first), min(hours, first + round(length))
        if b > a:
            rate = float(checked("rain_mm", np.array([amount / length]), NAME)[0])
            out.append(Interval(a, b - a, rate * (b - a), None if chance is None else chance / 100))
    return out


def _number(value: Any) -> float | None:
    return float(value) if isinstance(value, int | float) and np.isfinite(value) else None


def _moment(text: str) -> datetime:
    moment = datetime.fromisoformat(text.replace("Z", "+00:00"))
    if moment.tzinfo is None:
        raise ValueError(f"time {text!r} without a zone")
    return moment
