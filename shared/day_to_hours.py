"""Daily weather spread over the hours of the local day, by one stated rule per quantity.

Question answered: what does a day of which only totals and extremes are known look like hour by hour?
In: local days. Out: hours in UTC, every day's rain and radiation kept to the last digit.

Rules (each a default of this program; none is a measurement):

- temperature: sine from the minimum at sunrise to the maximum two hours and a half after solar noon,
  cosine down to the next minimum (the double-sine day of de Wit et al. 1978, from memory);
- radiation: shared out as the radiation above the atmosphere (FAO-56 Eqs. 28 to 31);
- humidity: constant vapour pressure over the day, relative humidity from the hour's temperature;
- wind: a daily wave of 35 % around the mean, strongest at 16:00, weakest at 04:00 local standard time;
- rain: in its own hours where the source names them; else at 3 mm/h or slower, in one spell of at least
  one and at most twelve hours around `rain_centre_h`.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from shared.missing_weather import days_of_year, fill_missing, saturation_vapour_kpa
from shared.sun import (
    day_length_h,
    equation_of_time_h,
    extraterrestrial_hourly_mj_m2,
)
from shared.weather_records import DailyWeather, HourlyWeather, Place

WARMEST_AFTER_NOON_H = 2.5
WIND_WAVE = 0.35
WINDIEST_H = 16.0
RAIN_CENTRE_H = 4.0
USUAL_RAIN_RATE_MM_H = 3.0
LONGEST_RAIN_H = 12.0

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def hours_from_days(
    days: DailyWeather, place: Place, time_zone: str, rain_centre_h: float = RAIN_CENTRE_H
) -> HourlyWeather:
    """Spread daily weather over the hours of its local days.

    Parameters
    ----------
    days : DailyWeather
        Rain and temperatures complete; the rest is filled by the rules of `shared.missing_weather`.
    place : Place
        Latitude, longitude, elevation.
    time_zone : str
        Zone of the local days, e.g. ``America/Chicago``; a day of the clock change has 23 or 25 hours.
    rain_centre_h : float
        Local hour around which rain of unknown hour is put [h].

    Returns
    -------
    HourlyWeather
        From local midnight of the first day to local midnight after the last; `notes` say what was assumed.
    """
    full = fill_missing(days, place)
    start, first_hour, day_of_hour, clock_h = local_hours(days, time_zone)
    hours_in_day = np.diff(np.append(first_hour, len(day_of_hour)))
    doy = days_of_year(days)[day_of_hour]
    middle_utc_h = (start.hour + np.arange(len(day_of_hour)) + 0.5) % 24
    solar_h = (middle_utc_h + place.longitude_deg / 15 + equation_of_time_h(doy)) % 24
    temp = _temperature(full, place, doy, day_of_hour, solar_h)
    light = extraterrestrial_hourly_mj_m2(place.latitude_deg, place.longitude_deg, doy, middle_utc_h)
    solar = _share_out(_filled(full.solar_mj_m2), light, day_of_hour, first_hour)
    humidity = _humidity(full, temp, day_of_hour)
    wave = 1 + WIND_WAVE * np.cos(2 * np.pi * (clock_h + 0.5 - WINDIEST_H) / 24)
    wind = _filled(full.wind_m_s)[:, day_of_hour] * wave
    rain, rain_note = _rain(days, day_of_hour, clock_h, first_hour, hours_in_day, rain_centre_h)
    return HourlyWeather(
        start_utc=start, rain_mm=rain, temp_c=temp, rh_pct=humidity, wind_m_s=wind, solar_mj_m2=solar,
        source=days.source, issued_at=days.issued_at,
        notes=(*full.notes, "daily values were spread over the hours of the day by rule", *rain_note),
    )  # fmt: skip


def local_hours(days: DailyWeather, time_zone: str) -> tuple[datetime, Ints, Ints, Floats]:
    """Return the first hour [UTC], the first hour of each day, the day of each hour and its clock hour.

    Zones that are off by part of an hour are rounded down to full hours.
    """
    zone = ZoneInfo(time_zone)
    midnights = [
        datetime(day.year, day.month, day.day, tzinfo=zone).astimezone(UTC)
        for day in (*days.dates(), days.first_day + timedelta(days=days.days))
    ]
    start = midnights[0].replace(minute=0, second=0, microsecond=0)
    edges = np.array([(moment - start) // timedelta(hours=1) for moment in midnights], dtype=np.int64)
    lengths = np.diff(edges)
    day_of_hour = np.repeat(np.arange(days.days), lengths)
    clock_h = (np.arange(edges[-1]) - edges[:-1][day_of_hour]).astype(float)
    return start, edges[:-1], day_of_hour, clock_h


def _filled(values: Floats | None) -> Floats:
    """Narrow a field that `fill_missing` has completed."""
    if values is None:
        raise ValueError("fill_missing left a quantity empty")
    return np.asarray(values, float)


def _temperature(full: DailyWeather, place: Place, doy: Ints, day: Ints, solar_h: Floats) -> Floats:
    """Hourly temperature (members, hours) [degC] that touches each day's extremes."""
    half_day = day_length_h(place.latitude_deg, doy) / 2
    rise, peak = 12 - half_day, 12 + WARMEST_AFTER_NOON_H
    last = full.days - 1
    # Near local midnight the solar day may differ from the calendar day by an hour: harmless for a smooth
    # curve.
    before, after = np.maximum(day - 1, 0), np.minimum(day + 1, last)
    low, high = full.tmin_c[:, day], full.tmax_c[:, day]
    climbing = low + (high - low) * np.sin(np.pi / 2 * np.clip((solar_h - rise) / (peak - rise), 0, 1))
    night = 24 - peak + rise
    evening = np.clip((solar_h - peak) / night, 0, 1)
    morning = np.clip((solar_h + 24 - peak) / night, 0, 1)
    falling = full.tmin_c[:, after] + (high - full.tmin_c[:, after]) * (1 + np.cos(np.pi * evening)) / 2
    waking = low + (full.tmax_c[:, before] - low) * (1 + np.cos(np.pi * morning)) / 2
    return np.where(solar_h < rise, waking, np.where(solar_h < peak, climbing, falling))


def _humidity(full: DailyWeather, temp: Floats, day: Ints) -> Floats:
    """Relative humidity (members, hours) [%] at the day's mean vapour pressure (FAO-56 Eq. 17)."""
    at_max, at_min = saturation_vapour_kpa(full.tmax_c), saturation_vapour_kpa(full.tmin_c)
    vapour = (at_min * _filled(full.rh_max_pct) + at_max * _filled(full.rh_min_pct)) / 200
    return np.clip(100 * vapour[:, day] / saturation_vapour_kpa(temp), 1, 100)


def _share_out(totals: Floats, weight: Floats, day: Ints, first_hour: Ints) -> Floats:
    """Split daily totals (members, days) over hours in proportion to `weight` (hours,)."""
    sums = np.add.reduceat(weight, first_hour)[day]
    even = 1 / np.maximum(np.bincount(day)[day], 1)
    share = np.where(sums > 0, weight / np.where(sums > 0, sums, 1), even)
    return totals[:, day] * share


def _rain(
    days: DailyWeather, day: Ints, clock_h: Floats, first_hour: Ints, hours_in_day: Ints, centre_h: float
) -> tuple[Floats, tuple[str, ...]]:
    """Hourly rain (members, hours) [mm] and a note where its hours were assumed."""
    total = np.nan_to_num(days.rain_mm)
    length = np.clip(total / USUAL_RAIN_RATE_MM_H, 1.0, LONGEST_RAIN_H)
    begin = np.clip(centre_h - length / 2, 0, 24 - length)
    assumed = total > 0
    if days.rain_from_h is not None and days.rain_hours is not None:
        known = ~np.isnan(days.rain_from_h) & (np.nan_to_num(days.rain_hours) > 0)
        length = np.where(known, np.minimum(np.nan_to_num(days.rain_hours, nan=1.0), 24.0), length)
        begin = np.where(known, np.clip(np.nan_to_num(days.rain_from_h), 0, 24 - length), begin)
        assumed &= ~known
    shrink = (hours_in_day / 24)[None, :]
    begin, end = (begin * shrink)[:, day], ((begin + length) * shrink)[:, day]
    overlap = np.maximum(np.minimum(clock_h + 1, end) - np.maximum(clock_h, begin), 0)
    rain = total[:, day] * overlap / (end - begin)
    note = f"hours of rain assumed around {centre_h:g}:00 on {int(assumed.sum())} days"
    return rain, ((note,) if assumed.any() else ())
