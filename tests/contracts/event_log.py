"""What every event log must do (port `shared.ports.EventLog`). Subclass it and say how a fresh log is made."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from shared.errors import EventLogError
from shared.event_record import EventRecord
from shared.ports import EventLog

MOMENT = datetime(2027, 5, 10, 12, 0, tzinfo=UTC)


def record(name: str, **more: object) -> EventRecord:
    """Return a rain reading with an id."""
    body = {"rain_mm": 12.5, "field": "f1", "note": "Größe, niña, 雨"}
    parts: dict[str, object] = {"body": body, "by": "ann", "source": "page", "version": 3} | more
    return EventRecord(name, "rain_measured", MOMENT, MOMENT + timedelta(minutes=3), **parts)  # type: ignore[arg-type]


class EventLogContract:
    """The suite."""

    def fresh(self) -> EventLog:
        """Return an empty log."""
        raise NotImplementedError

    def test_it_is_an_event_log(self) -> None:
        assert isinstance(self.fresh(), EventLog)

    def test_a_new_log_is_empty(self) -> None:
        log = self.fresh()
        assert log.last_sequence() == 0
        assert list(log.read()) == []

    def test_events_come_back_whole_and_in_order(self) -> None:
        log = self.fresh()
        stored = log.append([record("b"), record("a")])
        log.append([record("c")])
        back = list(log.read())
        assert [event.id for event in back] == ["b", "a", "c"]
        assert [event.sequence for event in back] == [1, 2, 3]
        assert back[:2] == stored
        assert back[0] == record("b", sequence=1)

    def test_read_after_gives_only_what_is_new(self) -> None:
        log = self.fresh()
        log.append([record("a"), record("b"), record("c")])
        assert [event.id for event in log.read(after=1)] == ["b", "c"]
        assert list(log.read(after=3)) == []
        assert log.last_sequence() == 3

    def test_a_known_id_counts_once_and_keeps_its_first_body(self) -> None:
        log = self.fresh()
        (first,) = log.append([record("a")])
        (again,) = log.append([record("a", body={"rain_mm": 99.0})])
        assert again == first
        assert len(list(log.read())) == 1

    def test_the_same_id_twice_in_one_batch_counts_once(self) -> None:
        log = self.fresh()
        one, two = log.append([record("a"), record("a")])
        assert one == two
        assert log.last_sequence() == 1

    def test_a_writer_who_missed_something_is_refused_and_nothing_is_stored(self) -> None:
        log = self.fresh()
        log.append([record("a")], expected_last=0)
        with pytest.raises(EventLogError, match="read it again"):
            log.append([record("b")], expected_last=0)
        assert [event.id for event in log.read()] == ["a"]
        log.append([record("b")], expected_last=1)
        assert log.last_sequence() == 2

    def test_an_empty_batch_is_no_error(self) -> None:
        log = self.fresh()
        assert log.append([]) == []
