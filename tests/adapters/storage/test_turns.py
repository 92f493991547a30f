"""Writers of one program take turns in the order they came, and a queue that stands still is told."""

from __future__ import annotations

import sqlite3
import threading
from pathlib import Path
from time import sleep

import pytest

from adapters.storage.database import open_database
from adapters.storage.sql_log import SqlEventLog
from adapters.storage.turns import LONGEST_TURNS, Turns, turns_of
from shared.errors import EventLogError
from tests.contracts.event_log import record


def test_writers_go_in_the_order_they_came() -> None:
    turns, order, inside = Turns(), [], threading.Event()
    waiting: list[threading.Thread] = []

    def write(number: int) -> None:
        with turns.turn("the log", 30.0):
            order.append(number)

    with turns.turn("the log", 30.0):
        for number in range(20):
            waiting.append(threading.Thread(target=write, args=(number,)))
            waiting[-1].start()
            while len(turns._queue) < number + 2:
                inside.wait(0.001)
        assert order == []
    for one in waiting:
        one.join()
    assert order == list(range(20))


def test_a_queue_that_stands_still_is_one_sentence_and_the_next_turn_goes_on() -> None:
    turns = Turns()
    with turns.turn("the log", 0.05):
        refused: list[EventLogError] = []

        def write() -> None:
            with (
                pytest.raises(EventLogError, match="the log is locked by another program") as caught,
                turns.turn("the log", 0.05),
            ):
                raise AssertionError("nobody gave the turn on")
            refused.append(caught.value)

        other = threading.Thread(target=write)
        other.start()
        other.join()
        assert len(refused) == 1
    with turns.turn("the log", 0.05):
        pass


def test_a_queue_that_moves_is_waited_for_longer_than_one_turn() -> None:
    """Six turns of 0.25 s each: the last waits 1.25 s where patience with one who stands still is 1 s."""
    turns, done = Turns(), []

    def write(number: int) -> None:
        with turns.turn("the log", 1.0):
            sleep(0.25)
            done.append(number)

    threads = [threading.Thread(target=write, args=(n,)) for n in range(6)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert sorted(done) == list(range(6))
    assert LONGEST_TURNS * 1.0 > 1.25


def test_an_error_in_a_turn_gives_it_on() -> None:
    turns = Turns()
    with pytest.raises(ValueError, match="wrong"), turns.turn("the log", 0.05):
        raise ValueError("wrong")
    with turns.turn("the log", 0.05):
        pass


def test_everybody_who_has_a_file_open_stands_in_one_queue(tmp_path: Path) -> None:
    first, again = (
        open_database(tmp_path / "a.sqlite"),
        open_database(str(tmp_path / "x" / ".." / "a.sqlite")),
    )
    other = open_database(tmp_path / "b.sqlite")
    assert first.turns is again.turns is turns_of(str((tmp_path / "a.sqlite").resolve()))
    assert other.turns is not first.turns
    assert open_database(":memory:").turns is not open_database(":memory:").turns


def test_many_writers_behind_another_program_all_get_in(tmp_path: Path) -> None:
    """Another program holds the file for 0.4 s; every one of 30 writers, with 1 s of patience, is stored after it."""
    path = tmp_path / "farm.sqlite"
    SqlEventLog(path)
    other = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    other.execute("BEGIN IMMEDIATE")

    def write(number: int) -> None:
        SqlEventLog(path, busy_timeout_s=1.0).append([record(f"e{number}")])

    threads = [threading.Thread(target=write, args=(n,)) for n in range(30)]
    for one in threads:
        one.start()
    sleep(0.4)
    other.execute("ROLLBACK")
    other.close()
    for one in threads:
        one.join()
    assert sorted(e.id for e in SqlEventLog(path).read()) == sorted(f"e{n}" for n in range(30))


def test_a_turn_within_a_turn_is_the_same_turn(tmp_path: Path) -> None:
    database = open_database(tmp_path / "farm.sqlite")
    late: list[str] = []

    def other() -> None:
        SqlEventLog(database).append([record("later")])
        late.append("later")

    with database.turn():
        thread = threading.Thread(target=other)
        thread.start()
        SqlEventLog(database).append([record("first")], expected_last=0)
        assert late == []
    thread.join()
    assert [e.id for e in SqlEventLog(database).read()] == ["first", "later"]
