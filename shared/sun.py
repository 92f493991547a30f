"""Where the sun stands: day length, sunrise and sunset, and the radiation that reaches the top of the air.

Question answered: how much sun could a place get on a date or in an hour? In: latitude, day of the
year, hours. Out: radiation [MJ/m2], hours, local times. Equation numbers are those of FAO Irrigation
and Drainage Paper 56 (Allen et al. 1998), chapter 3.
"""

from __future__ import annotations

import math
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shared.weather_records import Place

SOLAR_CONSTANT_MJ_M2_MIN = 0.0820
# Sun's centre 0.833 degrees below the horizon: refraction and half the disc, as almanacs count sunrise.
ALMANAC_HORIZON_DEG = -0.833

Floats = NDArray[np.float64]


def declination_rad(day_of_year: ArrayLike) -> Floats:
    """Solar declination [rad] (Eq. 24)."""
    return 0.409 * np.sin(2 * np.pi / 365 * np.asarray(day_of_year, float) - 1.39)


def inverse_distance(day_of_year: ArrayLike) -> Floats:
    """Inverse relative distance earth-sun [-] (Eq. 23)."""
    return 1 + 0.033 * np.cos(2 * np.pi / 365 * np.asarray(day_of_year, float))


def sunset_angle_rad(latitude_deg: float, day_of_year: ArrayLike) -> Floats:
    """Sunset hour angle [rad] (Eq. 25), 0 in polar night and pi in polar day."""
    latitude = math.radians(latitude_deg)
    return np.arccos(np.clip(-math.tan(latitude) * np.tan(declination_rad(day_of_year)), -1, 1))


def day_length_h(latitude_deg: float, day_of_year: ArrayLike) -> Floats:
    """Daylight hours N [h] (Eq. 34)."""
    return 24 / np.pi * sunset_angle_rad(latitude_deg, day_of_year)


def extraterrestrial_daily_mj_m2(latitude_deg: float, day_of_year: ArrayLike) -> Floats:
    """Daily radiation above the atmosphere Ra [MJ/m2/day] (Eq. 21)."""
    latitude, tilt = math.radians(latitude_deg), declination_rad(day_of_year)
    sunset = sunset_angle_rad(latitude_deg, day_of_year)
    path = sunset * math.sin(latitude) * np.sin(tilt) + math.cos(latitude) * np.cos(tilt) * np.sin(sunset)
    return 24 * 60 / np.pi * SOLAR_CONSTANT_MJ_M2_MIN * inverse_distance(day_of_year) * path


def equation_of_time_h(day_of_year: ArrayLike) -> Floats:
    """Seasonal correction of solar time Sc [h] (Eqs. 32 and 33)."""
    b = 2 * np.pi * (np.asarray(day_of_year, float) - 81) / 364
    return 0.1645 * np.sin(2 * b) - 0.1255 * np.cos(b) - 0.025 * np.sin(b)


def extraterrestrial_hourly_mj_m2(
    latitude_deg: float, longitude_deg: float, day_of_year: ArrayLike, middle_utc_h: ArrayLike
) -> Floats:
    """Radiation above the atmosphere in one hour [MJ/m2/h] (Eqs. 28 to 31), cut to the time the sun is up.

    Parameters
    ----------
    latitude_deg, longitude_deg : float
        Degrees, north and east positive.
    day_of_year : array_like
        1 to 366.
    middle_utc_h : array_like
        Middle of the hour, UTC [h].
    """
    latitude, tilt = math.radians(latitude_deg), declination_rad(day_of_year)
    solar_h = np.asarray(middle_utc_h, float) + longitude_deg / 15 + equation_of_time_h(day_of_year)
    middle = np.pi / 12 * ((solar_h - 12 + 12) % 24 - 12)
    sunset = sunset_angle_rad(latitude_deg, day_of_year)
    first = np.clip(middle - np.pi / 24, -sunset, sunset)
    last = np.clip(middle + np.pi / 24, -sunset, sunset)
    path = (last - first) * math.sin(latitude) * np.sin(tilt) + math.cos(latitude) * np.cos(tilt) * (
        np.sin(last) - np.sin(first)
    )
    return np.maximum(12 * 60 / np.pi * SOLAR_CONSTANT_MJ_M2_MIN * inverse_distance(day_of_year) * path, 0.0)


def sun_times(day: date, place: Place, time_zone: str) -> tuple[datetime, datetime] | None:
    """Sunrise and sunset of a local date, or None where the sun does not rise or set that day.

    Parameters
    ----------
    day : date
        Local calendar day.
    place : Place
        Latitude and longitude are used.
    time_zone : str
        Name of the zone the answer is wanted in, e.g. ``America/Chicago``.

    Notes
    -----
    Declination and equation of time as above, horizon at -0.833 degrees. Within about 3 minutes of almanac
    values at the latitudes of the Corn Belt.
    """
    day_of_year = day.timetuple().tm_yday
    latitude, tilt = math.radians(place.latitude_deg), float(declination_rad(day_of_year))
    cosine = (math.sin(math.radians(ALMANAC_HORIZON_DEG)) - math.sin(latitude) * math.sin(tilt)) / (
        math.cos(latitude) * math.cos(tilt)
    )
    if not -1 < cosine < 1:
        return None
    half_day_h = 12 / math.pi * math.acos(cosine)
    noon_utc_h = 12 - place.longitude_deg / 15 - float(equation_of_time_h(day_of_year))
    midnight_utc = datetime(day.year, day.month, day.day, tzinfo=ZoneInfo("UTC"))
    zone = ZoneInfo(time_zone)
    rise, fall = (
        (midnight_utc + timedelta(hours=noon_utc_h + sign * half_day_h)).astimezone(zone) for sign in (-1, 1)
    )
    return rise, fall
