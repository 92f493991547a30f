"""The farm's records out of the log, as tables, CSV and PDF."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

from adapters.export.record_sheets import write_records
from scheduler.records.done import Done, work_done
from scheduler.records.missing import missing
from scheduler.records.tables import acreage, applications, nitrogen, planting
from scheduler.wiring.news import situation_now
from scheduler.wiring.workspace import Workspace
from shared.errors import WeatherUnavailable
from shared.record_table import RecordTable
from shared.weather_records import HourlyWeather

FOOT = "Filled from reports. Labels, local law and licensed people decide what must be kept."


def record_tables(
    workspace: Workspace, now: datetime, first: date | None = None, last: date | None = None
) -> tuple[list[RecordTable], list[str]]:
    """Return planting, acreage, applications, nitrogen and what is missing, and notes.

    Parameters
    ----------
    first, last : date, optional
        Only work of these days; all of the log where not given.
    """
    state, situation = situation_now(workspace, now)
    done = tuple(
        one
        for one in work_done(situation, state)
        if (first is None or one.day >= first) and (last is None or one.day <= last)
    )
    observed, notes = _weather(workspace, done, now)
    farm, today = situation.farm, now.astimezone(workspace.zone).date()
    tables = [
        planting(farm, done),
        acreage(farm, done),
        applications(farm, done, observed),
        nitrogen(situation, done),
        missing(farm, done, observed, today),
    ]
    return tables, notes


def write_farm_records(
    workspace: Workspace, folder: Path, now: datetime, first: date | None, last: date | None, size: str
) -> tuple[list[Path], list[RecordTable], list[str]]:
    """Write the records into a folder; return the files, the tables and notes."""
    tables, notes = record_tables(workspace, now, first, last)
    head = f"{workspace.farm.name}: records as of {now.astimezone(workspace.zone):%Y-%m-%d %H:%M}"
    return write_records(folder, tables, head, FOOT, size), tables, notes


def _weather(
    workspace: Workspace, done: tuple[Done, ...], now: datetime
) -> tuple[HourlyWeather | None, list[str]]:
    starts = [one.day for one in done if one.start is not None]
    if not starts:
        return None, []
    try:
        return workspace.weather.observed(workspace.farm.place, min(starts), now), []
    except WeatherUnavailable as error:
        return None, [f"No observed weather: {error}"]
