"""Reference evapotranspiration: how much water the air would take from a well-watered short grass.

In: temperature, humidity, wind, radiation, place. Out: ET0 [mm/day] or [mm/h]. Equation numbers are
those of FAO Irrigation and Drainage Paper 56 (Allen et al. 1998).
"""

from __future__ import annotations

from datetime import timedelta

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shared.missing_weather import clear_sky_share, days_of_year, fill_missing, saturation_vapour_kpa
from shared.sun import extraterrestrial_daily_mj_m2, extraterrestrial_hourly_mj_m2
from shared.weather_records import DailyWeather, HourlyWeather, Place

Floats = NDArray[np.float64]
STEFAN_BOLTZMANN_MJ = 4.903e-9
GRASS_ALBEDO = 0.23


def pressure_kpa(elevation_m: ArrayLike) -> Floats:
    """Atmospheric pressure P [kPa] (Eq. 7)."""
    return 101.3 * ((293 - 0.0065 * np.asarray(elevation_m, float)) / 293) ** 5.26


def psychrometric_kpa_c(elevation_m: ArrayLike) -> Floats:
    """Psychrometric constant [kPa/degC] (Eq. 8)."""
    return 0.665e-3 * pressure_kpa(elevation_m)


def vapour_slope_kpa_c(temp_c: ArrayLike) -> Floats:
    """Slope of the saturation vapour pressure curve [kPa/degC] (Eq. 13)."""
    temp = np.asarray(temp_c, float)
    return 4098 * saturation_vapour_kpa(temp) / (temp + 237.3) ** 2


def wind_at_2m(wind_m_s: ArrayLike, height_m: float) -> Floats:
    """Wind at 2 m [m/s] from a reading at `height_m` over short grass (Eq. 47)."""
    return np.asarray(wind_m_s, float) * 4.87 / np.log(67.8 * height_m - 5.42)


def net_longwave_daily_mj_m2(
    tmax_c: ArrayLike, tmin_c: ArrayLike, vapour_kpa: ArrayLike, clearness: ArrayLike
) -> Floats:
    """Net outgoing longwave radiation [MJ/m2/day] (Eq. 39); `clearness` is Rs/Rso, cut at 1."""
    warm, cold = np.asarray(tmax_c, float) + 273.16, np.asarray(tmin_c, float) + 273.16
    cloud = 1.35 * np.minimum(np.asarray(clearness, float), 1.0) - 0.35
    return STEFAN_BOLTZMANN_MJ * (warm**4 + cold**4) / 2 * (0.34 - 0.14 * np.sqrt(vapour_kpa)) * cloud


def et0_daily_mm(
    tmax_c: ArrayLike, tmin_c: ArrayLike, vapour_kpa: ArrayLike, wind_m_s: ArrayLike, solar_mj_m2: ArrayLike,
    latitude_deg: float, elevation_m: float, day_of_year: ArrayLike, soil_heat_mj_m2: ArrayLike = 0.0,
) -> Floats:  # fmt: skip
    """Daily reference evapotranspiration [mm/day] (Eq. 6).

    Parameters
    ----------
    tmax_c, tmin_c : array_like
        Extreme temperatures [degC].
    vapour_kpa : array_like
        Actual vapour pressure [kPa].
    wind_m_s : array_like
        Wind at 2 m [m/s].
    solar_mj_m2 : array_like
        Solar radiation [MJ/m2/day].
    latitude_deg, elevation_m : float
        Place.
    day_of_year : array_like
        1 to 366.
    soil_heat_mj_m2 : array_like
        Soil heat flux G [MJ/m2/day], 0 for single days.
    """
    above = extraterrestrial_daily_mj_m2(latitude_deg, day_of_year)
    clear = np.maximum(clear_sky_share(elevation_m) * above, 1e-6)
    solar, vapour = np.asarray(solar_mj_m2, float), np.asarray(vapour_kpa, float)
    net = (1 - GRASS_ALBEDO) * solar - net_longwave_daily_mj_m2(tmax_c, tmin_c, vapour, solar / clear)
    mean = (np.asarray(tmax_c, float) + np.asarray(tmin_c, float)) / 2
    saturated = (saturation_vapour_kpa(tmax_c) + saturation_vapour_kpa(tmin_c)) / 2
    energy = net - np.asarray(soil_heat_mj_m2, float)
    return _combine(energy, mean, saturated - vapour, wind_m_s, elevation_m, 900.0)


def et0_hourly_mm(
    temp_c: ArrayLike, vapour_kpa: ArrayLike, wind_m_s: ArrayLike, solar_mj_m2: ArrayLike,
    clearness: ArrayLike, elevation_m: float, daylight: ArrayLike,
) -> Floats:  # fmt: skip
    """Hourly reference evapotranspiration [mm/h] (Eqs. 53, 45, 46 and hourly 39).

    `clearness` is Rs/Rso of the hour or, at night, of the hours before sunset; `daylight` chooses between the
    soil heat flux of day (0.1 Rn) and night (0.5 Rn).
    """
    temp, vapour = np.asarray(temp_c, float), np.asarray(vapour_kpa, float)
    cloud = 1.35 * np.clip(np.asarray(clearness, float), 0.3, 1.0) - 0.35
    longwave = STEFAN_BOLTZMANN_MJ / 24 * (temp + 273.16) ** 4 * (0.34 - 0.14 * np.sqrt(vapour_kpa)) * cloud
    net = (1 - GRASS_ALBEDO) * np.asarray(solar_mj_m2, float) - longwave
    net = net * np.where(daylight, 0.9, 0.5)
    return _combine(net, temp, saturation_vapour_kpa(temp) - vapour, wind_m_s, elevation_m, 37.0)


def _combine(
    energy: Floats, temp: Floats, deficit: Floats, wind_m_s: ArrayLike, elevation_m: float, numerator: float
) -> Floats:
    """The combination equation shared by the daily (900) and hourly (37) forms."""
    slope, psy = vapour_slope_kpa_c(temp), psychrometric_kpa_c(elevation_m)
    wind = np.asarray(wind_m_s, float)
    top = 0.408 * slope * energy + psy * numerator / (temp + 273) * wind * deficit
    return top / (slope + psy * (1 + 0.34 * wind))


def hargreaves_mm(tmax_c: ArrayLike, tmin_c: ArrayLike, extraterrestrial_mj_m2: ArrayLike) -> Floats:
    """Daily ET0 [mm/day] from temperature alone (Eq. 52)."""
    tmax, tmin = np.asarray(tmax_c, float), np.asarray(tmin_c, float)
    mean, span = (tmax + tmin) / 2, np.sqrt(np.maximum(tmax - tmin, 0))
    return 0.0023 * (mean + 17.8) * span * 0.408 * np.asarray(extraterrestrial_mj_m2, float)


def et0_of_days(days: DailyWeather, place: Place) -> Floats:
    """Daily ET0 (members, days) [mm], missing quantities filled by the FAO-56 rules, never below 0."""
    full = fill_missing(days, place)
    at_max, at_min = saturation_vapour_kpa(full.tmax_c), saturation_vapour_kpa(full.tmin_c)
    assert full.rh_max_pct is not None and full.rh_min_pct is not None
    assert full.wind_m_s is not None and full.solar_mj_m2 is not None
    vapour = (at_min * full.rh_max_pct + at_max * full.rh_min_pct) / 200
    values = et0_daily_mm(
        full.tmax_c, full.tmin_c, vapour, full.wind_m_s, full.solar_mj_m2,
        place.latitude_deg, place.elevation_m, days_of_year(full)[None, :],
    )  # fmt: skip
    return np.maximum(values, 0.0)


def hour_stamps(weather: HourlyWeather) -> tuple[NDArray[np.int64], Floats]:
    """Day of the year (UTC) and middle of the hour [h UTC] of every hour of a record."""
    start = np.datetime64(
        weather.start_utc.replace(tzinfo=None) - (weather.start_utc.utcoffset() or timedelta())
    )
    moments = start.astype("datetime64[h]") + np.arange(weather.hours)
    days = moments.astype("datetime64[D]")
    doy = (days - days.astype("datetime64[Y]").astype("datetime64[D]")).astype(np.int64) + 1
    return doy, (moments - days.astype("datetime64[h]")).astype(float) + 0.5


def et0_of_hours(weather: HourlyWeather, place: Place) -> Floats:
    """Hourly ET0 (members, hours) [mm], never below 0 (dew is not added to the soil)."""
    doy, middle = hour_stamps(weather)
    above = extraterrestrial_hourly_mj_m2(place.latitude_deg, place.longitude_deg, doy, middle)
    clear = clear_sky_share(place.elevation_m) * above
    vapour = saturation_vapour_kpa(weather.temp_c) * np.clip(weather.rh_pct, 1, 100) / 100
    clearness = _held_clearness(weather.solar_mj_m2, clear)
    values = et0_hourly_mm(
        weather.temp_c, vapour, weather.wind_m_s, weather.solar_mj_m2, clearness, place.elevation_m,
        above[None, :] > 0,
    )  # fmt: skip
    return np.maximum(values, 0.0)


def _held_clearness(solar: Floats, clear: Floats, low_sun_mj: float = 0.35) -> Floats:
    """Rs/Rso per hour; where the sun is low or down, the last value of a higher sun is held (p. 75)."""
    usable = clear > low_sun_mj
    ratio = np.where(usable, solar / np.where(usable, clear, 1.0), 0.6)
    last = np.maximum.accumulate(np.where(usable, np.arange(len(clear)), -1))
    held = ratio[:, np.maximum(last, 0)]
    return np.where(last >= 0, held, 0.6)
