"""Values of a station that cannot be: a rare one is taken as missing and said, many are a wrong column and refused.

In: columns of daily values as written, and the row of each. The columns are changed in place; the notes say what was.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from adapters.weather.station_marks import days_text
from shared.errors import Fault, WeatherUnavailable

# Beyond these a value is a slip of the pen or a missing-value code, not weather.
ALLOWED = {
    "rain_mm": (0.0, 500.0, "mm"), "tmax_c": (-60.0, 60.0, "degC"), "tmin_c": (-60.0, 60.0, "degC"),
    "solar_mj_m2": (0.0, 45.0, "MJ/m2"), "rh_max_pct": (0.0, 100.0, "%"), "rh_min_pct": (0.0, 100.0, "%"),
    "wind_m_s": (0.0, 60.0, "m/s"),
}  # fmt: skip
SLIPS_SHARE = 0.01
"""Of the days, at most, a value may be impossible by a slip of the station; more is a wrong column (assumption)."""
SHARES_DAYS = 10
"""So many days of humidity, none above 1 %, were written as shares of one."""

Floats = NDArray[np.float64]


def allowed_of(column: str) -> str:
    """Return what may stand in a column."""
    low, high, unit = ALLOWED[column]
    return f"a number from {low:g} to {high:g} {unit}, or empty where missing"


def without_slips(name: str, rows: Sequence[int], columns: Mapping[str, Floats]) -> list[str]:
    """Take rare impossible values as missing; return what to say of them.

    Raises
    ------
    WeatherUnavailable
        More than one day in a hundred is so, or humidity stands as a share of one.
    """
    notes = []
    for column, values in columns.items():
        _refuse_shares(name, column, values)
        low, high, _ = ALLOWED[column]
        with np.errstate(invalid="ignore"):
            wrong = np.flatnonzero((values < low) | (values > high))
        if not len(wrong):
            continue
        first = f"row {rows[wrong[0]]}"
        if len(wrong) > SLIPS_SHARE * len(rows):
            raise _refusal(
                name, f"{first}, {column}", values[wrong[0]], "cannot be right", allowed_of(column)
            )
        notes.append(
            f"{name}: {column} cannot be right on {days_text(len(wrong))} (first in {first}: {values[wrong[0]]:g}) and was taken as missing"
        )
        values[wrong] = np.nan
    return notes + _warm_nights(name, rows, columns)


def _refuse_shares(name: str, column: str, values: Floats) -> None:
    told = values[~np.isnan(values)]
    if column.startswith("rh_") and len(told) >= SHARES_DAYS and told.max() <= 1.0:
        problem = "is never above 1 and seems to be a share of one"
        raise _refusal(name, column, float(told.max()), problem, "percent, from 0 to 100")


def _warm_nights(name: str, rows: Sequence[int], columns: Mapping[str, Floats]) -> list[str]:
    """Take days as missing whose night is warmer than their day, and say so; refuse a file with many."""
    if not {"tmax_c", "tmin_c"} <= columns.keys():
        return []
    tmax, tmin = columns["tmax_c"], columns["tmin_c"]
    places = np.flatnonzero(tmin > tmax)
    if not len(places):
        return []
    first = int(places[0])
    if len(places) > SLIPS_SHARE * len(rows):
        problem = "is above tmax_c of the same day"
        raise _refusal(name, f"row {rows[first]}, tmin_c", tmin[first], problem, f"at most {tmax[first]:g}")
    columns["tmax_c"][places] = columns["tmin_c"][places] = np.nan
    return [
        f"{name}: tmin_c is above tmax_c on {days_text(len(places))} (first in row {rows[first]}); both were taken as missing"
    ]


def _refusal(name: str, key: str, value: float, problem: str, allowed: str) -> WeatherUnavailable:
    return WeatherUnavailable(Fault(name, key, f"{value:g}", problem, allowed).sentence())
