"""Farm-local days and the minutes of a planning horizon. "Now" is always an argument.

A `Horizon` counts whole elapsed minutes from the first local midnight, so a day with a clock change is 23 or 25
hours long and nothing else notices.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

TIME = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?(?:\s*([ap])\.?m\.?)?|(\d{1,2})\s*([ap])\.?m\.?")


def time_of_day(text: str) -> time | None:
    """Return a time of day as people write it: 14:30, 7:05, 2:30 pm, 7 am, noon; None where it is none."""
    said = text.strip().casefold()
    found = TIME.fullmatch("12:00" if said == "noon" else said)
    if found is None:
        return None
    hour, minute, second = int(found[1] or found[5]), int(found[2] or 0), int(found[3] or 0)
    half = found[4] or found[6]
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + 12 * (half == "p")
    return time(hour, minute, second) if hour < 24 and minute < 60 and second < 60 else None


def is_iso_date(text: str) -> bool:
    """Return whether a text is a date written YYYY-MM-DD, and no other way."""
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def local_midnight(day: date, zone: ZoneInfo) -> datetime:
    """Return the start of a local day as an aware UTC time."""
    return datetime.combine(day, time(0), zone).astimezone(UTC)


@dataclass(frozen=True)
class Horizon:
    """The days that are planned exactly.

    Attributes
    ----------
    first_day : date
        Local date of the first day.
    days : int
        Number of days.
    time_zone : str
        IANA name.
    """

    first_day: date
    days: int
    time_zone: str

    @cached_property
    def zone(self) -> ZoneInfo:
        """The farm's time zone."""
        return ZoneInfo(self.time_zone)

    @cached_property
    def origin_utc(self) -> datetime:
        """First local midnight."""
        return local_midnight(self.first_day, self.zone)

    def day(self, index: int) -> date:
        """Return the local date of day `index`."""
        return self.first_day + timedelta(days=index)

    def day_index(self, day: date) -> int:
        """Return the index of a local date; may lie outside the horizon."""
        return (day - self.first_day).days

    def minute(self, moment: datetime) -> int:
        """Return whole minutes from the origin to an aware time, rounded down."""
        return int((moment - self.origin_utc) // timedelta(minutes=1))

    def moment(self, minute: int) -> datetime:
        """Return the farm-local time of a minute."""
        return (self.origin_utc + timedelta(minutes=minute)).astimezone(self.zone)

    def minute_at(self, day: date, clock: time) -> int:
        """Return the minute of a local wall-clock time."""
        return self.minute(datetime.combine(day, clock, self.zone).astimezone(UTC))

    def day_interval(self, index: int) -> tuple[int, int]:
        """Return first minute and end minute of day `index`."""
        start = self.minute(local_midnight(self.day(index), self.zone))
        return start, self.minute(local_midnight(self.day(index + 1), self.zone))

    @property
    def end_utc(self) -> datetime:
        """End of the last day."""
        return local_midnight(self.day(self.days), self.zone)
