"""A weather source that is opened when somebody first asks it.

Most commands need the farm and its log and no weather. A source that cannot be opened must not keep a report from being
stored, and tables of weather take a second to load.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from functools import cached_property

from shared.ports import WeatherSource
from shared.weather_records import DailyWeather, HourlyWeather, Place


class LateWeather:
    """A `shared.ports.WeatherSource` behind the function that opens it; what opening refuses, the first question says."""

    def __init__(self, opener: Callable[[], WeatherSource]) -> None:
        self._opener = opener

    @cached_property
    def _source(self) -> WeatherSource:
        return self._opener()

    @cached_property
    def name(self) -> str:
        """What the source is called."""
        return self._source.name

    def observed(self, place: Place, first_day: date, until: datetime) -> HourlyWeather:
        """Return observed hours (see the port)."""
        return self._source.observed(place, first_day, until)

    def forecast(self, place: Place, now: datetime) -> HourlyWeather:
        """Return the newest forecast (see the port)."""
        return self._source.forecast(place, now)

    def normals(self, place: Place) -> DailyWeather:
        """Return many years of past days (see the port)."""
        return self._source.normals(place)
