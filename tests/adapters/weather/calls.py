"""Weather sources opened against the local server, and what every record of theirs has to be."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

import numpy as np

from adapters.http.polite import PoliteClient
from adapters.weather import open_weather
from shared.ports import WeatherSource
from shared.weather_records import HOURLY_QUANTITIES, HourlyWeather, Place
from tests.adapters.weather import fault_server as fake
from tests.adapters.weather.fault_server import Answer, Service

PLACE = Place(42.03, -93.02, 300.0)
ZONE = "America/Chicago"
NOW = datetime(2027, 5, 10, 10, 20, tzinfo=UTC)
FORECASTERS = ("us-national", "global-ensemble", "norway")


@dataclass
class Settings:
    source: str = "recorded"
    forecast: tuple[str, ...] = ()
    observed: tuple[str, ...] = ()
    history: tuple[str, ...] = ()
    folder: str = "weather"
    options: dict[str, Any] = field(default_factory=dict)


def answer_all(service: Service, now: datetime = NOW) -> None:
    def days_of(query: dict[str, list[str]], a: str, b: str) -> tuple[date, date]:
        return date.fromisoformat(query[a][0]), date.fromisoformat(query[b][0])

    def power(query: dict[str, list[str]]) -> Answer:
        first, last = (datetime.strptime(query[key][0], "%Y%m%d").date() for key in ("start", "end"))
        return Answer(fake.power_days(first, last, now.date() - timedelta(days=6)))

    service.answers = {
        "/us/points": lambda q: Answer(fake.us_points(service)), "/us/gridpoints": lambda q: Answer(fake.us_grid(now)),
        "/ensemble": lambda q: Answer(fake.ensemble(now)), "/past": lambda q: Answer(fake.past_hours(now, int(q["past_days"][0]))),
        "/norway/complete": lambda q: Answer(fake.norwegian(now)), "/power": power,
        "/us-days": lambda q: Answer(fake.us_days(*days_of(q, "sdate", "edate"))),
    }  # fmt: skip


def client_for(tmp_path: Path, slept: list[float] | None = None, cache: bool = True) -> PoliteClient:
    waits = [] if slept is None else slept
    return PoliteClient(
        tmp_path / "cache.sqlite" if cache else None, "test@example.org", waits.append, luck=Random(1)
    )


def opened(
    service: Service, tmp_path: Path, client: PoliteClient | None = None, **lists: tuple[str, ...]
) -> WeatherSource:
    options = {
        "accept_terms": True, "base_url": service.url, "ensemble_url": f"{service.url}/ensemble",
        "forecast_url": f"{service.url}/past", "power_url": f"{service.url}/power", "us_grid_url": f"{service.url}/us-days",
    }  # fmt: skip
    names = {name for found in lists.values() for name in found}
    options["base_url"] = f"{service.url}/us" if "us-national" in names else f"{service.url}/norway"
    return open_weather(tmp_path, Settings(options=options, **lists), ZONE, client or client_for(tmp_path))


def sound(weather: HourlyWeather) -> None:
    """The contract of every record: one shape, UTC hours, finite, possible."""
    assert weather.start_utc.minute == 0 and weather.start_utc.utcoffset() == timedelta(0)
    for name in HOURLY_QUANTITIES:
        values = getattr(weather, name)
        assert values.shape == (weather.members, weather.hours) and np.isfinite(values).all(), name
    assert (weather.rain_mm >= 0).all() and (weather.solar_mj_m2 >= 0).all() and weather.source
