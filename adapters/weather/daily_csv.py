"""Daily weather from a plain CSV file, as a person exports it from a station or an archive.

In: a file with the columns ``date,rain_mm,tmax_c,tmin_c`` and optionally
``solar_mj_m2,rh_max_pct,rh_min_pct,wind_m_s`` (wind at 2 m); dates as YYYY-MM-DD, one row a day, no day
left out; an empty cell means missing, and so do the marks of `station_marks`. Out: `DailyWeather`. Anything that cannot be right is refused in one
sentence that names file, row, column, value and what is allowed.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from adapters.weather.station_marks import Marks
from shared.errors import Fault, WeatherUnavailable
from shared.weather_records import DailyWeather

REQUIRED = ("rain_mm", "tmax_c", "tmin_c")
OPTIONAL = ("solar_mj_m2", "rh_max_pct", "rh_min_pct", "wind_m_s")
# Beyond these a value is a slip of the pen or a missing-value code, not weather.
ALLOWED = {
    "rain_mm": (0.0, 500.0, "mm"), "tmax_c": (-60.0, 60.0, "degC"), "tmin_c": (-60.0, 60.0, "degC"),
    "solar_mj_m2": (0.0, 45.0, "MJ/m2"), "rh_max_pct": (0.0, 100.0, "%"), "rh_min_pct": (0.0, 100.0, "%"),
    "wind_m_s": (0.0, 60.0, "m/s"),
}  # fmt: skip
LONGEST_TEMPERATURE_GAP_D = 5
CROSSED_SHARE = 0.01
"""Of the days, at most, a night may be warmer than its day by a slip of the station; more is a wrong column (assumption)."""

Floats = NDArray[np.float64]


def read_daily_csv(path: Path | str) -> DailyWeather:
    """Read a file of daily weather.

    Parameters
    ----------
    path : Path or str
        The file, UTF-8, comma separated, with a header.

    Returns
    -------
    DailyWeather
        One member. Missing temperatures over at most five days are interpolated, missing rain is taken as the
        mean of that month in the file (never as dry); `notes` say on how many days. Optional columns keep
        NaN.

    Raises
    ------
    WeatherUnavailable
        In one sentence, when the file cannot be read or something in it cannot be right.
    """
    path = Path(path)
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as problem:
        coded = isinstance(problem, UnicodeDecodeError)
        reason = "is not a text file in UTF-8" if coded else "cannot be read"
        raise WeatherUnavailable(f"{path.name}: the file {reason}.") from problem
    return parse_daily_csv(text, path.name)


def parse_daily_csv(text: str, name: str) -> DailyWeather:
    """Read daily weather from the text of a file called `name`; see `read_daily_csv`."""
    reader = csv.reader(text.splitlines())
    header = [_heading(cell) for cell in next(reader, [])]
    for column in ("date", *REQUIRED):
        if column not in header:
            raise _refusal(name, "header", ",".join(header), f"lacks the column {column}", _header_allowed())
    if len(set(header)) != len(header):
        raise _refusal(name, "header", ",".join(header), "names a column twice", "each column once")
    unknown = [column for column in header if column not in ("date", *REQUIRED, *OPTIONAL)]
    numbered = [
        (number, row) for number, row in enumerate(reader, start=2) if any(cell.strip() for cell in row)
    ]
    if not numbered:
        raise _refusal(name, "rows", "", "are missing", "one row a day below the header")
    days: list[date] = []
    columns: dict[str, list[float]] = {column: [] for column in header if column in ALLOWED}
    marks = Marks()
    for number, row in numbered:
        if len(row) != len(header):
            problem = "has another number of cells than the header"
            raise _refusal(name, f"row {number}", ",".join(row), problem, f"{len(header)} cells")
        cells = {column: cell.strip() for column, cell in zip(header, row, strict=True)}
        days.append(_day(name, number, cells["date"], days))
        for column, values in columns.items():
            values.append(_number(name, number, column, marks.plain(column, cells[column])))
    read = {column: np.array(values) for column, values in columns.items()}
    notes = [f"{name}: column {column} is not known and was not read" for column in unknown]
    notes += [*marks.notes(name), *_warm_nights(name, [number for number, _ in numbered], read)]
    return _assemble(name, days[0], read, notes)


def _warm_nights(name: str, rows: Sequence[int], columns: dict[str, Floats]) -> list[str]:
    """Take days as missing whose night is warmer than their day, and say so; refuse a file with many."""
    tmax, tmin = columns["tmax_c"], columns["tmin_c"]
    places = np.flatnonzero(tmin > tmax)
    if not len(places):
        return []
    first = int(places[0])
    if len(places) > CROSSED_SHARE * len(rows):
        problem = "is above tmax_c of the same day"
        raise _refusal(
            name, f"row {rows[first]}, tmin_c", f"{tmin[first]:g}", problem, f"at most {tmax[first]:g}"
        )
    columns["tmax_c"][places] = columns["tmin_c"][places] = np.nan
    days = "1 day" if len(places) == 1 else f"{len(places)} days"
    return [
        f"{name}: tmin_c is above tmax_c on {days} (first in row {rows[first]}); both were taken as missing"
    ]


def _heading(cell: str) -> str:
    return "_".join(cell.strip().casefold().split())


def _assemble(name: str, first: date, columns: dict[str, Floats], notes: list[str]) -> DailyWeather:
    months = np.array([(first + timedelta(days=k)).month for k in range(len(columns["rain_mm"]))])
    rain, filled = _fill_rain(name, columns["rain_mm"], months)
    if filled:
        notes.append(f"{name}: rain missing on {filled} days was taken as the mean of that month in the file")
    temperatures = {}
    for column in ("tmax_c", "tmin_c"):
        temperatures[column], filled = _fill_temperature(name, column, columns[column])
        if filled:
            notes.append(f"{name}: {column} missing on {filled} days was interpolated")
    tmin = np.minimum(temperatures["tmin_c"], temperatures["tmax_c"])
    optional: dict[str, Any] = {column: columns[column][None, :] for column in OPTIONAL if column in columns}
    return DailyWeather(
        first, rain[None, :], temperatures["tmax_c"][None, :], tmin[None, :], **optional,
        source=name, notes=tuple(notes),
    )  # fmt: skip


def _day(name: str, number: int, cell: str, before: Sequence[date]) -> date:
    try:
        day = date.fromisoformat(cell)
    except ValueError:
        raise _refusal(name, f"row {number}, date", cell, "is not a date", "YYYY-MM-DD") from None
    if before and day != before[-1] + timedelta(days=1):
        wanted = (before[-1] + timedelta(days=1)).isoformat()
        problem = "is there twice" if day in before else "does not follow the day before"
        raise _refusal(
            name, f"row {number}, date", cell, problem, f"{wanted}, one row for every day in order"
        )
    return day


def _number(name: str, number: int, column: str, cell: str) -> float:
    if not cell:
        return float("nan")
    low, high, unit = ALLOWED[column]
    allowed = f"a number from {low:g} to {high:g} {unit}, or empty where missing"
    try:
        value = float(cell)
    except ValueError:
        raise _refusal(name, f"row {number}, {column}", cell, "is not a number", allowed) from None
    if not low <= value <= high:
        raise _refusal(name, f"row {number}, {column}", cell, "cannot be right", allowed)
    return value


def _fill_rain(name: str, rain: Floats, months: NDArray[np.int64]) -> tuple[Floats, int]:
    missing = np.isnan(rain)
    if missing.all():
        raise _refusal(name, "rain_mm", "", "is empty on every day", "rain in mm")
    filled = rain.copy()
    for month in np.unique(months[missing]):
        known = rain[(months == month) & ~missing]
        filled[missing & (months == month)] = known.mean() if len(known) else np.nanmean(rain)
    return filled, int(missing.sum())


def _fill_temperature(name: str, column: str, values: Floats) -> tuple[Floats, int]:
    missing = np.isnan(values)
    run = 0
    for place, gone in enumerate(missing):
        run = run + 1 if gone else 0
        if run > LONGEST_TEMPERATURE_GAP_D:
            allowed = f"gaps of at most {LONGEST_TEMPERATURE_GAP_D} days"
            raise _refusal(name, f"row {place + 2}, {column}", "", "is missing for too long", allowed)
    if missing.all():
        raise _refusal(name, column, "", "is empty on every day", "temperatures in degC")
    index = np.arange(len(values))
    return np.interp(index, index[~missing], values[~missing]), int(missing.sum())


def _header_allowed() -> str:
    return f"date,{','.join(REQUIRED)} and optionally {','.join(OPTIONAL)}"


def _refusal(name: str, key: str, value: str, problem: str, allowed: str) -> WeatherUnavailable:
    return WeatherUnavailable(Fault(name, key, value, problem, allowed).sentence())
