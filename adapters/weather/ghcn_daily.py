"""A station's file of the global historical climate network in the weather folder: by-station CSV, plain or packed (.gz).

Rows are ``ID,YYYYMMDD,ELEMENT,VALUE,MFLAG,QFLAG,SFLAG,OBSTIME``, values in tenths of mm and degC (the network's by-station
readme). Values with a quality flag are dropped. Rain read in the morning mostly fell the day before and is moved there.
"""

from __future__ import annotations

import csv
import gzip
import io
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from adapters.http.polite import PoliteClient
from adapters.weather.daily_history import DailyHistory
from adapters.weather.day_series import NEEDED, Days, series
from shared.errors import WeatherUnavailable
from shared.weather_records import DailyWeather, Place

NAME = "ghcn-csv"
ELEMENTS = {"PRCP": "rain_mm", "TMAX": "tmax_c", "TMIN": "tmin_c"}
MISSING = -9999
MORNING_HHMM = 1000
FILLED_MOST = 0.25
"""More days to fill than this share, and a station is no climate."""


class Ghcn(DailyHistory):
    """A `shared.ports.WeatherSource` of past days."""

    def __init__(self, file: Path, time_zone: str) -> None:
        super().__init__(NAME, time_zone)
        self._file = file

    def days(self, place: Place, first: date, last: date) -> Days:
        """Return the days of the file."""
        out: Days = {}
        for number, row in enumerate(csv.reader(io.StringIO(_text(self._file))), 1):
            if not row:
                continue
            try:
                day, element, value = datetime.strptime(row[1], "%Y%m%d").date(), row[2], int(row[3])
                quality, read_at = row[5].strip(), int((row[7] if len(row) > 7 else "").strip() or 2400)
            except (IndexError, ValueError) as error:
                raise WeatherUnavailable(
                    f"{self._file.name}: line {number} is no by-station row of the network; allowed: rows such as X,20260401,PRCP,147,,,7,0700."
                ) from error
            if quality or value == MISSING or element not in ELEMENTS:
                continue
            if element == "PRCP" and read_at <= MORNING_HHMM:
                day -= timedelta(days=1)
            if first <= day <= last:
                out.setdefault(day, {})[ELEMENTS[element]] = value / 10
        return out

    def normals(self, place: Place) -> DailyWeather:
        """Return all days of the file; one without a reading takes the mean of its month in the file, rain too."""
        found = self.days(place, date.min, date.max)
        if not found:
            raise WeatherUnavailable(f"{self._file.name} holds no day.")
        first, last = min(found), max(found)
        count = (last - first).days + 1
        notes = []
        for name in NEEDED:
            usual = _monthly_means(found, name, self._file.name)
            filled = 0
            for day in (first + timedelta(days=k) for k in range(count)):
                row = found.setdefault(day, {})
                if name not in row:
                    row[name], filled = usual[day.month], filled + 1
            if filled > FILLED_MOST * count:
                raise WeatherUnavailable(
                    f"{self._file.name}: {name} is missing on {filled} of {count} days; allowed: at most a quarter."
                )
            if filled:
                notes.append(
                    f"{self._file.name}: {name} missing on {filled} of {count} days is the month's mean"
                )
        for row in found.values():
            # A mean beside a reading may cross it.
            row["tmin_c"] = min(row["tmin_c"], row["tmax_c"])
        days = series(found, first, last, self.name)
        return replace(days, notes=(*days.notes, *notes))


def _monthly_means(found: Days, name: str, file: str) -> dict[int, float]:
    """Return the mean of each month; a month that was never read takes the mean of all."""
    by_month: dict[int, list[float]] = {}
    for day, row in found.items():
        if name in row:
            by_month.setdefault(day.month, []).append(row[name])
    everything = [value for values in by_month.values() for value in values]
    if not everything:
        raise WeatherUnavailable(f"{file} holds no {name}.")
    overall = sum(everything) / len(everything)
    return {m: sum(v) / len(v) if (v := by_month.get(m)) else overall for m in range(1, 13)}


def _text(file: Path) -> str:
    try:
        raw = file.read_bytes()
        return (gzip.decompress(raw) if file.suffix == ".gz" else raw).decode("utf-8")
    except (OSError, EOFError, UnicodeDecodeError) as error:
        raise WeatherUnavailable(f"{file.name} cannot be read ({str(error)[:120]}).") from error


def open_ghcn(folder: Path, options: Mapping[str, Any], time_zone: str, client: PoliteClient) -> Ghcn:
    """Open a station's file; option: ``ghcn_file`` within the weather folder."""
    if "ghcn_file" not in options:
        raise WeatherUnavailable(
            "farm.toml: weather.options.ghcn_file is missing; allowed: the name of a by-station CSV."
        )
    return Ghcn(folder / str(options["ghcn_file"]), time_zone)


__all__ = ["open_ghcn"]
