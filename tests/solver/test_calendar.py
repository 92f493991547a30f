"""Working time against published rows, and laws that sums over opening hours obey."""

from __future__ import annotations

import json
from datetime import datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.solver.calendar import add_work, closed_to_open, meet, next_open, pauses, tidy, work_between
from tests.solver.instance_paths import instance_file

SPANS = st.lists(st.tuples(st.integers(0, 200), st.integers(0, 200)), max_size=8).map(
    lambda pairs: tidy((min(p), max(p)) for p in pairs)
)
HOURS = {
    "standard_day": ((8, 12), (13, 17)),
    "multi_shift": ((8, 12), (13, 17), (17, 25)),
    "24_7": ((0, 24),),
}


def test_published_rows_of_work_hours_end_when_published() -> None:
    """Twelve rows of start, work hours and end: calrcpsp 1.0.1, results/instance_results.csv (MIT)."""
    rows = json.loads(instance_file("calendar_checks.json").read_text())["rows"]
    assert len(rows) == 12
    for row in rows:
        start = datetime.fromisoformat(row["start"])
        midnight = start.replace(hour=0, minute=0, second=0)
        always = row["calendar"] == "24_7"
        spans = tidy(
            (d * 86400 + a * 3600, d * 86400 + b * 3600)
            for d in range(60)
            for a, b in HOURS[row["calendar"]]
            if always or (midnight + timedelta(days=d)).weekday() < 5
        )
        begin = int((start - midnight).total_seconds())
        end = add_work(begin, round(row["work_hours"] * 3600), spans)
        assert end is not None
        assert midnight + timedelta(seconds=end) == datetime.fromisoformat(row["published_end"]), row[
            "instance"
        ]


def test_work_stops_at_closures_and_fills_an_interval_to_its_closing() -> None:
    spans = ((0, 10), (20, 30))
    assert add_work(0, 10, spans) == 10
    assert add_work(0, 11, spans) == 21
    assert add_work(12, 3, spans) == 23
    assert add_work(0, 21, spans) is None
    assert next_open(10, spans) == 20


@settings(max_examples=60, deadline=None)
@given(SPANS, st.integers(0, 200), st.integers(1, 60))
def test_work_added_is_the_open_time_between(
    spans: tuple[tuple[int, int], ...], start: int, minutes: int
) -> None:
    end = add_work(start, minutes, spans)
    if end is None:
        assert work_between(start, 10_000, spans) < minutes
    else:
        assert work_between(start, end, spans) == minutes
        assert work_between(start, end - 1, spans) == minutes - 1


@settings(max_examples=60, deadline=None)
@given(SPANS, SPANS, st.integers(0, 200))
def test_both_open_means_open_in_each(one: tuple, two: tuple, time: int) -> None:  # type: ignore[type-arg]
    def is_open(spans: tuple) -> bool:  # type: ignore[type-arg]
        return any(a <= time < b for a, b in spans)

    both = meet(one, two)
    assert both is not None
    assert is_open(both) == (is_open(one) and is_open(two))
    assert is_open(closed_to_open(one, 300)) != is_open(one)


@settings(max_examples=40, deadline=None)
@given(SPANS, st.integers(1, 40))
def test_pauses_say_where_work_ends(spans: tuple, minutes: int) -> None:  # type: ignore[type-arg]
    told = {s: s + minutes + pause for a, b, pause in pauses(spans, minutes) for s in range(a, b + 1)}
    for start in (s for a, b in spans for s in range(a, b)):
        assert told.get(start) == add_work(start, minutes, spans)


def test_always_open() -> None:
    assert add_work(3, 4, None) == 7 and meet(None, None) is None and work_between(5, 3, None) == 0


@pytest.mark.parametrize("horizon", [0, 5])
def test_no_hours_left(horizon: int) -> None:
    assert closed_to_open([(0, 9)], horizon) == ()
