"""Cautions for the day: the usual ones for the job, the road, the heat, the dark and long hours.

They never block work and never replace a label: labels, local law and licensed people decide. The texts and
their sources stand in shared/tables/cautions.csv.
"""

from __future__ import annotations

from csv import DictReader
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache
from importlib.resources import files

import numpy as np

from scheduler.crew.language import Words
from scheduler.farm.farm import Farm
from scheduler.windows.records import Outlook
from scheduler.workability import heat_index_c, sun_times
from shared.units import to_people

# Heat index from which people are warned, and working hours that count as a long day: common practice, no source.
HEAT_FROM_C = 30.0
LONG_DAY_H = 11.0
STORM_RAIN_MM_H = 1.0
STORM_CHANCE = 0.3
LAMP_MARGIN = timedelta(minutes=30)


@dataclass(frozen=True)
class Caution:
    """One caution: its key, what it applies to, text and source."""

    key: str
    applies_to: tuple[str, ...]
    text: str
    source: str


@lru_cache(maxsize=1)
def caution_table() -> dict[str, Caution]:
    """Return the cautions by key."""
    with files("shared").joinpath("tables", "cautions.csv").open(encoding="utf-8") as stream:
        rows = [
            Caution(row["key"], tuple(row["applies_to"].split(";")), row["text"], row["source"])
            for row in DictReader(stream)
        ]
    return {row.key: row for row in rows}


@dataclass(frozen=True)
class DayFacts:
    """What the cautions of a person's day depend on."""

    operations: frozenset[str]
    with_machine: bool
    on_foot: bool
    leave_at: datetime
    home_by: datetime
    work_start: datetime
    work_end: datetime
    moves: tuple[datetime, ...] = ()
    rinses: bool = False


def cautions_for(facts: DayFacts, farm: Farm, outlook: Outlook, words: Words) -> tuple[str, ...]:
    """Return the sentences for a day, the most pressing first."""
    table = caution_table()
    values: dict[str, dict[str, str]] = {}
    keys: list[str] = []
    heat = warmest_heat_index_c(outlook, facts.work_start, facts.work_end)
    if heat is not None and heat >= HEAT_FROM_C:
        number, unit = to_people(heat, "temperature_c", farm.units)
        values["heat"] = {"heat": f"{words.number(number)} {unit}"}
        keys.append("heat")
    if storm_chance(outlook, facts.work_start, facts.work_end) >= STORM_CHANCE:
        keys.append("lightning")
    hours = (facts.home_by - facts.leave_at) / timedelta(hours=1)
    if hours > LONG_DAY_H:
        values["fatigue"] = {"hours": words.number(hours, 1)}
        keys.append("fatigue")
    if facts.with_machine and in_lamp_time(facts, farm):
        keys.append("road lamps")
    keys += [row.key for row in table.values() if _applies(row, facts)]
    return tuple(words(table[key].text, **values.get(key, {})) for key in dict.fromkeys(keys))


def _applies(row: Caution, facts: DayFacts) -> bool:
    if row.applies_to == ("*",):
        return facts.with_machine
    if row.applies_to in (("*machine",), ("*road",)):
        return facts.with_machine
    if row.applies_to == ("*foot",):
        return facts.on_foot
    if row.applies_to == ("*rinse",):
        return facts.rinses
    return bool(facts.operations & set(row.applies_to))


def _hours(outlook: Outlook, start: datetime, end: datetime) -> slice:
    first = max(0, outlook.weather.hour_index(start))
    return slice(first, max(first, min(outlook.weather.hours, outlook.weather.hour_index(end) + 1)))


def warmest_heat_index_c(outlook: Outlook, start: datetime, end: datetime) -> float | None:
    """Return the highest median heat index [degC] between two times; None without weather."""
    part = _hours(outlook, start, end)
    temp, humidity = outlook.weather.temp_c[:, part], outlook.weather.rh_pct[:, part]
    if temp.size == 0 or np.isnan(temp).all():
        return None
    return float(np.nanmax(np.nanmedian(heat_index_c(temp, humidity), axis=0)))


def storm_chance(outlook: Outlook, start: datetime, end: datetime) -> float:
    """Return the share of members with an hour of heavy rain between two times."""
    rain = outlook.weather.rain_mm[:, _hours(outlook, start, end)]
    if rain.size == 0:
        return 0.0
    return float(np.mean(np.nanmax(rain, axis=1) >= STORM_RAIN_MM_H))


def in_lamp_time(facts: DayFacts, farm: Farm) -> bool:
    """Return whether leaving, a move between fields or coming home falls in the time for lamps."""
    times = sun_times(facts.leave_at.date(), farm.place, farm.time_zone)
    if times is None:
        return True
    sunrise, sunset = times
    moments = (facts.leave_at, facts.home_by, *facts.moves)
    return any(moment < sunrise + LAMP_MARGIN or moment > sunset - LAMP_MARGIN for moment in moments)
