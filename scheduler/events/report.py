"""A `Report` is what somebody says, read but not yet believed; `decide` makes an event of it or refuses it."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from difflib import get_close_matches
from typing import Any
from zoneinfo import ZoneInfo

from shared.clock import time_of_day
from shared.errors import ReportRefused
from shared.vocabulary import EventKind

DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
FUTURE_TOLERANCE = timedelta(minutes=10)
"""Clocks of phones differ; a report up to this far ahead is taken."""


@dataclass(frozen=True)
class Report:
    """What somebody says: a kind of event and its body, not yet checked against the farm."""

    kind: EventKind
    body: dict[str, Any]
    happened_at: datetime
    by: str = ""
    source: str = "command line"
    id: str = field(default="")

    def key(self) -> str:
        """Return the sender's id, or one made from what is said, so that a re-send counts once."""
        if self.id:
            return self.id
        said = json.dumps(
            [self.kind.value, self.body, self.happened_at.isoformat(timespec="minutes"), self.by],
            sort_keys=True,
            default=str,
        )
        return "r-" + hashlib.sha256(said.encode()).hexdigest()[:12]


NEAR = {"yesterday": -1, "today": 0, "tomorrow": 1}
DAYS_SEARCHED = 366
ISO_DAY = re.compile(r"\d{4}-\d\d-\d\d")


MONTHS = ("january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november", "december")  # fmt: skip
OF_MONTH = re.compile(r"([a-z]{3,})\.? (\d{1,2})(?:st|nd|rd|th)?|(\d{1,2})(?:st|nd|rd|th)")


def _in_calendar(text: str, today: date, step: int) -> date | None:
    """Return the day that `May 14` or `14th` means, the next one (step 1) or the last (step -1); today is both."""
    found = OF_MONTH.fullmatch(text.strip().casefold())
    if found is None:
        return None
    month = next((k for k, name in enumerate(MONTHS, 1) if found[1] and name.startswith(found[1])), None)
    if found[1] and month is None:
        return None
    wanted = (month, int(found[2] or found[3]))
    days = (today + timedelta(days=step * k) for k in range(DAYS_SEARCHED))
    return next((day for day in days if wanted in ((day.month, day.day), (None, day.day))), None)


def weekday(text: str) -> int | None:
    """Return the number of a weekday (Monday 0) named by at least three letters, else None."""
    said = text.strip().casefold()
    return next((k for k, name in enumerate(DAYS) if len(said) >= 3 and name.startswith(said)), None)


def day_word(text: str) -> bool:
    """Return whether a text is a day: ISO, a weekday, May 14, the 14th, yesterday, today or tomorrow."""
    try:
        day_ahead(text, date(2000, 1, 1))
    except ValueError:
        return False
    return True


def day_ahead(text: str, today: date) -> date:
    """Return the day that a word of `day_word` means: a weekday is the next one after today.

    Raises
    ------
    ValueError
        It is no day.
    """
    said, named = text.strip().casefold(), weekday(text)
    if named is not None:
        return today + timedelta(days=(named - today.weekday()) % 7 or 7)
    if said in NEAR:
        return today + timedelta(days=NEAR[said])
    if (dated := _in_calendar(said, today, 1)) is not None:
        return dated
    if not ISO_DAY.fullmatch(said):
        raise ValueError(f"{text!r} is no day")
    return date.fromisoformat(said)


def day_behind(text: str, today: date) -> date:
    """Return the day that a word of `day_word` means of what happened: a weekday is the last one, today too."""
    named = weekday(text)
    if named is not None:
        return today - timedelta(days=(today.weekday() - named) % 7)
    return _in_calendar(text, today, -1) or day_ahead(text, today)


def clock_of(text: str) -> str | None:
    """Return a time of day as HH:MM: 14:30, 2:30 pm, 7 am, noon; None where it is none."""
    found = time_of_day(text)
    return None if found is None else f"{found:%H:%M}"


def read_time(text: str, now: datetime, zone: ZoneInfo, what: str = "time") -> datetime:
    """Read a farm-local time: ``14:30`` (today), ``2027-05-12 14:30``, ``fri 2 pm``, ``tomorrow``, or a day (its start).

    A weekday is the next one after today.

    Raises
    ------
    ReportRefused
        Not a time.
    """
    today = now.astimezone(zone).date()
    day, _, rest = text.strip().partition(" ")
    if (clock := clock_of(text)) is not None:
        text = f"{today} {clock}"
    elif day_word(text):
        text = f"{day_ahead(text, today)} 00:00"
    elif day_word(day) and (clock := clock_of(rest or "00:00")) is not None:
        text = f"{day_ahead(day, today)} {clock}"
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError as error:
        raise ReportRefused(
            f"the {what} {text!r} cannot be read; allowed: 14:30, 2027-05-12 14:30, 2027-05-12, tomorrow, fri or fri 14:30."
        ) from error
    return moment.replace(tzinfo=zone) if moment.tzinfo is None else moment


def find(what: str, text: str, names: Mapping[str, str], unknown: str = "") -> str:
    """Return the id that a person means: an id, or a name in any case.

    Parameters
    ----------
    unknown : str
        How it is said that there is none such, where that is not `the WHAT TEXT is not known`.

    Raises
    ------
    ReportRefused
        Unknown; the nearest known one is suggested.
    """
    wanted = text.strip().casefold()
    for key, label in names.items():
        if wanted in (key.casefold(), label.casefold()):
            return key
    pool = {label.casefold(): label for label in names.values()} | {key.casefold(): key for key in names}
    near = get_close_matches(wanted, list(pool), n=1, cutoff=0.5)
    hint = f"did you mean {pool[near[0]]!r}? " if near else ""
    unknown = unknown or f"the {what} {text!r} is not known"
    raise ReportRefused(f"{unknown}; {hint}known: {', '.join(names) or '(none)'}.")
