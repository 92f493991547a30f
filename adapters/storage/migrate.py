"""Bringing a database up to date with Alembic; one written by a newer fitground is left alone.

The usual case, nothing to do, costs one query and never loads Alembic.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path

from sqlalchemy import Connection, inspect, text

from shared.errors import EventLogError

HEAD = "0002"
"""Version of the database that this fitground writes; the newest file in ``migrations/versions``."""
FIRST = "0001"
"""What files of fitground 0.1 hold, which kept no version in them."""
VERSIONS = ("0001", "0002")
UNMARKED = "without a version"
Opener = Callable[[], AbstractContextManager[Connection]]


def bring_up_to_date(reading: Opener, writing: Opener, name: str) -> str:
    """Make or upgrade the tables; return a sentence when data that was there was upgraded, else an empty text.

    Raises
    ------
    EventLogError
        The database is newer than this program.
    """
    with reading() as connection:
        found = version_of(connection)
    if found == HEAD:
        return ""
    if found not in ("", UNMARKED, *VERSIONS):
        raise EventLogError(
            f"{name} was written by a newer fitground (version {found} of the database; known: up to {HEAD}); update fitground."
        )
    with writing() as connection:
        # Somebody else may have done it since; under the lock nobody else can.
        found = version_of(connection)
        if found != HEAD:
            _upgrade(connection, stamp=FIRST if found == UNMARKED else "")
    return "" if not found else f"{name} was brought up to date (version {HEAD})"


def version_of(connection: Connection) -> str:
    """Return the version of a database; `UNMARKED` for one of the first fitground, empty when there is nothing yet."""
    tables = set(inspect(connection).get_table_names())
    if "alembic_version" in tables:
        row = connection.execute(text("SELECT version_num FROM alembic_version")).first()
        if row is not None:
            return str(row[0])
    return UNMARKED if "events" in tables else ""


def _upgrade(connection: Connection, stamp: str) -> None:
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    config.attributes["connection"] = connection
    if stamp:
        command.stamp(config, stamp)
    command.upgrade(config, "head")
