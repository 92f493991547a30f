"""Calendar feeds: RFC 5545 by a walker of our own, and read by two parsers that were not written here (icalendar, vobject)."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import icalendar
import vobject
from hypothesis import example, given, settings
from hypothesis import strategies as st

from adapters.export.calendar_feed import feed
from shared.assignment import Assignment

START = datetime(2027, 5, 10, 12, 0, tzinfo=UTC)
ONE = Assignment(
    "ilse/north-bench/band/1", START, START + timedelta(hours=10), "Band nitrogen: North Bench", "North Bench, the long one; west",
    "148 ac\nBig tractor + Nitrogen bar\nBeñat, Ilse \\ both; ask", 42.055, -93.015, 2, START - timedelta(hours=7),
)  # fmt: skip


def walk(content: bytes) -> list[dict[str, str]]:
    """Return the events of a feed, after its form was checked line by line (RFC 5545, 3.1 and 3.6.1)."""
    assert content.endswith(b"\r\n") and b"\n" not in content.replace(b"\r\n", b"")
    assert all(len(line) <= 75 for line in content.split(b"\r\n"))
    lines = content.replace(b"\r\n ", b"").decode("utf-8").split("\r\n")[:-1]
    assert (lines[0], lines[-1]) == ("BEGIN:VCALENDAR", "END:VCALENDAR")
    assert "VERSION:2.0" in lines and any(line.startswith("PRODID:") for line in lines)
    events: list[dict[str, str]] = []
    for line in lines:
        name, _, value = line.partition(":")
        if line == "BEGIN:VEVENT":
            events.append({})
        elif events and line != "END:VEVENT" and line != "END:VCALENDAR":
            assert name not in events[-1], f"{name} twice"
            events[-1][name] = value
    for event in events:
        assert {"UID", "DTSTAMP", "DTSTART", "DTEND", "SEQUENCE", "STATUS"} <= set(event)
        assert event["DTSTART"].endswith("Z") and event["DTSTART"] < event["DTEND"]
    assert len({event["UID"] for event in events}) == len(events)
    return events


def test_an_assignment_is_read_alike_by_two_parsers() -> None:
    content = feed([ONE], "Ilse, Three Alders", "Three Alders")
    (walked,) = walk(content)
    assert walked["GEO"] == "42.055;-93.015" and walked["SEQUENCE"] == "2"
    (event,) = icalendar.Calendar.from_ical(content).walk("VEVENT")
    other = vobject.readOne(content.decode("utf-8")).vevent
    assert event["uid"] == other.uid.value
    assert event.decoded("dtstart") == other.dtstart.value == ONE.start
    assert event.decoded("dtend") == other.dtend.value == ONE.end
    assert str(event["summary"]) == other.summary.value == ONE.title
    assert str(event["location"]) == other.location.value == ONE.place
    assert str(event["description"]) == other.description.value == ONE.notes
    assert not event.errors


def test_the_same_work_gives_the_same_bytes_and_another_farm_another_name() -> None:
    assert feed([ONE], "t", "f") == feed([ONE], "t", "f")
    assert walk(feed([ONE], "t", "f"))[0]["UID"] != walk(feed([ONE], "t", "g"))[0]["UID"]
    moved = replace(ONE, start=ONE.start + timedelta(hours=1), number=3)
    assert walk(feed([ONE], "t", "f"))[0]["UID"] == walk(feed([moved], "t", "f"))[0]["UID"]


def test_work_called_off_is_marked_and_blocks_nobodys_day() -> None:
    (event,) = walk(feed([replace(ONE, cancelled=True)], "t", "f"))
    assert (event["STATUS"], event["TRANSP"]) == ("CANCELLED", "TRANSPARENT")


def test_no_work_is_a_sound_feed_too() -> None:
    assert walk(feed([], "Tove", "f")) == []


@settings(max_examples=60, deadline=None)
@given(
    st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=120),
    st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=200),
)
@example("\\N", "Big\\North; Big\\north, \\\\N")
def test_any_name_survives_the_way_there_and_back(title: str, notes: str) -> None:
    content = feed([replace(ONE, title=title, notes=notes)], title, "f")
    walk(content)
    (event,) = icalendar.Calendar.from_ical(content).walk("VEVENT")
    assert str(event["summary"]) == title
    assert str(event["description"]) == notes


def test_lines_and_backslashes_are_written_as_the_standard_says() -> None:
    """RFC 5545, 3.3.11: a backslash is written twice, an end of line as a backslash and n, whatever letter follows."""
    (event,) = walk(feed([replace(ONE, title="Big\\North", notes="one\r\ntwo\nthree; four, \\n")], "t", "f"))
    assert event["SUMMARY"] == r"Big\\North"
    assert event["DESCRIPTION"] == r"one\ntwo\nthree\; four\, \\n"
