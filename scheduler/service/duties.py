"""What is due at a moment, from the settings and from what was done last; a clock that jumps does nothing twice.

Daily duties are known by their local date: done once a day, late when the computer slept over their time, never for days
that are over. Times are compared on the wall clock of the farm, so a day of 23 or 25 hours needs no rule of its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo


@dataclass(frozen=True)
class Times:
    """When things happen on this farm (see `scheduler.farm.service_settings`)."""

    zone: ZoneInfo
    issue_at: time
    remind_at: time
    poll: timedelta
    quiet: timedelta
    wait_most: timedelta


def local_day(now: datetime, zone: ZoneInfo) -> date:
    """Return the farm's date at a moment."""
    return now.astimezone(zone).date()


def daily_due(now: datetime, at: time, done: str, zone: ZoneInfo) -> bool:
    """Return whether a daily duty is due.

    Parameters
    ----------
    done : str
        Local date on which it was done last (ISO), empty when never. A date that lies ahead was written by a wrong clock
        and counts for nothing once it is more than a day ahead.
    """
    wall = now.astimezone(zone)
    if wall.time() < at:
        return False
    if not done:
        return True
    last = date.fromisoformat(done)
    return last < wall.date() or last > wall.date() + timedelta(days=1)


def poll_due(now: datetime, last: datetime | None, every: timedelta) -> bool:
    """Return whether the forecast should be looked at; a last time that lies ahead counts for nothing."""
    return last is None or last > now or now - last >= every


@dataclass
class Quiet:
    """News that waits to be planned in: since when, and when the last word of it came (by the service's own clock)."""

    seen: object = None
    first: datetime | None = None
    last: datetime | None = None

    def look(self, now: datetime, mark: object, fresh: bool) -> None:
        """Take note of the news.

        Parameters
        ----------
        mark : object
            Changes with every piece of news.
        fresh : bool
            Whether there is anything that the plan people know does not know.
        """
        if not fresh:
            self.seen, self.first, self.last = mark, None, None
            return
        if mark != self.seen or self.first is None or self.last is None:
            self.first = now if self.first is None else self.first
            self.seen, self.last = mark, now
        # A clock that was put back must not make people wait for hours.
        self.first, self.last = min(self.first, now), min(self.last, now)

    def due(self, now: datetime, quiet: timedelta, wait_most: timedelta) -> bool:
        """Return whether the news should be planned in now."""
        if self.first is None or self.last is None:
            return False
        return now - self.last >= quiet or now - self.first >= wait_most
