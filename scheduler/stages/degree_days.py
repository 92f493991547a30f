"""How much heat a day gives a crop, from its extremes of air temperature.

Input: daily maximum and minimum in degC (or hourly weather, cut into local days). Output: degree-days per
day.

References
----------
.. [1] Gilmore E.C. & Rogers J.S. (1958), Agron. J. 50:611-615: the "effective degrees" of the 86/50 method.
.. [2] Nielsen R.L., Purdue University, "Heat Unit Concepts Related to Corn Development": the method as used
   in Indiana and its worked examples.
.. [3] McMaster G.S. & Wilhelm W.W. (1997), Agric. For. Meteorol. 87:291-300: one equation, two readings.
   Here both extremes are clipped (their method 2) for the 86/50 rule, and only the mean is clipped (method
   1) for the others.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shared.weather_records import DailyWeather, HourlyWeather

Array = NDArray[np.float64]

CORN_BASE_F = 50.0
CORN_CEILING_F = 86.0


@dataclass(frozen=True)
class HeatRule:
    """A way to turn a day's extremes into degree-days.

    Attributes
    ----------
    name : str
        Short name, shown to people.
    unit : str
        ``degF-day`` or ``degC-day``.
    base_c : float
        Temperature below which nothing grows [degC].
    ceiling_c : float or None
        Temperature above which more heat does not help [degC]; None for no ceiling.
    """

    name: str
    unit: str
    base_c: float
    ceiling_c: float | None = None

    def daily(self, tmax_c: ArrayLike, tmin_c: ArrayLike) -> Array:
        """Return degree-days per day in `unit`; NaN where a temperature is missing. Any shape."""
        if self.unit == "degF-day":
            return degree_days_f(tmax_c, tmin_c, self.base_c, self.ceiling_c)
        return degree_days_c(tmax_c, tmin_c, self.base_c)


def degree_days_f(
    tmax_c: ArrayLike,
    tmin_c: ArrayLike,
    base_c: float = (CORN_BASE_F - 32.0) / 1.8,
    ceiling_c: float | None = (CORN_CEILING_F - 32.0) / 1.8,
) -> Array:
    """Return growing degree-days of the 86/50 method [degF-day].

    ``(min(max(Tmax, 50), 86) + max(min(Tmin, 86), 50)) / 2 - 50`` with temperatures in degF [1]_ [2]_.

    Parameters
    ----------
    tmax_c, tmin_c : array-like
        Daily extremes of air temperature [degC]; any (broadcastable) shape. Not rounded: a service that
        rounds to whole degF first may differ by up to half a degree-day a day.
    base_c, ceiling_c : float
        Lower and upper limit [degC]; 50 and 86 degF by default.
    """
    top = np.inf if ceiling_c is None else ceiling_c
    high = np.clip(np.asarray(tmax_c, dtype=np.float64), base_c, top)
    low = np.clip(np.asarray(tmin_c, dtype=np.float64), base_c, top)
    return np.asarray(((high + low) / 2.0 - base_c) * 1.8)


def degree_days_c(tmax_c: ArrayLike, tmin_c: ArrayLike, base_c: float) -> Array:
    """Return growing degree-days above a base, mean of the extremes clipped at zero [degC-day] [3]_."""
    mean = (np.asarray(tmax_c, dtype=np.float64) + np.asarray(tmin_c, dtype=np.float64)) / 2.0
    return np.asarray(np.maximum(mean - base_c, 0.0))


GDD_86_50 = HeatRule("86/50", "degF-day", (CORN_BASE_F - 32.0) / 1.8, (CORN_CEILING_F - 32.0) / 1.8)
#: Base 4.4 degC (40 degF) is the usual base for cereal rye in spring; 0 degC is used for wheat-like cereals.
RYE_BASE_4_4 = HeatRule("base 4.4 degC", "degC-day", 4.4)
RYE_BASE_0 = HeatRule("base 0 degC", "degC-day", 0.0)


def daily_heat(days: DailyWeather, rule: HeatRule = GDD_86_50) -> Array:
    """Return degree-days per day (members, days) [unit of `rule`]; NaN where a temperature is missing."""
    return rule.daily(days.tmax_c, days.tmin_c)


def daily_extremes(weather: HourlyWeather, time_zone: str, min_hours: int = 23) -> DailyWeather:
    """Cut hourly weather into local calendar days.

    Parameters
    ----------
    weather : HourlyWeather
        Hourly record in UTC.
    time_zone : str
        IANA name of the farm's zone, e.g. ``America/Chicago``; summer time is honoured.
    min_hours : int
        A first or last day with fewer hours than this is left out: its extremes are not those of the day.

    Returns
    -------
    DailyWeather
        Extremes of the *hourly means* (a little inside the true extremes), rain and solar totals, mean wind.
        A day with a missing hour keeps the extremes of the others; totals of such a day are NaN.
    """
    zone = ZoneInfo(time_zone)
    starts, counts, dates = _local_days(weather.start_utc, weather.hours, zone)
    keep = [k for k, hours in enumerate(counts) if hours >= min_hours]
    if not keep:
        raise ValueError(f"the weather holds no local day of at least {min_hours} hours")
    first, last = keep[0], keep[-1]
    cut = starts[first : last + 1]
    end = starts[last] + counts[last]

    def fold(values: Array, how: np.ufunc) -> Array:
        return np.asarray(how.reduceat(values[:, :end], cut, axis=1), dtype=np.float64)

    hours = np.asarray(counts[first : last + 1], dtype=np.float64)
    return DailyWeather(
        first_day=dates[first],
        rain_mm=fold(weather.rain_mm, np.add),
        tmax_c=fold(weather.temp_c, np.fmax),
        tmin_c=fold(weather.temp_c, np.fmin),
        solar_mj_m2=fold(weather.solar_mj_m2, np.add),
        rh_max_pct=fold(weather.rh_pct, np.fmax),
        rh_min_pct=fold(weather.rh_pct, np.fmin),
        wind_m_s=fold(weather.wind_m_s, np.add) / hours,
        source=weather.source,
        issued_at=weather.issued_at,
        notes=weather.notes,
    )


def _local_days(start_utc: datetime, hours: int, zone: ZoneInfo) -> tuple[list[int], list[int], list[date]]:
    """Return first hour index, number of hours and date of every local day the record touches."""
    starts: list[int] = []
    counts: list[int] = []
    dates: list[date] = []
    at = start_utc.astimezone(UTC)
    k = 0
    while k < hours:
        local = (at + timedelta(hours=k)).astimezone(zone)
        midnight = datetime(local.year, local.month, local.day, tzinfo=zone) + timedelta(days=1)
        left = -(-(midnight.astimezone(UTC) - (at + timedelta(hours=k))) // timedelta(hours=1))
        take = min(int(left), hours - k)
        starts.append(k)
        counts.append(take)
        dates.append(local.date())
        k += take
    return starts, counts, dates
