"""The event log and the plan shelf in one SQLite file per farm: append-only, on disk before it is acknowledged.

WAL journal with ``synchronous=FULL``: a commit that returned survives a kill and a power cut. Triggers refuse any
change or removal of a stored event.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import (
    Column,
    Connection,
    Engine,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    create_engine,
    event,
    select,
    text,
)
from sqlalchemy.exc import DatabaseError, OperationalError
from sqlalchemy.pool import StaticPool

from shared.errors import EventLogError
from shared.event_record import EventRecord

BUSY_TIMEOUT_S = 5.0

_meta = MetaData()
_events = Table(
    "events",
    _meta,
    Column("sequence", Integer, primary_key=True, autoincrement=True),
    Column("id", String(200), nullable=False, unique=True),
    Column("kind", String(60), nullable=False),
    Column("version", Integer, nullable=False),
    Column("happened_at", String(40), nullable=False),
    Column("recorded_at", String(40), nullable=False),
    Column("by_whom", String(200), nullable=False),
    Column("source", String(200), nullable=False),
    Column("body", Text, nullable=False),
)
_plans = Table(
    "plans",
    _meta,
    Column("place", Integer, primary_key=True, autoincrement=True),
    Column("id", String(200), nullable=False, unique=True),
    Column("made_at", String(40), nullable=False),
    Column("document", Text, nullable=False),
)
_GUARDS = (
    "CREATE TRIGGER IF NOT EXISTS events_stay BEFORE UPDATE ON events "
    "BEGIN SELECT RAISE(ABORT, 'events are never changed'); END",
    "CREATE TRIGGER IF NOT EXISTS events_remain BEFORE DELETE ON events "
    "BEGIN SELECT RAISE(ABORT, 'events are never removed'); END",
)


def open_database(path: Path | None, busy_timeout_s: float = BUSY_TIMEOUT_S) -> Engine:
    """Open (and create) the database of a farm.

    Parameters
    ----------
    path : Path or None
        File; None keeps everything in memory.
    busy_timeout_s : float
        How long to wait for another writer [s].

    Raises
    ------
    EventLogError
        The file cannot be opened as a database.
    """
    options: dict[str, Any] = {"connect_args": {"timeout": busy_timeout_s, "check_same_thread": False}}
    if path is None:
        options["poolclass"] = StaticPool
    engine = create_engine("sqlite://" if path is None else f"sqlite:///{path}", **options)

    @event.listens_for(engine, "connect")
    def _settings(connection: Any, _record: Any) -> None:
        connection.isolation_level = None
        cursor = connection.cursor()
        cursor.execute("PRAGMA journal_mode=WAL")
        cursor.execute("PRAGMA synchronous=FULL")
        cursor.close()

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        # IMMEDIATE takes the write lock at once, so that two writers never read the same last sequence.
        connection.exec_driver_sql("BEGIN IMMEDIATE")

    with _sentences(path), engine.begin() as connection:
        _meta.create_all(connection)
        for guard in _GUARDS:
            connection.execute(text(guard))
    return engine


@contextmanager
def _sentences(path: Path | None) -> Iterator[None]:
    """Turn database errors into one sentence."""
    name = "the event log in memory" if path is None else f"the event log {path.name}"
    try:
        yield
    except OperationalError as error:
        reason = str(error.orig)
        if "locked" in reason or "busy" in reason:
            raise EventLogError(
                f"{name} is locked by another program; nothing was stored, try again."
            ) from error
        if "full" in reason:
            raise EventLogError(f"{name} cannot grow: the disk is full; nothing was stored.") from error
        raise EventLogError(f"{name} cannot be used: {reason}.") from error
    except DatabaseError as error:
        raise EventLogError(
            f"{name} is damaged or no database ({error.orig}); restore it from a backup."
        ) from error


class SqliteEventLog:
    """An append-only log in SQLite (port `shared.ports.EventLog`)."""

    def __init__(self, engine: Engine, path: Path | None = None) -> None:
        self._engine, self._path = engine, path
        self.damaged: tuple[str, ...] = ()

    def append(self, events: Sequence[EventRecord], expected_last: int | None = None) -> list[EventRecord]:
        """Store events in one transaction (see the port)."""
        stored: list[EventRecord] = []
        with _sentences(self._path), self._engine.begin() as connection:
            if expected_last is not None and _last(connection) != expected_last:
                raise EventLogError(
                    f"somebody else wrote to the log (expected event {expected_last}, found {_last(connection)}); read it again."
                )
            for record in events:
                known = (
                    connection.execute(select(_events).where(_events.c.id == record.id)).mappings().first()
                )
                if known is not None:
                    stored.append(_record(dict(known)))
                    continue
                result = connection.execute(_events.insert().values(**_row(record)))
                key = result.inserted_primary_key
                stored.append(replace(record, sequence=int(key[0]) if key is not None else 0))
        return stored

    def read(self, after: int = 0) -> list[EventRecord]:
        """Return events with a sequence above `after`; rows that cannot be read are named in `damaged`."""
        with _sentences(self._path), self._engine.begin() as connection:
            rows = connection.execute(
                select(_events).where(_events.c.sequence > after).order_by(_events.c.sequence)
            ).mappings()
            found = [dict(row) for row in rows]
        out, damaged = [], []
        for row in found:
            try:
                out.append(_record(row))
            except (ValueError, TypeError, KeyError) as error:
                damaged.append(
                    f"event {row.get('sequence')} of the log cannot be read ({error}); it is left out."
                )
        self.damaged = tuple(damaged)
        return out

    def last_sequence(self) -> int:
        """Return the sequence of the last event."""
        with _sentences(self._path), self._engine.begin() as connection:
            return _last(connection)


class SqlitePlanShelf:
    """Issued plans in the same file (port `shared.ports.PlanShelf`)."""

    def __init__(self, engine: Engine, path: Path | None = None) -> None:
        self._engine, self._path = engine, path

    def put(self, plan_id: str, made_at: datetime, document: str) -> None:
        """Keep a plan document."""
        with _sentences(self._path), self._engine.begin() as connection:
            if connection.execute(select(_plans.c.id).where(_plans.c.id == plan_id)).first() is None:
                connection.execute(
                    _plans.insert().values(
                        id=plan_id, made_at=made_at.astimezone(UTC).isoformat(), document=document
                    )
                )

    def get(self, plan_id: str) -> str | None:
        """Return a plan document, or None."""
        with _sentences(self._path), self._engine.begin() as connection:
            row = connection.execute(select(_plans.c.document).where(_plans.c.id == plan_id)).first()
        return None if row is None else str(row[0])

    def latest(self) -> str | None:
        """Return the document of the plan put last, or None."""
        found = self.last(1)
        return found[0] if found else None

    def last(self, count: int) -> list[str]:
        """Return the documents of the plans put last, newest first."""
        with _sentences(self._path), self._engine.begin() as connection:
            rows = connection.execute(
                select(_plans.c.document).order_by(_plans.c.place.desc()).limit(count)
            ).all()
        return [str(row[0]) for row in rows]


def _last(connection: Connection) -> int:
    row = connection.execute(select(_events.c.sequence).order_by(_events.c.sequence.desc()).limit(1)).first()
    return 0 if row is None else int(row[0])


def _row(record: EventRecord) -> dict[str, Any]:
    return {
        "id": record.id,
        "kind": record.kind,
        "version": record.version,
        "happened_at": record.happened_at.astimezone(UTC).isoformat(),
        "recorded_at": record.recorded_at.astimezone(UTC).isoformat(),
        "by_whom": record.by,
        "source": record.source,
        "body": json.dumps(record.body, ensure_ascii=False, sort_keys=True),
    }


def _record(row: dict[str, Any]) -> EventRecord:
    body = json.loads(row["body"])
    if not isinstance(body, dict):
        raise ValueError("its body is no object")
    return EventRecord(
        id=row["id"],
        kind=row["kind"],
        happened_at=datetime.fromisoformat(row["happened_at"]),
        recorded_at=datetime.fromisoformat(row["recorded_at"]),
        body=body,
        by=row["by_whom"],
        source=row["source"],
        version=int(row["version"]),
        sequence=int(row["sequence"]),
    )
