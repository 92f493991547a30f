"""Weather as it crosses the border: hourly members and daily series, in SI, missing values as NaN.

Hours are counted in UTC: hour ``h`` of a record covers ``[start_utc + h, start_utc + h + 1)``. Amounts (rain,
solar energy) are totals of that hour; states (temperature, humidity, wind) are its mean. A *member* is one
possible weather; an observation has one member.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

HOURLY_QUANTITIES = ("rain_mm", "temp_c", "rh_pct", "wind_m_s", "solar_mj_m2")
DAILY_QUANTITIES = (
    "rain_mm", "tmax_c", "tmin_c", "solar_mj_m2", "rh_max_pct", "rh_min_pct", "wind_m_s",
)  # fmt: skip


@dataclass(frozen=True)
class Place:
    """A point on the ground.

    Attributes
    ----------
    latitude_deg, longitude_deg : float
        WGS 84 degrees, north and east positive.
    elevation_m : float
        Height above sea level [m].
    """

    latitude_deg: float
    longitude_deg: float
    elevation_m: float = 0.0


@dataclass(frozen=True)
class HourlyWeather:
    """One or more possible weathers on an hourly UTC grid.

    Attributes
    ----------
    start_utc : datetime
        Start of the first hour; aware, on a full hour.
    rain_mm : array (members, hours)
        Rain (or melted snow) that fell in the hour [mm].
    temp_c, rh_pct, wind_m_s : array (members, hours)
        Hour means: air temperature at 2 m [degC], relative humidity [%], wind at 2 m [m/s].
    solar_mj_m2 : array (members, hours)
        Global radiation received in the hour [MJ/m2].
    source : str
        Name of where it came from, shown to people.
    issued_at : datetime or None
        When a forecast was issued; None for observations.
    notes : tuple of str
        Sentences a person should see (filled gaps, stale data).
    """

    start_utc: datetime
    rain_mm: Array
    temp_c: Array
    rh_pct: Array
    wind_m_s: Array
    solar_mj_m2: Array
    source: str = ""
    issued_at: datetime | None = None
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.start_utc.tzinfo is None:
            raise ValueError("start_utc must carry a time zone")
        shapes = {getattr(self, name).shape for name in HOURLY_QUANTITIES}
        if len(shapes) != 1 or self.rain_mm.ndim != 2:
            raise ValueError(f"all quantities must share one shape (members, hours), got {shapes}")

    @property
    def members(self) -> int:
        """Number of possible weathers."""
        return int(self.rain_mm.shape[0])

    @property
    def hours(self) -> int:
        """Number of hours."""
        return int(self.rain_mm.shape[1])

    @property
    def end_utc(self) -> datetime:
        """End of the last hour."""
        return self.start_utc + timedelta(hours=self.hours)

    def hour_index(self, moment: datetime) -> int:
        """Return the index of the hour that contains `moment` (may lie outside the record)."""
        return int((moment - self.start_utc) // timedelta(hours=1))

    def between(self, start: datetime, end: datetime) -> HourlyWeather:
        """Return the hours of ``[start, end)`` that the record holds; `start` on a full hour."""
        first = min(max(self.hour_index(start), 0), self.hours)
        last = min(max(self.hour_index(end), first), self.hours)
        cut: dict[str, Any] = {name: getattr(self, name)[:, first:last] for name in HOURLY_QUANTITIES}
        return replace(self, start_utc=self.start_utc + timedelta(hours=first), **cut)

    def followed_by(self, later: HourlyWeather) -> HourlyWeather:
        """Join a later record that starts where this one ends; a single member is repeated to match."""
        if later.start_utc != self.end_utc:
            raise ValueError("the later record must start where the earlier one ends")
        members = max(self.members, later.members)
        joined: dict[str, Any] = {}
        for name in HOURLY_QUANTITIES:
            parts = [getattr(record, name) for record in (self, later)]
            wide = [part if part.shape[0] == members else np.repeat(part, members, axis=0) for part in parts]
            joined[name] = np.concatenate(wide, axis=1)
        return replace(
            later, start_utc=self.start_utc, notes=tuple(dict.fromkeys(self.notes + later.notes)), **joined
        )


@dataclass(frozen=True)
class DailyWeather:
    """One or more possible weathers by local calendar day.

    Attributes
    ----------
    first_day : date
        Local date of the first day; days are consecutive.
    rain_mm, tmax_c, tmin_c : array (members, days)
        Total rain [mm] and extreme air temperatures [degC] of the local day.
    solar_mj_m2, rh_max_pct, rh_min_pct, wind_m_s : array (members, days) or None
        Optional; None or NaN where missing. Wind at 2 m [m/s].
    rain_from_h, rain_hours : array (members, days) or None
        Local hour at which the day's rain begins [h] and how long it lasts [h], when the source knows.
    source, issued_at, notes
        As in `HourlyWeather`.
    """

    first_day: date
    rain_mm: Array
    tmax_c: Array
    tmin_c: Array
    solar_mj_m2: Array | None = None
    rh_max_pct: Array | None = None
    rh_min_pct: Array | None = None
    wind_m_s: Array | None = None
    rain_from_h: Array | None = None
    rain_hours: Array | None = None
    source: str = ""
    issued_at: datetime | None = None
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.rain_mm.ndim != 2:
            raise ValueError("daily quantities have the shape (members, days)")
        for name in (*DAILY_QUANTITIES, "rain_from_h", "rain_hours"):
            values = getattr(self, name)
            if values is not None and values.shape != self.rain_mm.shape:
                raise ValueError(f"{name} has shape {values.shape}, expected {self.rain_mm.shape}")

    @property
    def members(self) -> int:
        """Number of possible weathers."""
        return int(self.rain_mm.shape[0])

    @property
    def days(self) -> int:
        """Number of days."""
        return int(self.rain_mm.shape[1])

    @property
    def last_day(self) -> date:
        """Local date of the last day."""
        return self.first_day + timedelta(days=self.days - 1)

    def dates(self) -> list[date]:
        """Return the local date of every day."""
        return [self.first_day + timedelta(days=k) for k in range(self.days)]
