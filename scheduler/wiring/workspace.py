"""An opened farm folder: its description, weather source, event log, plan shelf and the service's books, joined."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path
from zoneinfo import ZoneInfo

from adapters.storage.database import Database, open_database
from adapters.storage.farm_files import read_farm_folder
from adapters.storage.forecast_book import SqlForecastBook
from adapters.storage.plan_shelf import SqlPlanShelf
from adapters.storage.service_book import SqlServiceBook
from adapters.storage.sql_log import SqlEventLog
from adapters.weather import open_weather
from adapters.weather.late import LateWeather
from scheduler.farm.build import build_farm, located
from scheduler.farm.farm import Farm
from scheduler.windows.rule_check import rule_faults
from shared.errors import FarmFileError, Fault, FitgroundError, WeatherUnavailable
from shared.ports import EventLog, ForecastBook, ServiceBook, WeatherSource

DATABASE = "fitground.sqlite"
STORE_VARIABLE = "FITGROUND_STORE_URL"
"""Environment variable that goes before the farm file's ``[store] url``."""


@dataclass(frozen=True)
class Workspace:
    """An opened farm folder."""

    folder: Path
    farm: Farm
    warnings: tuple[Fault, ...]
    weather: WeatherSource
    log: EventLog
    shelf: SqlPlanShelf
    forecasts: ForecastBook
    book: ServiceBook
    database: Database

    @property
    def zone(self) -> ZoneInfo:
        """The farm's time zone."""
        return ZoneInfo(self.farm.time_zone)


def _folder(path: Path) -> Path:
    return path.parent if path.name == "farm.toml" else path


def open_farm(path: Path, quiet_log: bool = False, environment: Mapping[str, str] | None = None) -> Workspace:
    """Open a farm folder (or its ``farm.toml``).

    Parameters
    ----------
    path : Path
    quiet_log : bool
        Only read the description; the log stays in memory and nothing is created.
    environment : mapping, optional
        Environment variables; the process's own where not given.

    Raises
    ------
    FarmFileError
        All faults of the files at once.
    """
    folder = _folder(path)
    farm, warnings = _read_farm(folder)
    weather = LateWeather(partial(open_weather, folder, farm.weather, farm.time_zone))
    database = _database(folder, farm, quiet_log, os.environ if environment is None else environment)
    return Workspace(
        folder, farm, tuple(warnings), weather, SqlEventLog(database), SqlPlanShelf(database), SqlForecastBook(database),
        SqlServiceBook(database), database,
    )  # fmt: skip


def _database(folder: Path, farm: Farm, quiet_log: bool, environment: Mapping[str, str]) -> Database:
    if quiet_log:
        return open_database(":memory:")
    url = environment.get(STORE_VARIABLE, "") or farm.store.url
    if url:
        return open_database(url, farm.store.name or folder.resolve().name)
    return open_database(folder / DATABASE)


def shared_store(folder: Path) -> bool:
    """Return whether a farm's log lies on a shared server; a farm file that cannot be read says nothing of one."""
    if os.environ.get(STORE_VARIABLE, ""):
        return True
    try:
        return bool(_read_farm(folder)[0].store.url)
    except FitgroundError:
        return False


def _read_farm(folder: Path, today: date | None = None) -> tuple[Farm, list[Fault]]:
    written = read_farm_folder(folder)
    farm, warnings = build_farm(written, today)
    faults = [located(fault, written) for fault in rule_faults(farm)]
    if faults:
        raise FarmFileError([*warnings, *faults])
    return farm, warnings


def check_farm(path: Path, today: date) -> tuple[list[Fault], Farm | None]:
    """Return every fault and warning of a farm folder, and the farm when it can be used."""
    try:
        farm, warnings = _read_farm(_folder(path), today)
    except FarmFileError as error:
        return list(error.faults), None
    faults = _weather_faults(_folder(path), farm)
    return [*warnings, *faults], None if faults else farm


def open_with_weather(path: Path) -> Workspace:
    """Open a farm folder whose weather will be asked for again and again, so that it must be there.

    Raises
    ------
    FarmFileError
        All faults of the files at once, or those of the weather source.
    """
    workspace = open_farm(path)
    faults = _weather_faults(workspace.folder, workspace.farm)
    if faults:
        workspace.database.close()
        raise FarmFileError(faults)
    return workspace


def _weather_faults(folder: Path, farm: Farm) -> list[Fault]:
    """Return what a weather source says against its name or options, as faults of their keys."""
    try:
        open_weather(folder, farm.weather, farm.time_zone)
    except WeatherUnavailable as error:
        said = str(error).removeprefix("farm.toml: ").removesuffix(".")
        key, _, problem = said.partition(" ") if said.startswith("weather.") else ("weather", "", said)
        return [Fault("farm.toml", key, "", problem, "")]
    return []
