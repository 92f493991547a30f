"""Rain read from gauges, put on the fields they stand for, in the hours in which it probably fell.

In: readings (total between two times) and the hourly weather of the same time. Out: rain by field and hour, NaN
where no gauge speaks, as `run_soil_water` takes it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from shared.weather_records import HourlyWeather


@dataclass(frozen=True)
class GaugeReading:
    """One reading.

    Attributes
    ----------
    fields : tuple of int
        Index of every field the gauge stands for.
    since, until : datetime
        The total fell between these times (aware).
    rain_mm : float
        Total [mm].
    """

    fields: tuple[int, ...]
    since: datetime
    until: datetime
    rain_mm: float

    def __post_init__(self) -> None:
        if not self.since < self.until:
            raise ValueError("a gauge reading must end after it begins")
        if not 0 <= self.rain_mm <= 500:
            raise ValueError(f"a gauge reading must lie between 0 and 500 mm, got {self.rain_mm:g}")


def rain_by_field(
    fields: int, weather: HourlyWeather, readings: Sequence[GaugeReading]
) -> NDArray[np.float64]:
    """Rain (fields, 1, hours) [mm]; NaN where no reading covers the hour.

    A total is shared out like the mean rain of the weather's members in those hours; evenly where the weather
    had none. Later readings in the list win over earlier ones for the same hours.
    """
    rain = np.full((fields, 1, weather.hours), np.nan)
    pattern = weather.rain_mm.mean(axis=0)
    for reading in readings:
        first = max(weather.hour_index(reading.since), 0)
        last = min(weather.hour_index(reading.until - timedelta(seconds=1)) + 1, weather.hours)
        if last <= first:
            continue
        hours = (reading.until - reading.since) / timedelta(hours=1)
        # A reading that began before the record counts here only with the share of its hours that are inside.
        inside = min((last - first) / max(hours, 1.0), 1.0)
        shape = pattern[first:last]
        share = shape / shape.sum() if shape.sum() > 0 else np.full(last - first, 1 / (last - first))
        for field in reading.fields:
            rain[field, 0, first:last] = reading.rain_mm * inside * share
    return rain
