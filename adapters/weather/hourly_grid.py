"""From what services say to one hourly grid: intervals expanded, gaps filled or refused, wind brought to 2 m, sun from cloud."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from shared.errors import WeatherUnavailable
from shared.sun import extraterrestrial_hourly_mj_m2
from shared.weather_records import Place

Floats = NDArray[np.float64]
HOUR = timedelta(hours=1)
WIND_10_TO_2 = 4.87 / float(np.log(67.8 * 10.0 - 5.42))
"""FAO-56 Eq. 47."""
KM_H_TO_M_S = 1 / 3.6
LONGEST_GAP_H = 6
LIMITS = {
    # The most of an hour on record is about 300 mm (from memory); a mean over hours beyond this is a wrong unit.
    "rain_mm": (0.0, 150.0),
    "temp_c": (-60.0, 60.0),
    "rh_pct": (0.0, 105.0),
    "wind_m_s": (0.0, 90.0),
    "solar_mj_m2": (-0.01, 5.2),  # an hour of the solar constant is 4.9
}


def full_hour(moment: datetime) -> datetime:
    """Return the start of the hour [UTC]."""
    return moment.astimezone(UTC).replace(minute=0, second=0, microsecond=0)


def states(rows: list[tuple[datetime, float, float | None]], start: datetime, hours: int) -> Floats:
    """Return hourly states from (start, length in hours, value); hours nobody speaks of are NaN."""
    out = np.full(hours, np.nan)
    for at, length, value in rows:
        if value is None:
            continue
        a = int((at - start) // HOUR)
        b = a + max(1, round(length))
        out[max(0, a) : max(0, min(hours, b))] = float(value)
    return out


def checked(name: str, values: Floats, source: str) -> Floats:
    """Return values inside what can be; absurd ones are refused, since a bad unit spoils every plan.

    Raises
    ------
    WeatherUnavailable
        A value lies outside.
    """
    low, high = LIMITS[name]
    bad = np.isfinite(values) & ((values < low) | (values > high))
    if bad.any():
        raise WeatherUnavailable(
            f"{source} says {name} {float(values[bad].flat[0]):g}, which cannot be; its forecast is not used."
        )
    return values


def bridged(name: str, values: Floats, source: str) -> Floats:
    """Return values with short gaps filled straight across; the last known value goes on for as long.

    Raises
    ------
    WeatherUnavailable
        A gap longer than six hours.
    """
    missing = ~np.isfinite(values)
    if not missing.any():
        return values
    longest = run = 0
    for gap in missing:
        run = run + 1 if gap else 0
        longest = max(longest, run)
    if longest > LONGEST_GAP_H:
        raise WeatherUnavailable(
            f"{source} leaves out {longest} hours of {name}; allowed: at most {LONGEST_GAP_H}."
        )
    index = np.arange(len(values))
    return np.interp(index, index[~missing], values[~missing])


def sun_from_cloud(cloud: Floats, place: Place, start: datetime) -> Floats:
    """Return global radiation by hour [MJ/m2] from the share of sky covered (FAO-56 Eq. 35, a 0.25, b 0.50)."""
    moments = [start + (h + 0.5) * HOUR for h in range(len(cloud))]
    doy = np.array([m.timetuple().tm_yday for m in moments])
    middle = np.array([m.hour + m.minute / 60 for m in moments])
    above = extraterrestrial_hourly_mj_m2(place.latitude_deg, place.longitude_deg, doy, middle)
    return np.asarray(above * (0.25 + 0.50 * (1 - np.clip(cloud, 0, 1))), float)


__all__ = [
    "HOUR", "KM_H_TO_M_S", "WIND_10_TO_2", "bridged", "checked", "full_hour", "states",
    "sun_from_cloud",
]  # fmt: skip
