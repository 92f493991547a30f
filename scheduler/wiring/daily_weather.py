"""A table of daily weather that somebody brings: its stretches, and the one in which a day lies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

from adapters.weather.daily_csv import read_daily_stretches
from shared.weather_records import DailyWeather


def read_daily_weather(path: Path) -> list[DailyWeather]:
    """Return the stretches of a table between its holes of more than a month, in order.

    Raises
    ------
    WeatherUnavailable
        The file cannot be read, or something in it cannot be right.
    """
    return read_daily_stretches(path)


def stretch_at(stretches: Sequence[DailyWeather], day: date) -> DailyWeather:
    """Return the stretch that holds a day, with what is to be said of the whole file.

    In a hole the one before it is returned, before the first the first: callers say in their own words what lies outside.
    """
    before = [one for one in stretches if one.first_day <= day]
    found = before[-1] if before else stretches[0]
    return replace(found, notes=tuple(dict.fromkeys((*stretches[0].notes, *found.notes))))
