"""The stored log and plan shelf: contract, append-only, locked, damaged, exported and imported."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from adapters.storage.database import open_database
from adapters.storage.event_lines import event_of, import_lines, read_lines, write_lines
from adapters.storage.memory_log import MemoryEventLog
from adapters.storage.plan_shelf import SqlPlanShelf
from adapters.storage.sql_log import SqlEventLog
from shared.errors import EventLogError, ReportRefused
from shared.ports import EventLog, PlanShelf
from tests.contracts.event_log import EventLogContract, record


class TestMemoryLog(EventLogContract):
    """The log in a list."""

    def fresh(self) -> EventLog:
        return MemoryEventLog()


class TestFileLog(EventLogContract):
    """The log in a file."""

    @pytest.fixture(autouse=True)
    def _folder(self, tmp_path: Path) -> None:
        self.folder = tmp_path

    def fresh(self) -> EventLog:
        return SqlEventLog(self.folder / "farm.sqlite")


class TestServerLog(EventLogContract):
    """The log on a PostgreSQL server."""

    @pytest.fixture(autouse=True)
    def _server(self, postgres: str, request: pytest.FixtureRequest) -> Iterator[None]:
        self.database = open_database(postgres, request.node.name)
        yield
        self.database.close()

    def fresh(self) -> EventLog:
        return SqlEventLog(self.database)


class TestFileLogInMemory(EventLogContract):
    """The stored log without a file, as reading-only commands open it."""

    def fresh(self) -> EventLog:
        return SqlEventLog(":memory:")


def test_another_program_sees_what_was_stored(tmp_path: Path) -> None:
    path = tmp_path / "farm.sqlite"
    first, second = SqlEventLog(path), SqlEventLog(path)
    first.append([record("a")])
    second.append([record("b")])
    assert [event.id for event in first.read()] == ["a", "b"] == [event.id for event in second.read()]


def test_the_file_syncs_every_commit(tmp_path: Path) -> None:
    """WAL with synchronous=FULL (2): the setting under which a commit survives a power cut (SQLite's pragma page,
    https://www.sqlite.org/pragma.html#pragma_synchronous; from memory)."""
    with open_database(tmp_path / "farm.sqlite").reading() as connection:
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == 2


@pytest.mark.parametrize("change", ["UPDATE events SET body = '{}'", "DELETE FROM events"])
def test_stored_events_cannot_be_changed_or_removed(tmp_path: Path, change: str) -> None:
    path = tmp_path / "farm.sqlite"
    SqlEventLog(path).append([record("a")])
    with sqlite3.connect(path) as other, pytest.raises(sqlite3.IntegrityError, match="events are never"):
        other.execute(change)
    assert [event.id for event in SqlEventLog(path).read()] == ["a"]


def test_a_locked_log_is_one_sentence_and_reading_goes_on(tmp_path: Path) -> None:
    path = tmp_path / "farm.sqlite"
    log = SqlEventLog(path, busy_timeout_s=0.1)
    log.append([record("a")])
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    try:
        with pytest.raises(
            EventLogError, match=r"farm\.sqlite is locked by another program; nothing was stored"
        ):
            log.append([record("b")])
        assert [event.id for event in SqlEventLog(path, busy_timeout_s=0.1).read()] == ["a"]
    finally:
        other.execute("ROLLBACK")
        other.close()
    log.append([record("b")])
    assert log.last_sequence() == 2


def test_a_file_that_is_no_database_is_one_sentence(tmp_path: Path) -> None:
    path = tmp_path / "farm.sqlite"
    path.write_bytes(b"this is a letter, not a database " * 100)
    with pytest.raises(EventLogError, match=r"farm\.sqlite is damaged or no database"):
        SqlEventLog(path)


@pytest.mark.parametrize(
    ("column", "value"),
    [("body", '{"rain_mm": 1'), ("body", "[1]"), ("happened_at", "yesterday"), ("version", "x")],
)
def test_a_damaged_row_is_named_and_the_rest_is_read(tmp_path: Path, column: str, value: str) -> None:
    path = tmp_path / "farm.sqlite"
    log = SqlEventLog(path)
    log.append([record("a"), record("b"), record("c")])
    with sqlite3.connect(path) as other:
        other.execute("DROP TRIGGER events_stay")
        other.execute(f"UPDATE events SET {column} = ? WHERE id = 'b'", (value,))
    assert [event.id for event in log.read()] == ["a", "c"]
    (said,) = log.damaged
    assert said.startswith("event 2 of the log cannot be read")
    log.append([record("d")])
    assert log.last_sequence() == 4


def test_plans_are_kept_whole_and_the_first_of_an_id_stands(tmp_path: Path) -> None:
    path, made = tmp_path / "farm.sqlite", datetime(2027, 5, 10, 10, tzinfo=UTC)
    shelf = SqlPlanShelf(path)
    assert isinstance(shelf, PlanShelf)
    assert shelf.latest() is None
    assert shelf.get("p1") is None
    shelf.put("p1", made, '{"blocks": 1}')
    shelf.put("p2", made, '{"blocks": 2}')
    shelf.put("p1", made, '{"blocks": 3}')
    again = SqlPlanShelf(path)
    assert again.get("p1") == '{"blocks": 1}'
    assert again.latest() == '{"blocks": 2}'
    shelf.put("p3", made + timedelta(hours=7), '{"blocks": 4}')
    assert shelf.known_at(made - timedelta(seconds=1)) is None
    assert shelf.known_at(made + timedelta(hours=6)) == '{"blocks": 2}'
    assert shelf.known_at(made + timedelta(hours=7)) == '{"blocks": 4}'
    assert again.last(5)[1:] == ['{"blocks": 2}', '{"blocks": 1}']


def test_an_export_read_again_is_the_same_log_and_a_second_import_adds_nothing(tmp_path: Path) -> None:
    source, target = MemoryEventLog([record("a"), record("b")]), SqlEventLog(tmp_path / "farm.sqlite")
    path = tmp_path / "events.jsonl"
    path.write_text(write_lines(source.read()), encoding="utf-8")
    for _ in range(2):
        stored, faults = import_lines(path, target)
        assert faults == []
        assert [event.id for event in stored] == ["a", "b"]
    assert target.read() == source.read()


def test_a_torn_last_line_loses_only_itself(tmp_path: Path) -> None:
    path, log = tmp_path / "events.jsonl", MemoryEventLog()
    text = write_lines([record("a"), record("b"), record("c")])
    path.write_text(text[:-40], encoding="utf-8")
    stored, faults = import_lines(path, log)
    assert [event.id for event in stored] == ["a", "b"]
    assert faults == ["events.jsonl: line 3 is torn off; it was left out, the rest was read."]


def test_a_bad_line_in_the_middle_loses_only_itself(tmp_path: Path) -> None:
    path, log = tmp_path / "events.jsonl", MemoryEventLog()
    good = write_lines([record("a"), record("b")]).splitlines()
    path.write_text(
        "\n".join([good[0], "{oops", '{"id": "x"}', "", "# a remark", good[1]]) + "\n", encoding="utf-8"
    )
    stored, faults = import_lines(path, log)
    assert [event.id for event in stored] == ["a", "b"]
    assert len(faults) == 2
    assert "line 2 is not a JSON object" in faults[0]


def test_a_time_without_zone_is_refused() -> None:
    row = {"id": "a", "kind": "rain_measured", "happened_at": "2027-05-10T12:00:00", "body": {}}
    with pytest.raises(ReportRefused, match="time zone"):
        event_of(row, "events.jsonl")


def test_a_missing_file_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(ReportRefused, match=r"none\.jsonl cannot be read"):
        read_lines(tmp_path / "none.jsonl")


def test_a_folder_that_is_not_there_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(EventLogError, match=r"farm\.sqlite cannot be used: unable to open database file"):
        SqlEventLog(tmp_path / "nowhere" / "farm.sqlite")


def test_a_batch_that_fails_half_way_stores_nothing(tmp_path: Path) -> None:
    """The second event cannot be written as JSON; the first must not stay behind."""
    log = SqlEventLog(tmp_path / "farm.sqlite")
    with pytest.raises(TypeError):
        log.append([record("a"), record("b", body={"x": object()})])
    assert log.read() == []
    log.append([record("c")])
    assert log.last_sequence() == 1
