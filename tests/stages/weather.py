"""Invented weather for the tests of this room, and the shared history where it is present."""

from __future__ import annotations

import csv
import os
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from shared.weather_records import DailyWeather

Array = NDArray[np.float64]


def steady(per_day: float, days: int, members: int = 1) -> Array:
    """Return the same heat every day (members, days)."""
    return np.full((members, days), per_day)


def fan(days: int, members: int = 5, low: float = 12.0, high: float = 26.0, known: int = 30) -> Array:
    """Return members that agree for `known` days and then each keep their own heat."""
    heat = np.full((members, days), 18.0)
    heat[:, known:] = np.linspace(low, high, members)[:, None]
    return heat


def steady_weather(first_day: date, days: int, tmax_c: float, tmin_c: float) -> DailyWeather:
    """Return the same two temperatures every day."""
    same = np.ones((1, days))
    return DailyWeather(first_day, same * 0.0, same * tmax_c, same * tmin_c)


def shared_rows(name: str) -> list[dict[str, str]]:
    """Return the rows of a shared data file; skip the test, saying so, where it is absent."""
    folder = Path(os.environ.get("FITGROUND_DATA", Path(__file__).parents[3] / "shared" / "data"))
    path = folder / name
    if not path.exists():
        pytest.skip(f"shared data {path.name} is not here; set FITGROUND_DATA to its folder")
    with path.open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def central_iowa() -> DailyWeather:
    """Return daily weather of Ames, Iowa, 1980-2019 from the shared data."""
    rows = shared_rows("ames_daily_1980_2019.csv")
    column = {name: np.array([[float(row[name]) for row in rows]]) for name in ("rain", "maxt", "mint")}
    return DailyWeather(date.fromisoformat(rows[0]["date"]), column["rain"], column["maxt"], column["mint"])
