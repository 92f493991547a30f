"""Assignments as an iCalendar feed (RFC 5545), in UTC; the same assignments give the same bytes."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from datetime import UTC, datetime
from importlib.metadata import version

from icalendar import Calendar, Event, vGeo, vText

from shared.assignment import Assignment

MIME = "text/calendar; charset=utf-8"


class Text(vText):
    r"""Words as RFC 5545, 3.3.11 writes them; the library's own text takes a backslash before an N for the end of a line."""

    def to_ical(self) -> bytes:
        """Return the value with its backslashes, semicolons, commas and line ends escaped."""
        words = self.replace("\\", r"\\").replace(";", r"\;").replace(",", r"\,")
        return words.replace("\r\n", "\n").replace("\r", "\n").replace("\n", r"\n").encode("utf-8")


def feed(assignments: Iterable[Assignment], title: str, farm: str) -> bytes:
    """Return the feed of a person or a machine.

    Parameters
    ----------
    title : str
        What the calendar is called.
    farm : str
        Told apart from other farms' assignments of the same name.
    """
    out = Calendar()
    out.add("prodid", f"-//fitground//{version('fitground')}//EN")
    out.add("version", "2.0")
    out.add("calscale", "GREGORIAN")
    out.add("method", "PUBLISH")
    out.add("name", Text(title))
    out.add("x-wr-calname", Text(title))
    for one in assignments:
        out.add_component(_event(one, farm))
    return bytes(out.to_ical(sorted=False))


def _event(one: Assignment, farm: str) -> Event:
    event = Event()
    mark = hashlib.sha256(f"{farm}/{one.name}".encode()).hexdigest()[:32]
    event.add("uid", f"{mark}@fitground.invalid")
    event.add("dtstamp", _utc(one.changed_at))
    event.add("last-modified", _utc(one.changed_at))
    event.add("sequence", one.number)
    event.add("dtstart", _utc(one.start))
    event.add("dtend", _utc(one.end))
    event.add("summary", Text(one.title))
    event.add("location", Text(one.place))
    event["geo"] = vGeo((round(one.latitude_deg, 5), round(one.longitude_deg, 5)))
    event.add("description", Text(one.notes))
    event.add("status", "CANCELLED" if one.cancelled else "CONFIRMED")
    event.add("transp", "TRANSPARENT" if one.cancelled else "OPAQUE")
    return event


def _utc(moment: datetime) -> datetime:
    return moment.astimezone(UTC).replace(microsecond=0)
