"""Days that a station does not tell: short gaps are filled and said, at long ones the record is parted.

In: a table of daily values in order, NaN where nothing was told. Out: `DailyWeather` without a gap, one for each stretch; every
filled day is counted in the notes. Records that begin anew each spring, or lack months, are read so too: the ground starts anew
after a hole, for what fell in it is not known.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from adapters.weather.station_marks import days_text
from shared.errors import Fault, WeatherUnavailable
from shared.weather_records import DailyWeather

OPTIONAL = ("solar_mj_m2", "rh_max_pct", "rh_min_pct", "wind_m_s")
STRAIGHT_D = 5
"""Temperatures missing on so many days in a row are interpolated; longer gaps take those days of the other years."""
LONGEST_GAP_D = 31
"""A longer gap parts the record (assumption: the soil forgets a month's guess no faster)."""
NEAR_D = 7
"""Days of the other years so near in the calendar stand for a missing one."""

Floats = NDArray[np.float64]
Columns = dict[str, Floats]


@dataclass(frozen=True)
class DailyTable:
    """Days as a file tells them, in order, NaN where nothing was told.

    Attributes
    ----------
    name : str
        Of the file.
    ordinals : array (days,)
        Proleptic ordinals of the days told, ascending.
    columns : mapping of str to array (days,)
        ``rain_mm`` and others [named units].
    notes : tuple of str
        What was read otherwise than written.
    """

    name: str
    ordinals: NDArray[np.int64]
    columns: Mapping[str, Floats]
    notes: tuple[str, ...] = ()


def stretches(table: DailyTable) -> list[DailyWeather]:
    """Return the stretches between long gaps, each whole, in order; the notes stand with the first.

    Raises
    ------
    WeatherUnavailable
        Rain or a temperature is empty on every day.
    """
    _check_told(table)
    known = ~np.isnan(table.columns["tmax_c"]) & ~np.isnan(table.columns["tmin_c"])
    known &= ~np.isnan(table.columns["rain_mm"])
    steps = np.diff(table.ordinals[known])
    firsts = np.concatenate([[0], np.flatnonzero(steps > LONGEST_GAP_D + 1) + 1])
    lasts = np.concatenate([firsts[1:] - 1, [known.sum() - 1]])
    told = table.ordinals[known]
    filling = _Filling(table)
    rows = {int(day) for day in table.ordinals}
    spans = [
        (_outward(int(told[a]), rows, -1), _outward(int(told[b]), rows, 1))
        for a, b in zip(firsts, lasts, strict=True)
    ]
    found = [filling.whole(first, last) for first, last in spans]
    notes = (*table.notes, *filling.notes(), *_parted(table.name, spans), *_ends(table, spans))
    return [replace(found[0], notes=notes), *found[1:]]


def _check_told(table: DailyTable) -> None:
    for column, allowed in (
        ("rain_mm", "rain in mm"),
        ("tmax_c", "temperatures in degC"),
        ("tmin_c", "temperatures in degC"),
    ):
        if np.isnan(table.columns[column]).all():
            raise WeatherUnavailable(
                Fault(table.name, column, "", "is empty on every day", allowed).sentence()
            )
    if np.isnan(sum(table.columns[column] for column in ("rain_mm", "tmax_c", "tmin_c"))).all():
        problem = "are on no day told together"
        raise WeatherUnavailable(
            Fault(table.name, "rain_mm, tmax_c, tmin_c", "", problem, "days with all three").sentence()
        )


def _outward(day: int, rows: set[int], step: int) -> int:
    """Return the outermost day that goes on without a hole from here in a few rows that tell a part only."""
    end = day
    while end + step in rows and abs(end + step - day) <= STRAIGHT_D:
        end += step
    return end


def _parted(name: str, spans: list[tuple[int, int]]) -> list[str]:
    """Return what to say of the holes at which the record was parted, the longest lists cut."""
    holes = [
        f"{date.fromordinal(before + 1)} to {date.fromordinal(after - 1)}"
        for (_, before), (after, _) in pairwise(spans)
    ]
    if not holes:
        return []
    shown = ", ".join(holes[:3]) + (f" and {len(holes) - 3} more" if len(holes) > 3 else "")
    return [f"{name}: no weather from {shown}; after each the ground starts anew, at field capacity"]


def _ends(table: DailyTable, spans: list[tuple[int, int]]) -> list[str]:
    """Return what to say of rows before the first and behind the last day of which all is known."""
    before = int((table.ordinals < spans[0][0]).sum())
    behind = int((table.ordinals > spans[-1][1]).sum())
    out = []
    if before:
        out.append(f"{days_text(before)} before {date.fromordinal(spans[0][0])}")
    if behind:
        out.append(f"{days_text(behind)} after {date.fromordinal(spans[-1][1])}")
    told = " and ".join(out)
    return [f"{table.name}: {told} lack rain or temperatures and were left out"] if out else []


class _Filling:
    """Fills the gaps of one table's stretches, and counts what it filled."""

    def __init__(self, table: DailyTable) -> None:
        self._table = table
        self._months = np.array([date.fromordinal(int(k)).month for k in table.ordinals])
        self._of_year = _days_of_year(table.ordinals)
        self._rain = 0
        self._straight: dict[str, int] = {}
        self._usual: dict[str, int] = {}
        self._absent = 0

    def whole(self, first: int, last: int) -> DailyWeather:
        """Return the days from one ordinal to another without a gap."""
        days = np.arange(first, last + 1)
        inside = (self._table.ordinals >= first) & (self._table.ordinals <= last)
        self._absent += len(days) - int(inside.sum())
        columns: Columns = {}
        for name, values in self._table.columns.items():
            columns[name] = np.full(len(days), np.nan)
            columns[name][self._table.ordinals[inside] - first] = values[inside]
        rain = self._with_rain(columns["rain_mm"], days)
        tmax, tmin = (self._with_temperature(name, columns[name], days) for name in ("tmax_c", "tmin_c"))
        optional: dict[str, Any] = {name: columns[name][None, :] for name in OPTIONAL if name in columns}
        return DailyWeather(
            date.fromordinal(first), rain[None, :], tmax[None, :], np.minimum(tmin, tmax)[None, :], **optional,
            source=self._table.name,
        )  # fmt: skip

    def notes(self) -> list[str]:
        """Return a sentence for each kind of filling."""
        name, out = self._table.name, []
        if self._absent:
            out.append(f"{name}: {days_text(self._absent)} {_have(self._absent)} no row, read as missing")
        if self._rain:
            out.append(
                f"{name}: rain missing on {days_text(self._rain)} was taken as the mean of that month in the file"
            )
        for column in ("tmax_c", "tmin_c"):
            if straight := self._straight.get(column, 0):
                out.append(f"{name}: {column} missing on {days_text(straight)} was interpolated")
            if usual := self._usual.get(column, 0):
                out.append(
                    f"{name}: {column} missing on {days_text(usual)}, in gaps of more than {STRAIGHT_D} days, was taken "
                    "from the same days of the other years where the file has any; these days say little"
                )
        return out

    def _with_rain(self, rain: Floats, days: NDArray[np.int64]) -> Floats:
        """Return the rain with the mean of the month where none was told: never as dry."""
        missing = np.flatnonzero(np.isnan(rain))
        told = self._table.columns["rain_mm"]
        for place in missing:
            month = told[self._months == date.fromordinal(int(days[place])).month]
            month = month[~np.isnan(month)]
            rain[place] = month.mean() if len(month) else np.nanmean(told)
        self._rain += len(missing)
        return rain

    def _with_temperature(self, column: str, values: Floats, days: NDArray[np.int64]) -> Floats:
        missing = np.isnan(values)
        at = np.arange(len(values))
        whole = np.interp(at, at[~missing], values[~missing])
        for run in _runs(missing):
            long = len(run) > STRAIGHT_D
            counts = self._usual if long else self._straight
            counts[column] = counts.get(column, 0) + len(run)
            for place in run if long else ():
                whole[place] = self._of_other_years(column, int(days[place]), float(whole[place]))
        return whole

    def _of_other_years(self, column: str, day: int, otherwise: float) -> float:
        """Return the mean of the days near this one in the calendar of other years; `otherwise` where there is none."""
        apart = np.abs(self._of_year - _days_of_year(np.array([day]))[0])
        near = np.minimum(apart, 365 - apart) <= NEAR_D
        near &= np.abs(self._table.ordinals - day) > 180
        told = self._table.columns[column][near]
        told = told[~np.isnan(told)]
        return float(told.mean()) if len(told) else otherwise


def _runs(missing: NDArray[np.bool_]) -> list[NDArray[np.int64]]:
    places = np.flatnonzero(missing)
    return [run for run in np.split(places, np.flatnonzero(np.diff(places) > 1) + 1) if len(run)]


def _days_of_year(ordinals: NDArray[np.int64]) -> NDArray[np.int64]:
    return np.array([date.fromordinal(int(k)).timetuple().tm_yday for k in ordinals])


def _have(days: int) -> str:
    return "has" if days == 1 else "have"
