"""One suite for both databases: several writers, append-only, upgrades, a newer database, leases, books, and full disks."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import text
from sqlalchemy.event import listens_for
from sqlalchemy.exc import DatabaseError

import adapters.storage.migrate as migrate
from adapters.storage.database import Database, open_database, schema_of, server_url
from adapters.storage.forecast_book import SqlForecastBook
from adapters.storage.lease import SqlLease
from adapters.storage.plan_shelf import SqlPlanShelf
from adapters.storage.service_book import SqlServiceBook
from adapters.storage.sql_log import SqlEventLog
from shared.errors import EventLogError
from shared.ports import ForecastBook, Lease, ServiceBook
from shared.weather_records import HOURLY_QUANTITIES, HourlyWeather
from tests.contracts.event_log import record

Opener = Callable[[], Database]
NOW = datetime(2027, 5, 10, 10, tzinfo=UTC)
PHONES, REPORTS = 50, 6


def test_fifty_phones_at_once_lose_and_double_nothing_and_readers_skip_nothing(opener: Opener) -> None:
    """Every phone sends each report twice, as one with a bad connection does; a reader follows the whole time."""
    database, refused = opener(), []
    follower, seen, done = SqlEventLog(database), [], threading.Event()

    def follow() -> None:
        while not (done.is_set() and follower.last_sequence() == (seen[-1] if seen else 0)):
            seen.extend(event.sequence for event in follower.read(after=seen[-1] if seen else 0))

    def phone(number: int) -> None:
        log = SqlEventLog(database)
        for k in [n for n in range(REPORTS) for _ in (1, 2)]:
            for _ in range(20):
                try:
                    log.append([record(f"{number}-{k}")])
                    break
                except EventLogError as error:
                    refused.append(str(error))

    reader = threading.Thread(target=follow)
    reader.start()
    phones = [threading.Thread(target=phone, args=(n,)) for n in range(PHONES)]
    for one in phones:
        one.start()
    for one in phones:
        one.join()
    done.set()
    reader.join(30)
    events = SqlEventLog(opener()).read()
    assert {event.id for event in events} == {f"{n}-{k}" for n in range(PHONES) for k in range(REPORTS)}
    assert [event.sequence for event in events] == list(range(1, PHONES * REPORTS + 1))
    assert seen == [event.sequence for event in events]
    # Whoever had to wait too long was told so in a sentence, and nothing else went wrong.
    assert all("is locked by another program" in said for said in refused)


def test_two_writers_who_read_the_same_end_cannot_both_write(opener: Opener) -> None:
    one, other = SqlEventLog(opener()), SqlEventLog(opener())
    end = one.last_sequence()
    one.append([record("a")], expected_last=end)
    with pytest.raises(EventLogError, match="somebody else wrote"):
        other.append([record("b")], expected_last=end)
    assert [event.id for event in other.read()] == ["a"]


@pytest.mark.parametrize("change", ["UPDATE events SET body = '{}'", "DELETE FROM events"])
def test_no_program_can_change_or_remove_an_event(opener: Opener, change: str) -> None:
    database = opener()
    SqlEventLog(database).append([record("a")])
    with pytest.raises(DatabaseError, match="events are never"), database.engine.begin() as connection:
        connection.execute(text(change))
    assert [event.id for event in SqlEventLog(database).read()] == ["a"]


def test_plans_come_back_newest_first(opener: Opener) -> None:
    shelf = SqlPlanShelf(opener())
    for number in range(3):
        shelf.put(f"p{number}", NOW, f'{{"n": {number}}}')
    assert SqlPlanShelf(opener()).last(2) == ['{"n": 2}', '{"n": 1}']


def test_opening_twice_changes_nothing_and_needs_no_upgrade(opener: Opener) -> None:
    first = opener()
    SqlEventLog(first).append([record("a")])
    again = opener()
    assert again.notes == ()
    assert [event.id for event in SqlEventLog(again).read()] == ["a"]


def test_a_database_of_a_newer_fitground_is_left_alone(opener: Opener) -> None:
    with opener().writing() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(EventLogError, match=r"written by a newer fitground \(version 9999"):
        opener()


def test_the_newest_migration_is_the_one_that_is_expected() -> None:
    config = Config()
    config.set_main_option("script_location", str(Path(migrate.__file__).parent / "migrations"))
    steps = ScriptDirectory.from_config(config)
    assert steps.get_heads() == [migrate.HEAD]
    assert sorted(step.revision for step in steps.walk_revisions()) == sorted(migrate.VERSIONS)


def test_a_file_of_the_first_fitground_is_brought_up_to_date_with_all_it_holds(tmp_path: Path) -> None:
    """The tables as version 0.1 made them, statement by statement, with a row in each."""
    path = tmp_path / "farm.sqlite"
    with sqlite3.connect(path) as old:
        old.executescript(
            """
            CREATE TABLE events (sequence INTEGER NOT NULL, id VARCHAR(200) NOT NULL, kind VARCHAR(60) NOT NULL,
              version INTEGER NOT NULL, happened_at VARCHAR(40) NOT NULL, recorded_at VARCHAR(40) NOT NULL,
              by_whom VARCHAR(200) NOT NULL, source VARCHAR(200) NOT NULL, body TEXT NOT NULL,
              PRIMARY KEY (sequence), UNIQUE (id));
            CREATE TABLE plans (place INTEGER NOT NULL, id VARCHAR(200) NOT NULL, made_at VARCHAR(40) NOT NULL,
              document TEXT NOT NULL, PRIMARY KEY (place), UNIQUE (id));
            CREATE TRIGGER events_stay BEFORE UPDATE ON events BEGIN SELECT RAISE(ABORT, 'events are never changed'); END;
            INSERT INTO events VALUES (1, 'a', 'rain_measured', 1, '2027-05-10T10:00:00+00:00',
              '2027-05-10T10:00:00+00:00', 'ann', 'page', '{"rain_mm": 3}');
            INSERT INTO plans VALUES (1, 'p', '2027-05-10T10:00:00+00:00', '{}');
            """
        )
    database = open_database(path)
    assert database.notes == (f"the event log farm.sqlite was brought up to date (version {migrate.HEAD})",)
    log = SqlEventLog(database)
    log.append([record("b")])
    assert [(event.sequence, event.id) for event in log.read()] == [(1, "a"), (2, "b")]
    assert SqlPlanShelf(database).latest() == "{}"
    assert open_database(path).notes == ()


def test_one_server_keeps_farms_apart(postgres: str) -> None:
    here, there = open_database(postgres, "Three Alders"), open_database(postgres, "three-alders")
    SqlEventLog(here).append([record("a")])
    assert SqlEventLog(there).read() == []
    assert schema_of("Three Alders") != schema_of("three-alders")
    here.close()
    there.close()


@pytest.mark.parametrize(
    ("url", "said"),
    [
        ("mysql://x@y/z", "is not possible"),
        ("postgresql://x@y", "is not possible"),
        ("postgresql://x:secret@y/z", "holds a password"),
        ("post gres", "is no address"),
    ],
)
def test_an_address_that_cannot_be_is_one_sentence_without_the_password(url: str, said: str) -> None:
    with pytest.raises(EventLogError, match=said) as caught:
        server_url(url)
    assert "secret" not in str(caught.value)


def test_a_server_that_is_down_is_one_sentence(tmp_path: Path) -> None:
    pytest.importorskip("psycopg")
    with pytest.raises(EventLogError, match="cannot be used") as caught:
        open_database(f"postgresql://fitground@/fields?host={tmp_path}")
    assert "\n" not in str(caught.value)


def test_a_full_disk_is_one_sentence_and_what_was_stored_stays(tmp_path: Path) -> None:
    """SQLite's own limit of pages stands in for the disk: it fails the same way (SQLITE_FULL)."""
    database = open_database(tmp_path / "farm.sqlite")
    log = SqlEventLog(database)
    log.append([record("a")])
    with database.engine.connect() as connection:
        limit = connection.exec_driver_sql("PRAGMA page_count").scalar()

    @listens_for(database.engine, "connect")
    def _small_disk(connection: sqlite3.Connection, _: object) -> None:
        connection.execute(f"PRAGMA max_page_count = {limit}")

    database.close()
    with pytest.raises(EventLogError, match="the disk is full; nothing was stored"):
        for number in range(500):
            log.append([record(f"big{number}", body={"note": "x" * 5000})])
    stored = [event.id for event in log.read()]
    assert stored[0] == "a"
    limit = 1_000_000
    database.close()
    log.append([record("after")])
    assert [event.id for event in SqlEventLog(open_database(tmp_path / "farm.sqlite")).read()] == [
        *stored,
        "after",
    ]


def test_of_two_services_one_holds_the_lease_until_it_is_silent(opener: Opener) -> None:
    one, other = (SqlLease(opener(), "issue", name, timedelta(minutes=2)) for name in ("one", "other"))
    assert isinstance(one, Lease)
    assert one.take(NOW)
    assert not other.take(NOW + timedelta(minutes=1))
    assert one.take(NOW + timedelta(minutes=1))
    assert not other.take(NOW + timedelta(minutes=2, seconds=30))
    assert other.take(NOW + timedelta(minutes=3, seconds=1))
    assert not one.take(NOW + timedelta(minutes=4))
    other.give_back()
    assert one.take(NOW + timedelta(minutes=4))
    assert one.who(NOW + timedelta(minutes=5)) == "one"
    assert one.who(NOW + timedelta(minutes=7)) == ""


def test_a_lease_from_a_clock_that_was_a_year_ahead_blocks_nobody(opener: Opener) -> None:
    wrong, right = (SqlLease(opener(), "issue", name, timedelta(minutes=2)) for name in ("wrong", "right"))
    assert wrong.take(NOW + timedelta(days=365))
    assert right.take(NOW)


def test_what_was_handed_out_and_marked_is_remembered(opener: Opener) -> None:
    book = SqlServiceBook(opener())
    assert isinstance(book, ServiceBook)
    assert not book.delivered("mail", "p1/ann")
    book.note_delivery("mail", "p1/ann", NOW)
    book.note_delivery("mail", "p1/ann", NOW)
    again = SqlServiceBook(opener())
    assert again.delivered("mail", "p1/ann")
    assert not again.delivered("folder", "p1/ann")
    assert again.mark("issued") == ""
    again.set_mark("issued", "2027-05-10")
    again.set_mark("issued", "2027-05-11")
    assert SqlServiceBook(opener()).mark("issued") == "2027-05-11"


def forecast(issued: datetime, rain_mm: float) -> HourlyWeather:
    """Return a forecast of three members over two days."""
    shape = (3, 48)
    rain = np.full(shape, rain_mm) * np.array([[0.0], [1.0], [2.0]])
    rest = [np.full(shape, value) for value in (-12.3, 87.0, 4.5, 1.25)]
    return HourlyWeather(issued, rain, *rest, source="one", issued_at=issued, notes=("told as it is",))


def test_a_kept_forecast_comes_back_as_it_was(opener: Opener) -> None:
    book = SqlForecastBook(opener())
    assert isinstance(book, ForecastBook)
    assert book.newest(NOW) is None
    told = forecast(NOW, 1.23)
    assert book.keep(told, NOW)
    assert not book.keep(told, NOW + timedelta(hours=1))
    back = SqlForecastBook(opener()).newest(NOW)
    assert back is not None
    for name in HOURLY_QUANTITIES:
        np.testing.assert_allclose(getattr(back, name), getattr(told, name), atol=0.006)
    assert (back.start_utc, back.issued_at, back.source, back.notes) == (NOW, NOW, "one", told.notes)


def test_only_what_had_been_fetched_by_then_is_known_and_old_ones_are_let_go(opener: Opener) -> None:
    book = SqlForecastBook(opener())
    for days in (-500, 0, 1):
        at = NOW + timedelta(days=days)
        book.keep(replace(forecast(at, 1.0), source=f"day {days}"), at)
    found = book.newest(NOW + timedelta(hours=1))
    assert found is not None and found.source == "day 0"
    assert [one.source for _, one in book.between(NOW - timedelta(days=900), NOW + timedelta(days=9))] == [
        "day 0",
        "day 1",
    ]
