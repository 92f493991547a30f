"""Which days were suitable for fieldwork in general: the model from outside, for anyone's daily weather.

In: daily weather of one place. Out: one record a day, with the wetness of a typical field (handbook soil) and the
chance that the day is suitable for fieldwork in its district. Pure function; the command of the same name prints
what comes out here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import Any

import numpy as np

from scheduler.workability.district import (
    FITTED,
    TYPICAL_GROUND,
    DistrictSettings,
    suitable_share,
)
from scheduler.workability.ground import Ground, SoilOptions
from scheduler.workability.soil_water import SoilTrace, run_soil_water
from shared.day_to_hours import hours_from_days
from shared.vocabulary import Crop
from shared.weather_records import DailyWeather, HourlyWeather, Place

TYPICAL_PLANTING = (5, 8)
FIRST_DAYS_UNSURE = 60


@dataclass(frozen=True)
class Workday:
    """One day.

    Attributes
    ----------
    date : date
        Local calendar day.
    surface_wetness, subsoil_wetness : float
        Water of a typical field's layers, mean of the day [fraction of field capacity].
    soil_temp_c : float
        At 5 cm, mean of the day [degC].
    suitable_chance : float
        Chance that the day is suitable for fieldwork in general [0-1].
    """

    date: date
    surface_wetness: float
    subsoil_wetness: float
    soil_temp_c: float
    suitable_chance: float


@dataclass(frozen=True)
class Workdays:
    """Days and what a person should know about how they were made."""

    days: tuple[Workday, ...]
    notes: tuple[str, ...]


def workdays(
    days: DailyWeather,
    place: Place,
    ground: Ground | None = None,
    settings: DistrictSettings | None = None,
) -> Workdays:
    """Judge every day of a daily record (its first member).

    Parameters
    ----------
    days : DailyWeather
        Rain and temperatures complete; the rest may be missing.
    place : Place
        Latitude and elevation matter. The clock is the sun's: noon is when the sun stands highest.
    ground : Ground, optional
        The typical field; without it silty clay loam, tiled, group C, 40 % residue, corn from 8 May.
    settings : DistrictSettings, optional
        Soft limit of the district; without it the one fitted to central Iowa 1988-2004.

    Returns
    -------
    Workdays
    """
    settings = settings or FITTED
    base = ground or TYPICAL_GROUND
    # Only the sun's height counts, so the days are run on the meridian of UTC.
    there = replace(place, longitude_deg=0.0)
    weather = hours_from_days(days, there, "UTC")
    shown = _run_years(base, weather, there, SoilOptions())
    judged = shown if settings.soil == SoilOptions() else _run_years(base, weather, there, settings.soil)
    rule = settings.rule
    work = slice(rule.work_from_h, rule.work_to_h)
    chance = suitable_share(
        rule, _days_of_year(days), _by_day(judged.surface_wetness)[:, work].mean(axis=1), days.rain_mm[0],
        _by_day(judged.soil_temp_c).mean(axis=1), _by_day(judged.frozen)[:, work].mean(axis=1),
        _by_day(judged.snow_mm)[:, 12],
    )  # fmt: skip
    records = zip(
        days.dates(), _by_day(shown.surface_wetness).mean(axis=1), _by_day(shown.subsoil_wetness).mean(axis=1),
        _by_day(shown.soil_temp_c).mean(axis=1), chance, strict=True,
    )  # fmt: skip
    rows = tuple(
        Workday(day, round(float(w), 4), round(float(z), 4), round(float(t), 2), round(float(p), 4))
        for day, w, z, t, p in records
    )
    return Workdays(rows, _notes(days, weather, settings, ground is None))


def workdays_report(result: Workdays) -> dict[str, Any]:
    """The result as plain values for JSON: ``{"days": [...], "notes": [...]}``."""
    rows: list[dict[str, Any]] = [asdict(day) | {"date": day.date.isoformat()} for day in result.days]
    return {"days": rows, "notes": list(result.notes)}


def weekly_sums(rows: Sequence[Workday], week_endings: Sequence[date], ends_before_d: int = 0) -> list[float]:
    """Expected suitable days of the seven days that end `ends_before_d` days before each date; NaN outside."""
    sums = np.concatenate([[0.0], np.cumsum([row.suitable_chance for row in rows])])
    first = rows[0].date
    ends = [(day - first).days + 1 - ends_before_d for day in week_endings]
    return [float(sums[end] - sums[end - 7]) if 7 <= end < len(sums) else float("nan") for end in ends]


def _run_years(ground: Ground, weather: HourlyWeather, place: Place, options: SoilOptions) -> SoilTrace:
    """Run through the record with the typical crop planted anew each year, unless the ground names its own."""
    if ground.crop is not None:
        return run_soil_water([ground], weather, place, options=options)
    years = range(weather.start_utc.year, weather.end_utc.year + 1)
    return run_soil_water(
        [replace(ground, crop=Crop.CORN)], weather, place, options=options,
        plantings=[[date(year, *TYPICAL_PLANTING) for year in years]],
    )  # fmt: skip


def _by_day(values: Any) -> Any:
    return values[0, 0].reshape(-1, 24)


def _days_of_year(days: DailyWeather) -> Any:
    return np.array([day.timetuple().tm_yday for day in days.dates()])


def _notes(
    days: DailyWeather, weather: HourlyWeather, settings: DistrictSettings, typical: bool
) -> tuple[str, ...]:
    ground = (
        "silty clay loam, tiled, hydrologic group C, 40 % residue, corn from 8 May" if typical else "given"
    )
    notes = [
        *weather.notes,
        f"ground: {ground}; wetness is that of one such field with handbook values",
        f"chance: share of a district's ground that is fit, by {settings.name}; not a promise for one field",
    ]
    if days.days < FIRST_DAYS_UNSURE:
        notes.append("the record is short: all days depend on the assumed start at field capacity")
    else:
        notes.append(
            f"the first {FIRST_DAYS_UNSURE} days still depend on the assumed start at field capacity"
        )
    return tuple(notes)
