"""The weather while something was applied, out of the observed hours."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from shared.weather_records import HourlyWeather

HOUR = timedelta(hours=1)


@dataclass(frozen=True)
class Then:
    """Mean and strongest wind [m/s at 2 m], lowest and highest air temperature [degC] of the hours touched."""

    wind_m_s: float
    wind_most_m_s: float
    temp_least_c: float
    temp_most_c: float


def weather_then(observed: HourlyWeather | None, start: datetime | None, end: datetime | None) -> Then | None:
    """Return the weather of a span; None where the span or the weather is not known."""
    if observed is None or start is None or end is None or end < start:
        return None
    first = observed.hour_index(start)
    last = max(first + 1, -((observed.start_utc - end) // HOUR))
    if first < 0 or last > observed.hours:
        return None
    wind, temp = (np.asarray(row[0, first:last], dtype=float) for row in (observed.wind_m_s, observed.temp_c))
    if not (np.isfinite(wind).all() and np.isfinite(temp).all()):
        return None
    return Then(float(wind.mean()), float(wind.max()), float(temp.min()), float(temp.max()))
