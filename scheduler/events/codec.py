"""Event <-> stored envelope: typed bodies, old versions upgraded step by step on reading, poison kept aside."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from pydantic import ValidationError

from scheduler.events.kinds import KINDS, Body
from shared.event_record import EventRecord
from shared.vocabulary import EventKind

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


def current_version(kind: str, upgrades: Mapping[tuple[str, int], Upgrade] | None = None) -> int:
    """Return the version in which bodies of a kind are written: one above its last upgrade."""
    steps = UPGRADES if upgrades is None else upgrades
    return 1 + max((version for name, version in steps if name == kind), default=0)


def decode(record: EventRecord, upgrades: Mapping[tuple[str, int], Upgrade] | None = None) -> Event:
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
    for moment in (record.happened_at, record.recorded_at):
        if moment.tzinfo is None:
            raise PoisonEvent(f"event {record.id}: its time {moment} has no zone")
    newest = current_version(record.kind, steps)
    if not 1 <= record.version <= newest:
        raise PoisonEvent(
            f"event {record.id}: version {record.version} of {record.kind} is not known; known: 1 to {newest}"
        )
    body = dict(record.body)
    for version in range(record.version, newest):
        try:
            body = steps[(record.kind, version)](dict(body))
        except (KeyError, TypeError, ValueError) as error:
            raise PoisonEvent(
                f"event {record.id}: version {version} of {record.kind} cannot be brought up to date ({error!r})"
            ) from error
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
        version=current_version(event.kind.value),
        sequence=event.sequence,
    )
