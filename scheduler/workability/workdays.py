"""Which days were suitable for fieldwork in general: the model from outside, for anyone's daily weather.

In: daily weather of one place. Out: one record a day, with the wetness of a typical field (handbook soil)
and the chance that the day is suitable for fieldwork in its district. Pure function; the command of the
same name prints what comes out here.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date, timedelta
from itertools import zip_longest
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scheduler.workability.district import (
    FITTED,
    TYPICAL_GROUND,
    DistrictRule,
    DistrictSettings,
    suitable_share,
)
from scheduler.workability.ground import Ground, SoilOptions
from scheduler.workability.soil_water import SoilTrace, run_soil_water
from shared.day_to_hours import hours_from_days
from shared.vocabulary import Crop
from shared.weather_records import DailyWeather, HourlyWeather, Place

Floats = NDArray[np.float64]
TYPICAL_PLANTING = (5, 8)
FIRST_DAYS_UNSURE = 60
BY_DAY = (
    "shown_surface", "shown_subsoil", "shown_soil_c", "wetness", "rain_mm", "soil_c", "frozen_share", "snow_mm",
)  # fmt: skip
"""Quantities of `JudgedDays` that are not known without weather."""
DAYS_COUNTED = re.compile(r"\d+(?= of \d+ days\b| days?\b)")
"""Counts of days in a note."""


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
    days: DailyWeather | Sequence[DailyWeather],
    place: Place,
    ground: Ground | None = None,
    settings: DistrictSettings | None = None,
) -> Workdays:
    """Judge every day of a daily record (its first member).

    Parameters
    ----------
    days : DailyWeather or sequence of DailyWeather
        Rain and temperatures complete; the rest may be missing. Of several stretches, in order, each starts anew.
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
    judged = judge_district(days, place, ground, settings or FITTED)
    chance = judged.chance()
    rows = tuple(
        Workday(
            judged.first_day + timedelta(days=int(k)),
            round(float(judged.shown_surface[k]), 4),
            round(float(judged.shown_subsoil[k]), 4),
            round(float(judged.shown_soil_c[k]), 2),
            round(float(chance[k]), 4),
        )
        for k in np.flatnonzero(judged.told)
    )
    return Workdays(rows, _notes(judged, ground is None))


@dataclass(frozen=True)
class JudgedDays:
    """Everything about the days that does not depend on the soft limit; arrays are (days,), NaN between stretches.

    Attributes
    ----------
    first_day : date
    shown_surface, shown_subsoil, shown_soil_c : array
        Typical field, handbook soil: mean wetness of the day, 5 cm temperature [degC].
    day_of_year, wetness, rain_mm, soil_c, frozen_share, snow_mm : array
        What `suitable_share` reads, of the soil that belongs to the soft limit.
    settings : DistrictSettings
    notes : tuple of str
        What was filled in the weather.
    """

    first_day: date
    shown_surface: Floats
    shown_subsoil: Floats
    shown_soil_c: Floats
    day_of_year: NDArray[np.int64]
    wetness: Floats
    rain_mm: Floats
    soil_c: Floats
    frozen_share: Floats
    snow_mm: Floats
    settings: DistrictSettings
    notes: tuple[str, ...]

    def chance(self, rule: DistrictRule | None = None) -> Floats:
        """Share of the district's ground that is fit on each day, by another soft limit if one is given."""
        return suitable_share(
            rule or self.settings.rule, self.day_of_year, self.wetness, self.rain_mm, self.soil_c,
            self.frozen_share, self.snow_mm,
        )  # fmt: skip

    @property
    def told(self) -> NDArray[np.bool_]:
        """Whether there is weather for each day."""
        return ~np.isnan(self.rain_mm)

    def sums(self, rule: DistrictRule | None = None) -> Floats:
        """Return the chance summed up to each day (one more than days); days without weather add nothing."""
        return np.concatenate([[0.0], np.cumsum(np.nan_to_num(self.chance(rule)))])

    def end_index(self, week_ending: date, ends_before_d: int = 0) -> int:
        """Number of days from the first up to and including the last day of the week."""
        return (week_ending - self.first_day).days + 1 - ends_before_d

    def holds(self, week_ending: date, ends_before_d: int = 0) -> bool:
        """Whether all seven days of the week lie inside the record, none of them without weather."""
        end = self.end_index(week_ending, ends_before_d)
        return 7 <= end <= len(self.rain_mm) and bool(self.told[end - 7 : end].all())


def judge_district(
    days: DailyWeather | Sequence[DailyWeather],
    place: Place,
    ground: Ground | None,
    settings: DistrictSettings,
) -> JudgedDays:
    """Run the ground through the weather once, each stretch anew, for any soft limit to be laid on afterwards."""
    record = [days] if isinstance(days, DailyWeather) else days
    return _joined([_judge_stretch(one, place, ground, settings) for one in record])


def _joined(parts: Sequence[JudgedDays]) -> JudgedDays:
    """Return stretches as one record, NaN on the days between them."""
    if len(parts) == 1:
        return parts[0]
    first = parts[0].first_day
    starts = [(part.first_day - first).days for part in parts]
    count = starts[-1] + len(parts[-1].rain_mm)
    dates = [first + timedelta(days=k) for k in range(count)]
    columns: dict[str, Any] = {"day_of_year": np.array([day.timetuple().tm_yday for day in dates])}
    for name in BY_DAY:
        columns[name] = np.full(count, np.nan)
        for start, part in zip(starts, parts, strict=True):
            values = getattr(part, name)
            columns[name][start : start + len(values)] = values
    return replace(parts[0], **columns, notes=_counted_together([part.notes for part in parts]))


def _counted_together(notes: Sequence[Sequence[str]]) -> tuple[str, ...]:
    """Return the notes of several stretches, those that count days of the same as one with the sum."""
    sums: dict[str, list[int]] = {}
    for note in (note for part in notes for note in part):
        counts = [int(count) for count in DAYS_COUNTED.findall(note)]
        blank = DAYS_COUNTED.sub("{}", note)
        sums[blank] = [a + b for a, b in zip_longest(sums.get(blank, []), counts, fillvalue=0)]
    return tuple(blank.format(*counts) for blank, counts in sums.items())


def _judge_stretch(
    days: DailyWeather, place: Place, ground: Ground | None, settings: DistrictSettings
) -> JudgedDays:
    base = ground or TYPICAL_GROUND
    # Only the sun's height counts, so the days are run on the meridian of UTC.
    there = replace(place, longitude_deg=0.0)
    weather = hours_from_days(days, there, "UTC")
    shown = _run_years(base, weather, there, SoilOptions())
    judged = shown if settings.soil == SoilOptions() else _run_years(base, weather, there, settings.soil)
    work = slice(settings.rule.work_from_h, settings.rule.work_to_h)
    return JudgedDays(
        first_day=days.first_day,
        shown_surface=_by_day(shown.surface_wetness).mean(axis=1),
        shown_subsoil=_by_day(shown.subsoil_wetness).mean(axis=1),
        shown_soil_c=_by_day(shown.soil_temp_c).mean(axis=1),
        day_of_year=np.array([day.timetuple().tm_yday for day in days.dates()]),
        wetness=_by_day(judged.judged_surface)[:, work].mean(axis=1),
        rain_mm=np.asarray(days.rain_mm[0], float),
        soil_c=_by_day(judged.soil_temp_c).mean(axis=1),
        frozen_share=_by_day(judged.frozen)[:, work].mean(axis=1),
        snow_mm=_by_day(judged.snow_mm)[:, 12],
        settings=settings,
        notes=weather.notes,
    )


def workdays_report(result: Workdays) -> dict[str, Any]:
    """The result as plain values for JSON: ``{"days": [...], "notes": [...]}``."""
    rows: list[dict[str, Any]] = [asdict(day) | {"date": day.date.isoformat()} for day in result.days]
    return {"days": rows, "notes": list(result.notes)}


def weekly_sums(rows: Sequence[Workday], week_endings: Sequence[date], ends_before_d: int = 0) -> list[float]:
    """Expected suitable days of the seven days that end `ends_before_d` days before each date; NaN
    outside.
    """
    sums = np.concatenate([[0.0], np.cumsum([row.suitable_chance for row in rows])])
    first = rows[0].date
    ends = [(day - first).days + 1 - ends_before_d for day in week_endings]
    return [float(sums[end] - sums[end - 7]) if 7 <= end < len(sums) else float("nan") for end in ends]


def _run_years(ground: Ground, weather: HourlyWeather, place: Place, options: SoilOptions) -> SoilTrace:
    """Run through the record with the typical crop planted anew each year, unless the ground names its
    own.
    """
    if ground.crop is not None:
        return run_soil_water([ground], weather, place, options=options)
    years = range(weather.start_utc.year, weather.end_utc.year + 1)
    return run_soil_water(
        [replace(ground, crop=Crop.CORN)], weather, place, options=options,
        plantings=[[date(year, *TYPICAL_PLANTING) for year in years]],
    )  # fmt: skip


def _by_day(values: NDArray[Any]) -> Floats:
    return values[0, 0].reshape(-1, 24).astype(float)


def _notes(judged: JudgedDays, typical: bool) -> tuple[str, ...]:
    ground = "silty clay loam, tiled, hydrologic group C, 40 % residue, corn from 8 May"
    told = judged.told
    unsure = f"the first {FIRST_DAYS_UNSURE} days depend"
    if not told.all():
        unsure = f"the first {FIRST_DAYS_UNSURE} days, there and after each hole, depend"
    elif len(told) <= FIRST_DAYS_UNSURE:
        unsure = "all days depend"
    by = judged.settings.name
    return (
        *judged.notes,
        f"ground: {ground if typical else 'as given'}; wetness is that of one such field with handbook values",
        f"chance: share of a district's ground that is fit, by {by}; not a promise for one field",
        f"{unsure} on the assumed start at field capacity",
    )
