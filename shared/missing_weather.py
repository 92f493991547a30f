"""What to assume for a day's sun, humidity and wind where a station does not measure them.

The rules are those of FAO Irrigation and Drainage Paper 56 (Allen et al. 1998), chapter 3: dew point at
the minimum temperature (Eq. 48), radiation from the range of temperature (Eq. 50), wind of 2 m/s. In:
daily series. Out: the same with every gap filled, and one sentence for each thing that was filled.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shared.sun import extraterrestrial_daily_mj_m2
from shared.weather_records import DailyWeather, Place

Floats = NDArray[np.float64]
INTERIOR_RADIATION_COEFFICIENT = 0.16
ASSUMED_WIND_M_S = 2.0


def saturation_vapour_kpa(temp_c: ArrayLike) -> Floats:
    """Saturation vapour pressure e0 [kPa] at a temperature [degC] (Eq. 11)."""
    temp = np.asarray(temp_c, float)
    return 0.6108 * np.exp(17.27 * temp / (temp + 237.3))


def clear_sky_share(elevation_m: float) -> float:
    """Share of extraterrestrial radiation on a cloudless day (Eq. 37)."""
    return 0.75 + 2e-5 * elevation_m


def radiation_from_temperature_mj_m2(
    tmax_c: ArrayLike,
    tmin_c: ArrayLike,
    extraterrestrial_mj_m2: ArrayLike,
    coefficient: float = INTERIOR_RADIATION_COEFFICIENT,
) -> Floats:
    """Daily solar radiation [MJ/m2] from the range of temperature (Eq. 50), before the clear-sky cap."""
    span = np.maximum(np.asarray(tmax_c, float) - np.asarray(tmin_c, float), 0.0)
    return coefficient * np.sqrt(span) * np.asarray(extraterrestrial_mj_m2, float)


def days_of_year(days: DailyWeather) -> NDArray[np.int64]:
    """Day of the year of every day of the record (days,)."""
    first = np.datetime64(days.first_day)
    stamps = first + np.arange(days.days)
    return (stamps - stamps.astype("datetime64[Y]").astype("datetime64[D]")).astype(np.int64) + 1


def fill_missing(days: DailyWeather, place: Place) -> DailyWeather:
    """Return `days` with radiation, humidity and wind complete, and notes that say what was filled.

    Rain and temperatures must be complete. Humidity is returned as both extremes; where only one is known the
    other follows from the same dew point.
    """
    shape = days.rain_mm.shape
    above = extraterrestrial_daily_mj_m2(place.latitude_deg, days_of_year(days))[None, :]
    empty = np.full(shape, np.nan)
    solar = empty if days.solar_mj_m2 is None else np.asarray(days.solar_mj_m2, float)
    wind = empty if days.wind_m_s is None else np.asarray(days.wind_m_s, float)
    rh_max = empty if days.rh_max_pct is None else np.asarray(days.rh_max_pct, float)
    rh_min = empty if days.rh_min_pct is None else np.asarray(days.rh_min_pct, float)
    vapour = _vapour_kpa(days, rh_max, rh_min)
    full_max = np.minimum(100.0, 100 * vapour / saturation_vapour_kpa(days.tmin_c))
    full_min = np.minimum(full_max, 100 * vapour / saturation_vapour_kpa(days.tmax_c))
    estimate = radiation_from_temperature_mj_m2(days.tmax_c, days.tmin_c, above)
    estimate = np.minimum(estimate, clear_sky_share(place.elevation_m) * above)
    notes = list(days.notes)
    for name, values, rule in (
        (
            "solar radiation",
            solar,
            "estimated from the range of temperature (FAO-56 Eq. 50, coefficient 0.16)",
        ),
        (
            "humidity",
            rh_max + rh_min,
            "estimated with the dew point at the minimum temperature (FAO-56 Eq. 48)",
        ),
        ("wind", wind, "taken as 2 m/s (FAO-56 chapter 3)"),
    ):
        count = int(np.isnan(values).sum())
        if count:
            notes.append(f"{name} {rule} on {count} of {values.size} days")
    return replace(
        days,
        solar_mj_m2=np.where(np.isnan(solar), estimate, solar),
        rh_max_pct=np.where(np.isnan(rh_max), full_max, rh_max),
        rh_min_pct=np.where(np.isnan(rh_min), full_min, rh_min),
        wind_m_s=np.where(np.isnan(wind), ASSUMED_WIND_M_S, wind),
        notes=tuple(dict.fromkeys(notes)),
    )


def _vapour_kpa(days: DailyWeather, rh_max: Floats, rh_min: Floats) -> Floats:
    """Actual vapour pressure [kPa]: Eq. 17 from both extremes, Eq. 18 from the maximum, else Eq. 48."""
    at_max, at_min = saturation_vapour_kpa(days.tmax_c), saturation_vapour_kpa(days.tmin_c)
    both = (at_min * rh_max + at_max * rh_min) / 200
    one = np.where(np.isnan(rh_max), at_max * rh_min / 100, at_min * rh_max / 100)
    return np.where(np.isnan(both), np.where(np.isnan(one), at_min, one), both)
