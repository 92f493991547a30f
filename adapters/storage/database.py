"""The database of a farm: a SQLite file, or a shared PostgreSQL server; transactions, and its errors as sentences.

SQLite runs with a WAL journal and ``synchronous=FULL``: a commit that returned survives a kill and a power cut. On a shared
server every farm has a schema of its own, so several farms never see each other. Writers take turns within a program
(`adapters.storage.turns`) and one lock each among programs, so that events get their numbers in the order in which they
become visible, and no reader ever skips one.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DatabaseError, DBAPIError, InterfaceError, OperationalError
from sqlalchemy.pool import StaticPool

from adapters.storage.migrate import bring_up_to_date
from adapters.storage.turns import Turns, locked, turns_of
from shared.errors import EventLogError

BUSY_TIMEOUT_S = 5.0
MEMORY = ":memory:"
FULL = ("full", "No space left", "disk quota")


@dataclass(frozen=True)
class Database:
    """An open database of one farm.

    Attributes
    ----------
    engine : Engine
    name : str
        What sentences call it.
    schema : str or None
        The farm's own schema on a shared server; None in a file.
    notes : tuple of str
        What was done on opening that a person should know.
    turns : Turns
        The queue of this program's writers.
    patience_s : float
        How long to wait for another writer [s].
    """

    engine: Engine
    name: str
    schema: str | None = None
    notes: tuple[str, ...] = ()
    turns: Turns = field(default_factory=Turns, repr=False, compare=False)
    patience_s: float = BUSY_TIMEOUT_S

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that sees one moment and waits for nobody."""
        with sentences(self.name), self.engine.connect() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give a connection in one transaction that is on disk when this returns, or did not happen."""
        with (
            self.turn(),
            sentences(self.name),
            self.engine.connect().execution_options(writes=True) as connection,
            connection.begin(),
        ):
            if self.schema is not None:
                connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _key(self.schema)})
            yield connection

    @contextmanager
    def turn(self) -> Iterator[None]:
        """Keep this program's other writers waiting, for who reads, judges what was read, and then writes."""
        with self.turns.turn(self.name, self.patience_s):
            yield

    def close(self) -> None:
        """Give back every connection."""
        self.engine.dispose()


def open_database(where: Path | str | Database, farm: str = "farm", busy_timeout_s: float = BUSY_TIMEOUT_S) -> Database:  # fmt: skip
    """Open (and create, and bring up to date) the database of a farm.

    Parameters
    ----------
    where : Path or str or Database
        A file, ``:memory:``, an address such as ``postgresql://fitground@office/fields``, or one that is open already.
    farm : str
        Name of the farm on a shared server.
    busy_timeout_s : float
        How long to wait for another writer [s].

    Raises
    ------
    EventLogError
        It cannot be opened, is damaged, or was written by a newer fitground.
    """
    if isinstance(where, Database):
        return where
    if "://" in str(where):
        found = _server(str(where), farm, busy_timeout_s)
    else:
        found = _file(None if str(where) == MEMORY else Path(where), busy_timeout_s)
    note = bring_up_to_date(found.reading, found.writing, found.name)
    return replace(found, notes=(note,) if note else ())


def _file(path: Path | None, busy_timeout_s: float) -> Database:
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

    name = "the event log in memory" if path is None else f"the event log {path.name}"
    turns = Turns() if path is None else turns_of(str(path.resolve()))
    return Database(engine, name, turns=turns, patience_s=busy_timeout_s)


def _server(address: str, farm: str, busy_timeout_s: float) -> Database:
    url = server_url(address)
    schema = schema_of(farm)
    name = f"the event log at {url.host or 'this computer'}/{url.database}"
    wait_ms = max(1, round(busy_timeout_s * 1000))
    try:
        engine = create_engine(
            url, pool_pre_ping=True,
            connect_args={"connect_timeout": max(2, round(busy_timeout_s)), "options": f"-c lock_timeout={wait_ms} -c search_path={schema}"},
        )  # fmt: skip
    except ModuleNotFoundError as error:
        raise EventLogError(
            f"{name} needs the PostgreSQL driver; install it with: pip install 'fitground[postgres]'."
        ) from error
    key = f"{url.render_as_string()} {schema}"
    found = Database(engine, name, schema, turns=turns_of(key), patience_s=busy_timeout_s)
    with found.reading() as connection:
        there = connection.execute(
            text("SELECT 1 FROM information_schema.schemata WHERE schema_name = :name"), {"name": schema}
        ).first()
    if there is None:
        with found.writing() as connection:
            connection.execute(text(f'CREATE SCHEMA IF NOT EXISTS "{schema}"'))
    return found


def server_url(address: str) -> URL:
    """Return the address of a shared server.

    Raises
    ------
    EventLogError
        No PostgreSQL address, or one with a password in it.
    """
    allowed = "an address such as postgresql://fitground@office.example/fields"
    try:
        url = make_url(address)
    except (ArgumentError, ValueError) as error:
        raise EventLogError(f"store.url {address!r} is no address; allowed: {allowed}.") from error
    if url.get_backend_name() != "postgresql" or not url.database:
        raise EventLogError(f"store.url {url.render_as_string()!r} is not possible; allowed: {allowed}.")
    if url.password is not None:
        raise EventLogError(
            f"store.url holds a password; allowed: {allowed}, the password in PGPASSWORD or a .pgpass file."
        )
    return url.set(drivername="postgresql+psycopg")


def schema_of(farm: str) -> str:
    """Return the name of a farm's schema: letters, figures and low lines, at most 60 of them."""
    plain = re.sub(r"[^a-z0-9]+", "_", farm.lower()).strip("_")[:40]
    # What the plain name leaves out still tells two farms apart.
    same = plain == farm.lower().replace("-", "_")
    mark = "" if same else f"_{hashlib.sha256(farm.encode()).hexdigest()[:8]}"
    return f"farm_{plain}{mark}"


def _key(schema: str) -> int:
    return int.from_bytes(hashlib.sha256(schema.encode()).digest()[:8], "big", signed=True)


@contextmanager
def sentences(name: str) -> Iterator[None]:
    """Turn database errors into one sentence."""
    try:
        yield
    except (OperationalError, InterfaceError) as error:
        reason = _reason(error)
        if "locked" in reason or "busy" in reason or "lock timeout" in reason:
            raise locked(name) from error
        if any(word in reason for word in FULL):
            raise EventLogError(f"{name} cannot grow: the disk is full; nothing was stored.") from error
        raise EventLogError(f"{name} cannot be used: {reason}.") from error
    except DatabaseError as error:
        reason = _reason(error)
        if "lock timeout" in reason:
            raise locked(name) from error
        raise EventLogError(
            f"{name} is damaged or no database ({reason}); restore it from a backup."
        ) from error


def _reason(error: DBAPIError) -> str:
    """Return the first line of what the database says, without a full stop."""
    lines = [line.strip() for line in str(error.orig).splitlines() if line.strip()]
    return lines[0].rstrip(".") if lines else type(error).__name__
