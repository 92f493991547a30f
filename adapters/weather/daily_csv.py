"""Daily weather from a plain CSV file, as a person exports it from a station or an archive.

In: a file with the columns ``date,rain_mm,tmax_c,tmin_c`` and optionally
``solar_mj_m2,rh_max_pct,rh_min_pct,wind_m_s`` (wind at 2 m); dates as YYYY-MM-DD, one row a day; an empty cell means missing,
and so do the marks of `station_marks` and days without a row (`daily_gaps`). Commas, semicolons or tabs between the cells; with
the latter two a comma may stand in a number. Out: `DailyWeather`, or the bare table. Anything that cannot be right is refused in
one sentence that names file, row, column, value and what is allowed.
"""

from __future__ import annotations

import csv
from collections.abc import Container, Sequence
from datetime import date, datetime, time
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from adapters.weather.daily_gaps import OPTIONAL, DailyTable, stretches
from adapters.weather.daily_slips import ALLOWED, allowed_of, without_slips
from adapters.weather.station_marks import Marks
from shared.errors import Fault, WeatherUnavailable
from shared.weather_records import DailyWeather

REQUIRED = ("rain_mm", "tmax_c", "tmin_c")
YEARS = (1800, 2199)
Floats = NDArray[np.float64]


def read_daily_stretches(path: Path | str) -> list[DailyWeather]:
    """Read a file of daily weather.

    Parameters
    ----------
    path : Path or str
        The file, UTF-8, with a header.

    Returns
    -------
    list of DailyWeather
        A stretch for each part between gaps of more than 31 days, in order; one member each. Shorter gaps are filled:
        temperatures straight across up to five days, beyond that from the same days of other years; missing rain is taken
        as the mean of that month in the file (never as dry). `notes` of the first say on how many days. Optional
        columns keep NaN.

    Raises
    ------
    WeatherUnavailable
        In one sentence, when the file cannot be read or something in it cannot be right.
    """
    path = Path(path)
    return stretches(parse_daily_csv(_text(path), path.name))


def read_gauge_csv(path: Path | str) -> DailyTable:
    """Read the days of a rain gauge: only ``date`` and ``rain_mm`` are needed, and nothing is filled."""
    path = Path(path)
    return parse_daily_csv(_text(path), path.name, ("rain_mm",))


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as problem:
        coded = isinstance(problem, UnicodeDecodeError)
        reason = "is not a text file in UTF-8" if coded else "cannot be read"
        raise WeatherUnavailable(f"{path.name}: the file {reason}.") from problem


def parse_daily_csv(text: str, name: str, required: Sequence[str] = REQUIRED) -> DailyTable:
    """Read the table out of the text of a file called `name`, the days in order; see `read_daily_stretches`."""
    lines = text.splitlines()
    mark = next((mark for mark in ";\t" if lines and mark in lines[0]), ",")
    reader = csv.reader(lines, delimiter=mark)
    header = [_heading(cell) for cell in next(reader, [])]
    _check_header(name, header, required)
    numbered = [
        (number, row) for number, row in enumerate(reader, start=2) if any(cell.strip() for cell in row)
    ]
    if not numbered:
        raise _refusal(name, "rows", "", "are missing", "one row a day below the header")
    days: dict[date, int] = {}
    columns: dict[str, list[float]] = {column: [] for column in header if column in ALLOWED}
    marks = Marks()
    for number, row in numbered:
        if len(row) < len(header) or any(cell.strip() for cell in row[len(header) :]):
            problem = "has another number of cells than the header"
            raise _refusal(name, f"row {number}", mark.join(row), problem, f"{len(header)} cells")
        cells = {column: cell.strip() for column, cell in zip(header, row, strict=False)}
        days[_day(name, number, cells["date"], days)] = number
        for column, values in columns.items():
            cell = cells[column] if mark == "," else cells[column].replace(",", ".")
            values.append(_number(name, number, column, marks.plain(column, cell)))
    read = {column: np.array(values) for column, values in columns.items()}
    unknown = [column for column in header if column not in ("date", *REQUIRED, *OPTIONAL)]
    notes = [f"{name}: column {column} is not known and was not read" for column in unknown]
    notes += [*marks.notes(name), *without_slips(name, list(days.values()), read)]
    ordinals = np.array([day.toordinal() for day in days])
    order = np.argsort(ordinals)
    if (np.diff(ordinals) < 0).any():
        notes.append(f"{name}: the rows do not stand in the order of their dates; they were sorted")
    ordered = {column: values[order] for column, values in read.items()}
    return DailyTable(name, ordinals[order], ordered, tuple(notes))


def _check_header(name: str, header: list[str], required: Sequence[str]) -> None:
    for column in ("date", *required):
        if column not in header:
            raise _refusal(
                name, "header", ",".join(header), f"lacks the column {column}", _header_allowed(required)
            )
    if len(set(header)) != len(header):
        raise _refusal(name, "header", ",".join(header), "names a column twice", "each column once")


def _heading(cell: str) -> str:
    return "_".join(cell.strip().casefold().split())


def _day(name: str, number: int, cell: str, before: Container[date]) -> date:
    key, allowed = f"row {number}, date", "YYYY-MM-DD"
    try:
        at = datetime.fromisoformat(cell)
    except ValueError:
        raise _refusal(name, key, cell, "is not a date", allowed) from None
    day = at.date()
    if at.time() != time(0):
        raise _refusal(name, key, cell, "tells an hour", "one row a day, YYYY-MM-DD")
    if not YEARS[0] <= day.year <= YEARS[1]:
        raise _refusal(name, key, cell, "cannot be right", f"years from {YEARS[0]} to {YEARS[1]}")
    if day in before:
        raise _refusal(name, key, cell, "is there twice", "one row for every day")
    return day


def _number(name: str, number: int, column: str, cell: str) -> float:
    if not cell:
        return float("nan")
    try:
        return float(cell)
    except ValueError:
        raise _refusal(name, f"row {number}, {column}", cell, "is not a number", allowed_of(column)) from None


def _header_allowed(required: Sequence[str]) -> str:
    more = [column for column in (*REQUIRED, *OPTIONAL) if column not in required]
    return f"date,{','.join(required)} and optionally {','.join(more)}"


def _refusal(name: str, key: str, value: str, problem: str, allowed: str) -> WeatherUnavailable:
    return WeatherUnavailable(Fault(name, key, value, problem, allowed).sentence())
