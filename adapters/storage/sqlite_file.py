"""The SQLite file of a farm: tables, guards, transactions, and database errors as sentences.

WAL journal with ``synchronous=FULL``: a commit that returned survives a kill and a power cut. Triggers refuse any
change or removal of a stored event.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
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
    inspect,
    text,
)
from sqlalchemy.exc import DatabaseError, OperationalError
from sqlalchemy.pool import StaticPool

from shared.errors import EventLogError

BUSY_TIMEOUT_S = 5.0
MEMORY = ":memory:"

_meta = MetaData()
events_table = Table(
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
plans_table = Table(
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
        # IMMEDIATE takes the write lock at once, so that two writers never read the same last sequence; readers
        # take none, and go on while somebody writes.
        writes = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    with reading(engine) as connection:
        known = set(inspect(connection).get_table_names())
    if not {"events", "plans"} <= known:
        with writing(engine) as connection:
            _meta.create_all(connection)
            for guard in _GUARDS:
                connection.execute(text(guard))
    return engine


def engine_of(where: Path | str | Engine, busy_timeout_s: float = BUSY_TIMEOUT_S) -> Engine:
    """Return an engine: one that is open already, or that of a file (``:memory:`` keeps nothing)."""
    if isinstance(where, Engine):
        return where
    return open_database(None if str(where) == MEMORY else Path(where), busy_timeout_s)


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """Give a connection that sees one moment of the file and waits for nobody."""
    with _sentences(engine), engine.connect() as connection:
        yield connection


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """Give a connection in one transaction that is on disk when this returns, or did not happen."""
    with (
        _sentences(engine),
        engine.connect().execution_options(writes=True) as connection,
        connection.begin(),
    ):
        yield connection


@contextmanager
def _sentences(engine: Engine) -> Iterator[None]:
    """Turn database errors into one sentence."""
    file = engine.url.database
    name = f"the event log {Path(file).name}" if file else "the event log in memory"
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
