"""The farm's weather sources asked and held to account: what is used now, and how past forecasts did."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from scheduler.windows.verification import Verification, verify
from scheduler.wiring.mornings import known_weather
from scheduler.wiring.workspace import Workspace
from shared.weather_records import HourlyWeather

LOOK_BACK = timedelta(days=120)


@dataclass(frozen=True)
class WeatherCheck:
    """What the weather rests on now, and what kept forecasts were worth by source (``all`` first)."""

    observed: HourlyWeather
    forecast: HourlyWeather | None
    past_years: str
    verified: tuple[Verification, ...]


def check_weather(workspace: Workspace, now: datetime) -> WeatherCheck:
    """Ask the sources, and hold the forecasts kept since spring against what fell."""
    observed, forecast, normals = known_weather(workspace, now)
    kept = workspace.forecasts.between(now - LOOK_BACK, now)
    sources = sorted({one.source for _, one in kept})
    chosen = [("all", kept)] if kept else []
    if len(sources) > 1:
        chosen += [(name, [row for row in kept if row[1].source == name]) for name in sources]
    verified = tuple(verify(rows, observed, normals, workspace.zone, name) for name, rows in chosen)
    return WeatherCheck(observed, forecast, normals.source, verified)
