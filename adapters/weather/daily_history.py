"""Daily history for start-up and past years: a global reanalysis by point, gridded US days, a station's climate file.

Each gives days; hours come of them by the rule of `shared.day_to_hours`. Days that are not there yet (reanalyses lag by a week)
are left to the next source, never filled.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from adapters.http.polite import PoliteClient
from shared.day_to_hours import hours_from_days
from shared.errors import WeatherUnavailable
from shared.weather_records import DailyWeather, HourlyWeather, Place

POWER, US_GRID, GHCN = "power", "us-grid-daily", "ghcn-csv"
POWER_HOST = "https://power.larc.nasa.gov/api/temporal/daily/point"
US_GRID_HOST = "https://mesonet.agron.iastate.edu/iemre/multiday.py"
POWER_NAMES = {
    "PRECTOTCORR": "rain_mm",
    "T2M_MAX": "tmax_c",
    "T2M_MIN": "tmin_c",
    "ALLSKY_SFC_SW_DWN": "solar_mj_m2",
}
NORMAL_YEARS = 20
INCH_MM = 25.4
NEEDED = ("rain_mm", "tmax_c", "tmin_c")
Days = dict[date, dict[str, float]]


class DailyHistory:
    """A `shared.ports.WeatherSource` of past days."""

    def __init__(self, name: str, time_zone: str) -> None:
        self.name, self._time_zone, self._zone = name, time_zone, ZoneInfo(time_zone)

    def days(self, place: Place, first: date, last: date) -> Days:
        """Return what is known of the days, in SI; missing values are left out."""
        raise NotImplementedError

    def forecast(self, place: Place, now: datetime) -> HourlyWeather:
        """Refuse (see the port)."""
        raise WeatherUnavailable(f"{self.name} gives past days only.")

    def observed(self, place: Place, first_day: date, until: datetime) -> HourlyWeather:
        """Return the hours of the whole days that are known without a gap, the last one before `until`."""
        last = until.astimezone(self._zone).date() - timedelta(days=1)
        weather = _series(self.days(place, first_day, last), first_day, last, self.name)
        hours = hours_from_days(weather, place, self._time_zone)
        return replace(hours, source=self.name)

    def normals(self, place: Place) -> DailyWeather:
        """Return twenty whole past years (see the port)."""
        year = datetime.now(UTC).year - 1
        first, last = date(year - NORMAL_YEARS + 1, 1, 1), date(year, 12, 31)
        return _series(self.days(place, first, last), first, last, self.name)


class Power(DailyHistory):
    """The reanalysis by point of the US space agency, from 1981 on."""

    def __init__(self, client: PoliteClient, time_zone: str, base_url: str) -> None:
        super().__init__(POWER, time_zone)
        self._client, self._base = client, base_url

    def days(self, place: Place, first: date, last: date) -> Days:
        """Return the days; the service's fill value is missing."""
        params = {
            "parameters": ",".join(POWER_NAMES), "community": "AG", "longitude": f"{place.longitude_deg:.4f}",
            "latitude": f"{place.latitude_deg:.4f}", "start": f"{first:%Y%m%d}", "end": f"{last:%Y%m%d}", "format": "JSON",
            "time-standard": "LST",
        }  # fmt: skip
        kept = timedelta(days=365) if last < date.today() - timedelta(days=30) else timedelta(hours=12)
        payload = self._client.json(self._base, params, kept).payload
        try:
            fill = float(payload["header"]["fill_value"])
            table = payload["properties"]["parameter"]
            out: Days = {}
            for theirs, ours in POWER_NAMES.items():
                for text, value in table.get(theirs, {}).items():
                    if value is not None and float(value) != fill:
                        out.setdefault(datetime.strptime(text, "%Y%m%d").date(), {})[ours] = float(value)
        except (KeyError, TypeError, ValueError) as error:
            raise WeatherUnavailable(f"{POWER} answered in a shape that is not known ({error}).") from error
        return out


class UsGrid(DailyHistory):
    """Gridded days of the contiguous US, up to yesterday; inches and degrees Fahrenheit at its edge."""

    def __init__(self, client: PoliteClient, time_zone: str, base_url: str) -> None:
        super().__init__(US_GRID, time_zone)
        self._client, self._base = client, base_url

    def days(self, place: Place, first: date, last: date) -> Days:
        """Return the days."""
        out: Days = {}
        # The service leaves its best rain out of spans that cross a year, so each year is asked for by itself.
        for year in range(first.year, last.year + 1):
            a, b = max(first, date(year, 1, 1)), min(last, date(year, 12, 31))
            params = {
                "sdate": a.isoformat(), "edate": b.isoformat(), "lat": f"{place.latitude_deg:.4f}",
                "lon": f"{place.longitude_deg:.4f}",
            }  # fmt: skip
            payload = self._client.json(self._base, params, timedelta(hours=6)).payload
            try:
                for row in payload["data"]:
                    out[date.fromisoformat(row["date"])] = _us_day(row)
            except (KeyError, TypeError, ValueError) as error:
                raise WeatherUnavailable(
                    f"{US_GRID} answered in a shape that is not known ({error})."
                ) from error
        return out


def _us_day(row: Mapping[str, Any]) -> dict[str, float]:
    rain = next(
        (row[k] for k in ("mrms_precip_in", "prism_precip_in", "daily_precip_in") if row.get(k) is not None),
        None,
    )
    found = {
        "rain_mm": None if rain is None else float(rain) * INCH_MM,
        "tmax_c": _celsius(row.get("daily_high_f")), "tmin_c": _celsius(row.get("daily_low_f")),
        "solar_mj_m2": None if row.get("solar_mj") is None else float(row["solar_mj"]),
    }  # fmt: skip
    return {name: value for name, value in found.items() if value is not None}


def _celsius(value: Any) -> float | None:
    return None if value is None else (float(value) - 32.0) / 1.8


class Ghcn(DailyHistory):
    """A station's file of the global historical climate network (by-station CSV, tenths), in the farm folder.

    Values with a quality flag are dropped. Rain read in the morning mostly fell the day before and is moved there.
    """

    def __init__(self, file: Path, time_zone: str) -> None:
        super().__init__(GHCN, time_zone)
        self._file = file

    def days(self, place: Place, first: date, last: date) -> Days:
        """Return the days of the file."""
        try:
            text = self._file.read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError) as error:
            raise WeatherUnavailable(f"{self._file.name} cannot be read: {error}.") from error
        out: Days = {}
        for number, row in enumerate(csv.reader(io.StringIO(text)), 1):
            if not row:
                continue
            try:
                day, element, value = datetime.strptime(row[1], "%Y%m%d").date(), row[2], int(row[3])
                quality, read_at = row[5].strip(), row[7].strip() if len(row) > 7 else ""
            except (IndexError, ValueError) as error:
                raise WeatherUnavailable(
                    f"{self._file.name}: line {number} is no by-station row of the network."
                ) from error
            if quality or value == -9999 or element not in ("PRCP", "TMAX", "TMIN"):
                continue
            if element == "PRCP" and read_at and int(read_at) <= 1000:
                day -= timedelta(days=1)
            if first <= day <= last:
                out.setdefault(day, {})[{"PRCP": "rain_mm", "TMAX": "tmax_c", "TMIN": "tmin_c"}[element]] = (
                    value / 10
                )
        return out

    def normals(self, place: Place) -> DailyWeather:
        """Return the days of the file from its first whole year on, gaps of single days filled from the days around."""
        found = self.days(place, date.min, date.max)
        if not found:
            raise WeatherUnavailable(f"{self._file.name} holds no day.")
        first, last = min(found), max(found)
        usual = {
            name: float(np.mean([row[name] for row in found.values() if name in row] or [0.0]))
            for name in NEEDED
        }
        known: dict[str, float] = dict(usual)
        for day in (first + timedelta(days=k) for k in range((last - first).days + 1)):
            row = found.setdefault(day, {})
            known |= {name: row[name] for name in ("tmax_c", "tmin_c") if name in row}
            row.setdefault("rain_mm", 0.0)
            for name in ("tmax_c", "tmin_c"):
                row.setdefault(name, known[name])
        weather = _series(found, first, last, self.name)
        return replace(
            weather, notes=(*weather.notes, f"{self._file.name}: days without a reading take the day before")
        )


def _series(found: Days, first: date, last: date, source: str) -> DailyWeather:
    """Return the days from the first to the last that are known without a gap."""
    day = first
    while day <= last and all(name in found.get(day, {}) for name in NEEDED):
        day += timedelta(days=1)
    count = (day - first).days
    if count < 1:
        raise WeatherUnavailable(f"{source} knows nothing of {first}.")
    dates = [first + timedelta(days=k) for k in range(count)]

    def row(name: str) -> Any:
        return np.array([[found[d].get(name, np.nan) for d in dates]])

    solar = row("solar_mj_m2")
    notes = () if day > last else (f"{source} ends on {dates[-1]}",)
    return DailyWeather(
        first, row("rain_mm"), row("tmax_c"), row("tmin_c"), solar_mj_m2=solar if np.isfinite(solar).any() else None,
        source=source, notes=notes,
    )  # fmt: skip


def open_power(folder: Path, options: Mapping[str, Any], time_zone: str, client: PoliteClient) -> Power:
    """Open the reanalysis; option: ``power_url``."""
    return Power(client, time_zone, str(options.get("power_url", POWER_HOST)))


def open_us_grid(folder: Path, options: Mapping[str, Any], time_zone: str, client: PoliteClient) -> UsGrid:
    """Open the gridded US days; option: ``us_grid_url``."""
    return UsGrid(client, time_zone, str(options.get("us_grid_url", US_GRID_HOST)))


def open_ghcn(folder: Path, options: Mapping[str, Any], time_zone: str, client: PoliteClient) -> Ghcn:
    """Open a station's file; option: ``ghcn_file`` within the weather folder."""
    if "ghcn_file" not in options:
        raise WeatherUnavailable(
            "farm.toml: weather.options.ghcn_file is missing; allowed: the name of a by-station CSV."
        )
    return Ghcn(folder / str(options["ghcn_file"]), time_zone)


__all__ = ["DailyHistory", "open_ghcn", "open_power", "open_us_grid"]
