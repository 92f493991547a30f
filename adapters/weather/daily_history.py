"""Daily history for start-up and past years from services: a global reanalysis by point, gridded US days.

Each gives days; hours come of them by the rule of `shared.day_to_hours`. Days that are not there yet (reanalyses lag by a week)
are left to the next source, never filled.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from adapters.http.polite import PoliteClient, degrees
from adapters.weather.day_series import Days, series
from adapters.weather.reading import known_shape
from shared.day_to_hours import hours_from_days
from shared.errors import WeatherUnavailable
from shared.weather_records import DailyWeather, HourlyWeather, Place

POWER, US_GRID = "power", "us-grid-daily"
POWER_HOST = "https://power.larc.nasa.gov/api/temporal/daily/point"
US_GRID_HOST = "https://mesonet.agron.iastate.edu/iemre/multiday.py"
POWER_NAMES = {
    "PRECTOTCORR": ("rain_mm", ("mm/day",)),
    "T2M_MAX": ("tmax_c", ("C",)),
    "T2M_MIN": ("tmin_c", ("C",)),
    "ALLSKY_SFC_SW_DWN": ("solar_mj_m2", ("MJ/m^2/day",)),
}
"""Their name -> ours, and the units in which it is understood (community AG)."""
NORMAL_YEARS = 20
INCH_MM = 25.4


class DailyHistory:
    """A `shared.ports.WeatherSource` of past days."""

    def __init__(self, name: str, time_zone: str) -> None:
        self.name, self._time_zone, self._zone = name, time_zone, ZoneInfo(time_zone)

    def days(self, place: Place, first: date, last: date) -> Days:
        """Return what is known of the days, in SI; missing values are left out."""
        raise NotImplementedError

    def year_now(self) -> int:
        """Return the running year."""
        raise NotImplementedError

    def forecast(self, place: Place, now: datetime) -> HourlyWeather:
        """Refuse (see the port)."""
        raise WeatherUnavailable(f"{self.name} gives past days only.")

    def observed(self, place: Place, first_day: date, until: datetime) -> HourlyWeather:
        """Return the hours of the whole days that are known without a gap, the last one before `until`."""
        last = until.astimezone(self._zone).date() - timedelta(days=1)
        weather = series(self.days(place, first_day, last), first_day, last, self.name)
        hours = hours_from_days(weather, place, self._time_zone)
        return replace(hours, source=self.name)

    def normals(self, place: Place) -> DailyWeather:
        """Return twenty whole past years (see the port)."""
        year = self.year_now() - 1
        first, last = date(year - NORMAL_YEARS + 1, 1, 1), date(year, 12, 31)
        return series(self.days(place, first, last), first, last, self.name)


class Power(DailyHistory):
    """The reanalysis by point of the US space agency, from 1981 on."""

    def __init__(self, client: PoliteClient, time_zone: str, base_url: str) -> None:
        super().__init__(POWER, time_zone)
        self._client, self._base = client, base_url

    def year_now(self) -> int:
        """Return the running year."""
        return self._client.clock().year

    def days(self, place: Place, first: date, last: date) -> Days:
        """Return the days; the service's fill value is missing."""
        params = {
            "parameters": ",".join(POWER_NAMES), "community": "AG", "longitude": degrees(place.longitude_deg),
            "latitude": degrees(place.latitude_deg), "start": f"{first:%Y%m%d}", "end": f"{last:%Y%m%d}", "format": "JSON",
            "time-standard": "LST",
        }  # fmt: skip
        kept = (
            timedelta(days=365)
            if last < self._client.clock().date() - timedelta(days=30)
            else timedelta(hours=12)
        )
        payload = self._client.json(self._base, params, kept).payload
        out: Days = {}
        with known_shape(POWER):
            fill = float(payload["header"]["fill_value"])
            table, told = payload["properties"]["parameter"], payload.get("parameters", {})
            for theirs, (ours, units) in POWER_NAMES.items():
                unit = told.get(theirs, {}).get("units", units[0])
                if unit not in units:
                    raise WeatherUnavailable(
                        f"{POWER} gives {theirs} in {unit!r}; known: {', '.join(units)}."
                    )
                for text, value in table.get(theirs, {}).items():
                    if value is not None and float(value) != fill:
                        out.setdefault(datetime.strptime(text, "%Y%m%d").date(), {})[ours] = float(value)
        return out


class UsGrid(DailyHistory):
    """Gridded days of the contiguous US, up to yesterday; inches and degrees Fahrenheit at its edge."""

    def __init__(self, client: PoliteClient, time_zone: str, base_url: str) -> None:
        super().__init__(US_GRID, time_zone)
        self._client, self._base = client, base_url

    def year_now(self) -> int:
        """Return the running year."""
        return self._client.clock().year

    def days(self, place: Place, first: date, last: date) -> Days:
        """Return the days."""
        out: Days = {}
        # The service leaves its best rain out of spans that cross a year, so each year is asked for by itself.
        for year in range(first.year, last.year + 1):
            a, b = max(first, date(year, 1, 1)), min(last, date(year, 12, 31))
            params = {
                "sdate": a.isoformat(), "edate": b.isoformat(), "lat": degrees(place.latitude_deg),
                "lon": degrees(place.longitude_deg),
            }  # fmt: skip
            payload = self._client.json(self._base, params, timedelta(hours=6)).payload
            with known_shape(US_GRID):
                for row in payload["data"]:
                    out[date.fromisoformat(row["date"])] = _us_day(row)
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


def open_power(folder: Path, options: Mapping[str, Any], time_zone: str, client: PoliteClient) -> Power:
    """Open the reanalysis; option: ``power_url``."""
    return Power(client, time_zone, str(options.get("power_url", POWER_HOST)))


def open_us_grid(folder: Path, options: Mapping[str, Any], time_zone: str, client: PoliteClient) -> UsGrid:
    """Open the gridded US days; option: ``us_grid_url``."""
    return UsGrid(client, time_zone, str(options.get("us_grid_url", US_GRID_HOST)))


__all__ = ["DailyHistory", "open_power", "open_us_grid"]
