"""Days as sources of history tell them, made one record: in SI, possible, without a gap; nothing is filled."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from shared.errors import WeatherUnavailable
from shared.weather_records import DailyWeather

NEEDED = ("rain_mm", "tmax_c", "tmin_c")
MORE = ("solar_mj_m2",)
LIMITS = {
    "rain_mm": (0.0, 500.0),
    "tmax_c": (-60.0, 60.0),
    "tmin_c": (-60.0, 60.0),
    "solar_mj_m2": (0.0, 45.0),
}
Days = dict[date, dict[str, float]]
"""Day -> quantity -> value; what is missing is left out."""


def series(found: Days, first: date, last: date, source: str) -> DailyWeather:
    """Return the days from the first to the last that are known without a gap.

    Raises
    ------
    WeatherUnavailable
        The first day is not known, or a value cannot be.
    """
    day = first
    while day <= last and all(name in found.get(day, {}) for name in NEEDED):
        _check(day, found[day], source)
        day += timedelta(days=1)
    dates = [first + timedelta(days=k) for k in range((day - first).days)]
    if not dates:
        raise WeatherUnavailable(f"{source} knows nothing of {first}.")

    def row(name: str) -> NDArray[np.float64]:
        return np.array([[found[d].get(name, np.nan) for d in dates]])

    solar = row("solar_mj_m2")
    notes = () if day > last else (f"{source} ends on {dates[-1]}",)
    return DailyWeather(
        first, row("rain_mm"), row("tmax_c"), row("tmin_c"), solar_mj_m2=solar if np.isfinite(solar).any() else None,
        source=source, notes=notes,
    )  # fmt: skip


def _check(day: date, values: dict[str, float], source: str) -> None:
    for name in (*NEEDED, *MORE):
        low, high = LIMITS[name]
        if name in values and not low <= values[name] <= high:
            raise WeatherUnavailable(
                f"{source} says {name} {values[name]:g} on {day}, which cannot be; its days are not used."
            )
    if values["tmin_c"] > values["tmax_c"] + 0.1:
        raise WeatherUnavailable(
            f"{source} says tmin_c {values['tmin_c']:g} above tmax_c {values['tmax_c']:g} on {day}, which cannot be."
        )
    values["tmin_c"] = min(values["tmin_c"], values["tmax_c"])


__all__ = ["NEEDED", "Days", "series"]
