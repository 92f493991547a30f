"""What heat is usual here at this time of year, to carry a stage forecast beyond the end of the weather
forecast.

Input: a history of daily weather. Output: the mean daily heat by day of year (smoothed), and the real years
behind it. Weeks ahead, each weather member goes on with one real past year, so that the spread of a distant
date is the spread that this place has shown, not a guess.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from scheduler.stages.degree_days import GDD_86_50, HeatRule, daily_heat
from shared.weather_records import DailyWeather

Array = NDArray[np.float64]


@dataclass(frozen=True)
class HeatNormals:
    """Usual heat by day of year, and the years it was made from.

    Attributes
    ----------
    rule : HeatRule
        How heat is counted.
    mean : array (366,)
        Smoothed mean heat of each day of a leap year [unit of `rule`].
    years : tuple of int
        Calendar years in the history, in order.
    traces : array (years, 366)
        Daily heat of each year; days the history lacks hold `mean`.
    """

    rule: HeatRule
    mean: Array
    years: tuple[int, ...]
    traces: Array

    def usual(self, first_day: date, days: int) -> Array:
        """Return the smoothed mean heat (days,) of consecutive dates [unit of `rule`]."""
        return self.mean[_slots(first_day, days)]

    def of_year(self, index: int, first_day: date, days: int) -> Array:
        """Return the heat (days,) that year number `index` (counted round) had on these dates."""
        return self.traces[index % len(self.years), _slots(first_day, days)]


def heat_normals(history: DailyWeather, rule: HeatRule = GDD_86_50, window_days: int = 15) -> HeatNormals:
    """Build normals from a history of daily weather (its first member).

    Parameters
    ----------
    history : DailyWeather
        At least one year of days; missing temperatures are skipped.
    rule : HeatRule
        How heat is counted.
    window_days : int
        Width of the circular moving average over the day of year; odd.
    """
    heat = daily_heat(history, rule)[0]
    dates = history.dates()
    years = tuple(sorted({day.year for day in dates}))
    traces = np.full((len(years), 366), np.nan)
    slots = np.array([_slot(day) for day in dates])
    row = np.array([day.year - years[0] for day in dates])
    index_of_year = {year - years[0]: k for k, year in enumerate(years)}
    traces[[index_of_year[int(r)] for r in row], slots] = heat
    known = np.isfinite(traces)
    # 29 February borrows from its neighbours through the smoothing; any other hole means too short a history.
    if (known.sum(axis=0) == 0).sum() > 1:
        raise ValueError("normals need a history that covers every day of the year at least once")
    total = _circular_sum(np.where(known, traces, 0.0).sum(axis=0), window_days)
    count = _circular_sum(known.sum(axis=0).astype(np.float64), window_days)
    mean = total / count
    return HeatNormals(rule, mean, years, np.where(known, traces, mean[None, :]))


def extend_heat(
    heat: Array, first_day: date, until: date, normals: HeatNormals | None, members: int | None = None
) -> Array:
    """Carry daily heat on to `until` with past years.

    Parameters
    ----------
    heat : array (members, days)
        Heat of the days that are known or forecast.
    first_day, until : date
        Date of the first column; last date wanted.
    normals : HeatNormals or None
        None leaves the record as it is.
    members : int or None
        Number of members of the result; None keeps several members as they are and turns a single one into
        as many as there are past years.

    Returns
    -------
    array (members, days to `until`)
        Member m goes on with past year ``m * years // members`` (spread evenly over the history).
    """
    missing = (until - first_day).days + 1 - heat.shape[1]
    if normals is None or missing <= 0:
        return heat
    wanted = members or (heat.shape[0] if heat.shape[0] > 1 else len(normals.years))
    start = first_day + timedelta(days=heat.shape[1])
    known = heat[[m % heat.shape[0] for m in range(wanted)]]
    span = max(wanted, len(normals.years)) if wanted < len(normals.years) else None
    pick = [m * span // wanted if span else m for m in range(wanted)]
    later = np.stack([normals.of_year(k, start, missing) for k in pick])
    return np.concatenate([known, later], axis=1)


def _slot(day: date) -> int:
    """Return the place of a date in a leap year, 0 to 365."""
    return date(2000, day.month, day.day).timetuple().tm_yday - 1


def _slots(first_day: date, days: int) -> NDArray[np.intp]:
    return np.array([_slot(first_day + timedelta(days=k)) for k in range(days)], dtype=np.intp)


def _circular_sum(values: Array, window: int) -> Array:
    half = window // 2
    padded = np.concatenate([values[-half:], values, values[:half]]) if half else values
    return np.convolve(padded, np.ones(2 * half + 1), mode="valid")
