"""Backup and restore of a farm's SQLite file: online, whole, checked, and never over something that is there."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from shared.errors import EventLogError


def backup(database: Path, target: Path) -> int:
    """Copy the database to a new file while others write; return how many events the copy holds.

    Raises
    ------
    EventLogError
        Nothing to copy, the target exists, or the copy is not sound.
    """
    if not database.exists():
        raise EventLogError(f"{database.parent.name} has no event log yet; there is nothing to back up.")
    if target.exists():
        raise EventLogError(f"{target.name} exists already; choose a new file name.")
    target.parent.mkdir(parents=True, exist_ok=True)
    draft = target.with_name(f"{target.name}.part")
    draft.unlink(missing_ok=True)
    try:
        with closing(sqlite3.connect(database)) as source, closing(sqlite3.connect(draft)) as copy:
            source.backup(copy)
        count = checked(draft)
        draft.replace(target)
    except sqlite3.Error as error:
        draft.unlink(missing_ok=True)
        raise EventLogError(f"{database.name} cannot be backed up: {error}.") from error
    return count


def restore(saved: Path, database: Path) -> int:
    """Put a backup in the place of a farm's database; return how many events it holds.

    Raises
    ------
    EventLogError
        The backup is none or damaged, or the farm has a log already.
    """
    if not saved.exists():
        raise EventLogError(f"{saved.name} does not exist.")
    if database.exists():
        raise EventLogError(f"{database} exists already; move it away first, nothing is ever overwritten.")
    count = checked(saved)
    draft = database.with_name(f"{database.name}.part")
    try:
        with closing(sqlite3.connect(saved)) as source, closing(sqlite3.connect(draft)) as copy:
            source.backup(copy)
        draft.replace(database)
    except (sqlite3.Error, OSError) as error:
        draft.unlink(missing_ok=True)
        raise EventLogError(f"{saved.name} cannot be restored: {error}.") from error
    return count


def checked(path: Path) -> int:
    """Return how many events a database file holds.

    Raises
    ------
    EventLogError
        It is damaged, or no event log.
    """
    try:
        with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as file:
            verdict = file.execute("PRAGMA integrity_check").fetchone()[0]
            if verdict != "ok":
                raise EventLogError(f"{path.name} is damaged: {verdict}.")
            return int(file.execute("SELECT count(*) FROM events").fetchone()[0])
    except sqlite3.Error as error:
        raise EventLogError(f"{path.name} is no event log of fitground ({error}).") from error
