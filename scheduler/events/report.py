"""A `Report` is what somebody says, read but not yet believed; `decide` makes an event of it or refuses it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from difflib import get_close_matches
from typing import Any
from zoneinfo import ZoneInfo

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


def weekday(text: str) -> int | None:
    """Return the number of a weekday (Monday 0) named by at least three letters, else None."""
    said = text.strip().casefold()
    return next((k for k, name in enumerate(DAYS) if len(said) >= 3 and name.startswith(said)), None)


def read_time(text: str, now: datetime, zone: ZoneInfo, what: str = "time") -> datetime:
    """Read a farm-local time: ``14:30`` (today), ``2027-05-12 14:30``, ``fri 14:30``, or a day (its start).

    A weekday is the next one after today.

    Raises
    ------
    ReportRefused
        Not a time.
    """
    try:
        if len(text) <= 5 and ":" in text:
            hours, minutes = text.split(":")
            return now.astimezone(zone).replace(hour=int(hours), minute=int(minutes), second=0, microsecond=0)
        day, _, clock = text.strip().partition(" ")
        named = weekday(day)
        if named is not None:
            today = now.astimezone(zone).date()
            ahead = (named - today.weekday()) % 7 or 7
            text = f"{today + timedelta(days=ahead)} {clock or '00:00'}"
        moment = datetime.fromisoformat(text.strip())
    except ValueError as error:
        raise ReportRefused(
            f"the {what} {text!r} cannot be read; allowed: 14:30, 2027-05-12 14:30, 2027-05-12, fri or fri 14:30."
        ) from error
    return moment.replace(tzinfo=zone) if moment.tzinfo is None else moment


def find(what: str, text: str, names: Mapping[str, str]) -> str:
    """Return the id that a person means: an id, or a name in any case.

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
    raise ReportRefused(f"the {what} {text!r} is not known; {hint}known: {', '.join(names) or '(none)'}.")
