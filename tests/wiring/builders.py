"""A workspace over a log file, without farm files or weather."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

from adapters.storage.database import Database, open_database
from adapters.storage.forecast_book import SqlForecastBook
from adapters.storage.plan_shelf import SqlPlanShelf
from adapters.storage.service_book import SqlServiceBook
from adapters.storage.sql_log import SqlEventLog
from scheduler.farm.farm import Farm
from scheduler.wiring.workspace import Workspace


def workspace(database: Database | Path, farm: Farm, weather: Any = None) -> Workspace:
    """Return a workspace whose log lies in a database."""
    found = open_database(database)
    return Workspace(
        Path("."), farm, (), cast(Any, weather), SqlEventLog(found), SqlPlanShelf(found), SqlForecastBook(found),
        SqlServiceBook(found), found,
    )  # fmt: skip
