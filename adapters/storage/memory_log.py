"""An event log in a list: for what-ifs and tests; passes the same suite as the stored one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from shared.errors import LogMoved
from shared.event_record import EventRecord


class MemoryEventLog:
    """An append-only log in memory (port `shared.ports.EventLog`)."""

    def __init__(self, events: Sequence[EventRecord] = ()) -> None:
        self._events: list[EventRecord] = []
        self.append(events)

    def append(self, events: Sequence[EventRecord], expected_last: int | None = None) -> list[EventRecord]:
        """Store events in order (see the port)."""
        if expected_last is not None and self.last_sequence() != expected_last:
            raise LogMoved(f"somebody else wrote to the log (expected event {expected_last}); read it again.")
        known = {event.id: event for event in self._events}
        stored = []
        for event in events:
            if event.id not in known:
                known[event.id] = replace(event, sequence=len(self._events) + 1)
                self._events.append(known[event.id])
            stored.append(known[event.id])
        return stored

    def read(self, after: int = 0) -> list[EventRecord]:
        """Return events with a sequence above `after`."""
        return self._events[after:]

    def last_sequence(self) -> int:
        """Return the sequence of the last event."""
        return len(self._events)
