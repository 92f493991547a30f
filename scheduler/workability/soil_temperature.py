"""Soil temperature as people ask for it: the mean of a local day, and early in the morning, at 5 cm."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from scheduler.workability.soil_water import SoilTrace

MORNING_H = (7, 9)


@dataclass(frozen=True)
class SoilDays:
    """Soil temperature at 5 cm by local day.

    Attributes
    ----------
    dates : tuple of date
    mean_c : array (fields, members, days)
        Mean of the day [degC].
    morning_c : array (fields, members, days)
        Mean of 7 to 9 o'clock [degC]; NaN where those hours lie outside the trace.
    """

    dates: tuple[date, ...]
    mean_c: NDArray[np.float64]
    morning_c: NDArray[np.float64]


def soil_days(trace: SoilTrace, time_zone: str) -> SoilDays:
    """Sum up the hourly temperatures of a trace by local day."""
    zone = ZoneInfo(time_zone)
    hours = trace.soil_temp_c.shape[2]
    local = [(trace.start_utc + timedelta(hours=hour)).astimezone(zone) for hour in range(hours)]
    dates = tuple(dict.fromkeys(moment.date() for moment in local))
    index = {day: k for k, day in enumerate(dates)}
    day_of_hour = np.array([index[moment.date()] for moment in local])
    morning = np.array([MORNING_H[0] <= moment.hour < MORNING_H[1] for moment in local])
    shape = (*trace.soil_temp_c.shape[:2], len(dates))
    mean, early = np.full(shape, np.nan), np.full(shape, np.nan)
    for k in range(len(dates)):
        today = day_of_hour == k
        mean[:, :, k] = trace.soil_temp_c[:, :, today].mean(axis=2)
        if (today & morning).any():
            early[:, :, k] = trace.soil_temp_c[:, :, today & morning].mean(axis=2)
    return SoilDays(dates, mean, early)
