"""More or less rain than forecast: the one change that is no event of the farm, put over the weather ahead."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from shared.weather_records import HourlyWeather

SHOWER_FROM, SHOWER_HOURS = time(12), 6
"""An invented rain falls in the afternoon, spread evenly (assumption of this project)."""


@dataclass(frozen=True)
class Tilt:
    """Rain of every member times `rain_factor`, and so many millimetres more on some days."""

    rain_factor: float = 1.0
    more_mm: tuple[tuple[date, float], ...] = ()

    @property
    def is_none(self) -> bool:
        """Whether it leaves the weather as it is."""
        return self.rain_factor == 1.0 and not self.more_mm

    def joined(self, other: Tilt) -> Tilt:
        """Return both, one after the other."""
        return Tilt(self.rain_factor * other.rain_factor, self.more_mm + other.more_mm)


def tilted(weather: HourlyWeather, tilt: Tilt, time_zone: str) -> HourlyWeather:
    """Return the forecast with the tilt over it; temperature, sun and wind stay as they are.

    Parameters
    ----------
    weather : HourlyWeather
        What may come; observed hours are never tilted.
    tilt : Tilt
    time_zone : str
        In which the days of the tilt are counted.
    """
    if tilt.is_none:
        return weather
    rain = weather.rain_mm * tilt.rain_factor
    for day, more_mm in tilt.more_mm:
        start = datetime.combine(day, SHOWER_FROM, ZoneInfo(time_zone))
        first = weather.hour_index(start)
        hours = np.arange(first, weather.hour_index(start + timedelta(hours=SHOWER_HOURS)))
        hours = hours[(hours >= 0) & (hours < weather.hours)]
        rain = rain.copy()
        rain[:, hours] += more_mm / SHOWER_HOURS
    return replace(weather, rain_mm=rain)
