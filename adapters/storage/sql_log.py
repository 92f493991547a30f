"""The event log of a farm in its database: append-only, on disk before it is acknowledged.

Triggers refuse any change or removal of a stored event. A row that cannot be read is named and left out; the others are
read.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, select

from adapters.storage.database import BUSY_TIMEOUT_S, Database, open_database
from adapters.storage.tables import events as _events
from shared.errors import LogMoved
from shared.event_record import EventRecord


class SqlEventLog:
    """An append-only log (port `shared.ports.EventLog`).

    Attributes
    ----------
    damaged : tuple of str
        What the last `read` had to leave out, a sentence each.
    """

    def __init__(self, where: Path | str | Database, busy_timeout_s: float = BUSY_TIMEOUT_S) -> None:
        self._database = open_database(where, busy_timeout_s=busy_timeout_s)
        self.damaged: tuple[str, ...] = ()

    def append(self, events: Sequence[EventRecord], expected_last: int | None = None) -> list[EventRecord]:
        """Store events in one transaction (see the port)."""
        stored: list[EventRecord] = []
        with self._database.writing() as connection:
            last = _last(connection)
            if expected_last is not None and last != expected_last:
                raise LogMoved(
                    f"somebody else wrote to the log (expected event {expected_last}, found {last}); read it again."
                )
            for record in events:
                known = (
                    connection.execute(select(_events).where(_events.c.id == record.id)).mappings().first()
                )
                if known is not None:
                    stored.append(_record(dict(known)))
                    continue
                last += 1
                connection.execute(_events.insert().values(sequence=last, **_row(record)))
                stored.append(replace(record, sequence=last))
        return stored

    def read(self, after: int = 0) -> list[EventRecord]:
        """Return events with a sequence above `after`; rows that cannot be read are named in `damaged`."""
        with self._database.reading() as connection:
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
        with self._database.reading() as connection:
            return _last(connection)


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
        happened_at=_moment(row["happened_at"]),
        recorded_at=_moment(row["recorded_at"]),
        body=body,
        by=row["by_whom"],
        source=row["source"],
        version=int(row["version"]),
        sequence=int(row["sequence"]),
    )


def _moment(text: str) -> datetime:
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise ValueError(f"its time {text!r} has no zone")
    return moment
