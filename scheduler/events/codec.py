"""Event <-> stored envelope: typed bodies, old versions upgraded step by step on reading, poison kept aside."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from pydantic import ValidationError

from scheduler.events.kinds import KINDS, Body
from shared.event_record import EventRecord
from shared.vocabulary import EventKind

CURRENT_VERSION = 1
Upgrade = Callable[[dict[str, Any]], dict[str, Any]]
# (kind, version) -> function that turns a body of that version into the next one.
UPGRADES: dict[tuple[str, int], Upgrade] = {}


@dataclass(frozen=True)
class Event:
    """One event with a typed body."""

    id: str
    kind: EventKind
    happened_at: datetime
    recorded_at: datetime
    body: Body
    by: str = ""
    source: str = ""
    sequence: int = 0


class PoisonEvent(ValueError):
    """A stored event that cannot be understood; the message says why in one sentence."""


def decode(record: EventRecord, upgrades: dict[tuple[str, int], Upgrade] | None = None) -> Event:
    """Return the typed event of a stored record.

    Raises
    ------
    PoisonEvent
        Unknown kind, a version from the future, or a body that does not fit its kind.
    """
    steps = UPGRADES if upgrades is None else upgrades
    try:
        kind = EventKind(record.kind)
    except ValueError as error:
        raise PoisonEvent(f"event {record.id}: the kind {record.kind!r} is not known") from error
    body, version = dict(record.body), record.version
    while version < CURRENT_VERSION or (record.kind, version) in steps:
        step = steps.get((record.kind, version))
        if step is None:
            break
        body, version = step(body), version + 1
    if version > CURRENT_VERSION and (record.kind, version - 1) not in steps:
        raise PoisonEvent(
            f"event {record.id}: version {record.version} of {record.kind} is newer than this program"
        )
    try:
        typed = KINDS[kind].model_validate(body)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(part) for part in first["loc"])
        raise PoisonEvent(f"event {record.id}: {record.kind}.{place}: {first['msg']}") from error
    return Event(
        record.id,
        kind,
        record.happened_at,
        record.recorded_at,
        typed,
        record.by,
        record.source,
        record.sequence,
    )


def encode(event: Event) -> EventRecord:
    """Return the envelope of an event; times in UTC."""
    return EventRecord(
        id=event.id,
        kind=event.kind.value,
        happened_at=event.happened_at.astimezone(UTC),
        recorded_at=event.recorded_at.astimezone(UTC),
        body=event.body.model_dump(mode="json", by_alias=True, exclude_none=True),
        by=event.by,
        source=event.source,
        version=CURRENT_VERSION,
        sequence=event.sequence,
    )
