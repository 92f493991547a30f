"""Small invented weathers for the tests of this room."""

from __future__ import annotations

from datetime import date

import numpy as np

from shared.day_to_hours import hours_from_days
from shared.weather_records import DailyWeather, HourlyWeather, Place

PLACE = Place(42.0, -93.6, 300.0)
ZONE = "America/Chicago"


def spring(
    rain_mm: list[float] | np.ndarray, first: date = date(2026, 4, 20), warmth_c: float = 20.0
) -> HourlyWeather:
    """Days with the given rain, the rest as a mild spring: 12 degrees between day and night."""
    rain = np.atleast_2d(np.asarray(rain_mm, float))
    tmax = np.full(rain.shape, warmth_c)
    return hours_from_days(DailyWeather(first, rain, tmax, tmax - 12.0), PLACE, ZONE)


def years(days: int, seed: int = 7, members: int = 1, first: date = date(2024, 11, 1)) -> HourlyWeather:
    """Invented days with the temperature and showers of a continental year."""
    draw = np.random.default_rng(seed)
    day_of_year = np.array(
        [(first.toordinal() + k - date(first.year, 1, 1).toordinal()) % 365 for k in range(days)]
    )
    mean = 10 - 14 * np.cos(2 * np.pi * (day_of_year - 20) / 365)
    mean = mean + draw.normal(0, 3, (members, days))
    rain = np.where(draw.random((members, days)) < 0.3, draw.gamma(0.8, 11.0, (members, days)), 0.0)
    return hours_from_days(DailyWeather(first, rain, mean + 6, mean - 6), PLACE, ZONE)
