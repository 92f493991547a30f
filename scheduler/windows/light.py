"""Local days and daylight of an hourly grid: which hour belongs to which day, and whether the sun is up in its middle."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from shared.sun import sun_times
from shared.weather_records import Place

HALF_HOUR = timedelta(minutes=30)


@dataclass(frozen=True)
class HourGrid:
    """Hours from a start, seen from the farm.

    Attributes
    ----------
    start_utc : datetime
        Start of hour 0.
    first_day : date
        Local date that counts as day 0.
    day : int array (hours,)
        Local day of each hour; may be negative.
    clock : int array (hours,)
        Local clock hour.
    light : bool array (hours,)
        Sun up in the middle of the hour.
    """

    start_utc: datetime
    first_day: date
    day: NDArray[np.int_]
    clock: NDArray[np.int_]
    light: NDArray[np.bool_]

    @property
    def hours(self) -> int:
        """Number of hours."""
        return len(self.day)


def hour_grid(start_utc: datetime, hours: int, first_day: date, place: Place, time_zone: str) -> HourGrid:
    """Return the grid; days of a clock change have 23 or 25 hours and nothing else notices."""
    zone = ZoneInfo(time_zone)
    local = [(start_utc + timedelta(hours=k)).astimezone(zone) for k in range(hours)]
    sun = {day: sun_times(day, place, time_zone) for day in {moment.date() for moment in local}}
    light = []
    for k, moment in enumerate(local):
        times = sun[moment.date()]
        middle = start_utc + timedelta(hours=k) + HALF_HOUR
        light.append(times is not None and times[0] <= middle <= times[1])
    return HourGrid(
        start_utc,
        first_day,
        np.array([(moment.date() - first_day).days for moment in local], dtype=np.int_),
        np.array([moment.hour for moment in local], dtype=np.int_),
        np.array(light, dtype=np.bool_),
    )
