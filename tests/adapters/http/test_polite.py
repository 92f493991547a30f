"""HTTP manners against a local server: waits that are asked for, a slow pace, replies kept for bad days, bad cache files."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from pathlib import Path
from random import Random
from typing import Any

import pytest

from adapters.http.polite import PoliteClient
from shared.errors import WeatherUnavailable
from tests.adapters.weather.fault_server import Answer, Service, served

NOW = datetime(2027, 5, 10, 10, tzinfo=UTC)


@dataclass
class Time:
    """A clock that only sleeping moves."""

    seconds: float = 0.0
    slept: list[float] = field(default_factory=list)

    def sleep(self, seconds: float) -> None:
        self.slept.append(seconds)
        self.seconds += seconds

    def monotonic(self) -> float:
        return self.seconds

    def now(self) -> datetime:
        return NOW + timedelta(seconds=self.seconds)


@pytest.fixture
def service() -> Iterator[Service]:
    """A local server."""
    with served() as found:
        yield found


def client(time: Time, cache: Path | None = None) -> PoliteClient:
    return PoliteClient(cache, "me@example.org", time.sleep, time.monotonic, time.now, Random(1))


def answers(service: Service, *all_of_them: Answer) -> None:
    """Answer in this order; the last one for good."""
    left = list(all_of_them)
    service.answers["/"] = lambda _query: left.pop(0) if len(left) > 1 else left[0]


def test_a_wait_that_is_asked_for_is_kept_in_full_and_said_in_seconds_or_as_a_date(service: Service) -> None:
    """RFC 9110, 10.2.3: Retry-After is a number of seconds or an HTTP date."""
    for told in ("17", format_datetime(NOW + timedelta(seconds=17), usegmt=True)):
        time = Time()
        answers(service, Answer({}, 429, {"Retry-After": told}), Answer({"ok": 1}))
        assert client(time).json(f"{service.url}/{len(told)}").payload == {"ok": 1}
        assert 17 <= time.slept[0] <= 17 * 1.5


def test_a_long_wait_leaves_the_service_alone_until_it_is_over(service: Service) -> None:
    time, said = Time(), "wants no request for"
    one = client(time)
    answers(service, Answer({}, 429, {"Retry-After": "3600"}), Answer({"ok": 1}))
    with pytest.raises(WeatherUnavailable, match=f"{said} 3600 s"):
        one.json(f"{service.url}/a")
    time.seconds += 1800
    with pytest.raises(WeatherUnavailable, match=f"{said} 1800 s"):
        one.json(f"{service.url}/b")
    assert len(service.asked) == 1
    time.seconds += 1801
    assert one.json(f"{service.url}/b").payload == {"ok": 1}


def test_requests_to_one_host_keep_a_second_apart_and_replies_from_the_cache_cost_none(
    service: Service,
) -> None:
    time = Time()
    one = client(time)
    answers(service, Answer({"ok": 1}, headers={"Cache-Control": "max-age=600"}))
    for path in ("a", "b", "c", "a", "b", "c"):
        one.json(f"{service.url}/{path}")
    assert len(service.asked) == 3
    assert time.seconds == pytest.approx(2.0)


def test_a_kept_reply_does_for_bad_days_but_not_for_ever(service: Service, tmp_path: Path) -> None:
    time = Time()
    answers(service, Answer({"ok": 1}, headers={"Cache-Control": "no-store"}), Answer("down", 503))
    client(time, tmp_path / "c.sqlite").json(f"{service.url}/a")
    time.seconds += 86400
    again = client(time, tmp_path / "c.sqlite")
    found = again.json(f"{service.url}/a", stale_most=timedelta(days=3))
    assert (found.payload, found.fetched_at) == ({"ok": 1}, NOW)
    assert "answered 503" in found.stale
    time.seconds += 3 * 86400
    with pytest.raises(WeatherUnavailable, match="the reply kept from 2027-05-10 10:00 UTC is too old"):
        again.json(f"{service.url}/a", stale_most=timedelta(days=3))


def test_a_locked_cache_is_done_without_and_left_as_it_is(service: Service, tmp_path: Path) -> None:
    cache = tmp_path / "c.sqlite"
    answers(service, Answer({"ok": 1}))
    client(Time(), cache).json(f"{service.url}/a")
    before = cache.read_bytes()
    holder = sqlite3.connect(cache, isolation_level=None)
    holder.execute("BEGIN EXCLUSIVE")
    try:
        one = client(Time(), cache)
        assert one.json(f"{service.url}/b").payload == {"ok": 1}
        assert "cannot be used now (database is locked)" in one.notes[0]
    finally:
        holder.execute("ROLLBACK")
        holder.close()
    assert not list(tmp_path.glob("*.broken"))
    assert cache.read_bytes() == before


@pytest.mark.parametrize("spoil", ["garbage", "truncated"])
def test_a_damaged_cache_is_set_aside_and_the_reply_still_comes(
    service: Service, tmp_path: Path, spoil: str
) -> None:
    cache = tmp_path / "c.sqlite"
    answers(service, Answer({"ok": 1}))
    client(Time(), cache).json(f"{service.url}/a")
    raw = cache.read_bytes()
    cache.write_bytes(b"no database at all " * 99 if spoil == "garbage" else raw[: len(raw) // 2])
    one = client(Time(), cache)
    assert one.json(f"{service.url}/a").payload == {"ok": 1}
    assert one.json(f"{service.url}/a").payload == {"ok": 1}
    if spoil == "garbage":
        assert "was damaged" in one.notes[0] and (tmp_path / "c.sqlite.broken").exists()


@pytest.mark.parametrize(
    "answer",
    [Answer(b"<html>busy</html>"), Answer({"a": 1}, cut=True), Answer(b"\xff\xfe\x00"), Answer(b"")],
    ids=["HTML", "cut off", "no text", "empty"],
)
def test_what_is_no_json_is_asked_for_again(service: Service, answer: Answer) -> None:
    answers(service, answer, Answer({"ok": 1}))
    assert client(Time()).json(f"{service.url}/a").payload == {"ok": 1}
    assert len(service.asked) == 2


def test_nobody_asks_without_a_name_and_keys_never_reach_the_disk(service: Service, tmp_path: Path) -> None:
    answers(service, Answer({"ok": 1}))
    one = client(Time(), tmp_path / "c.sqlite")
    one.json(f"{service.url}/a", {"apikey": "very-secret", "x": "1"})
    assert service.asked[0][1]["user-agent"].endswith("(me@example.org)")
    assert not any(b"very-secret" in path.read_bytes() for path in tmp_path.rglob("*") if path.is_file())
    nameless: Any = PoliteClient(None, "  ")
    with pytest.raises(WeatherUnavailable, match="contact is missing"):
        nameless.json(f"{service.url}/a")
