"""Days and hours as people and spreadsheets write them: ISO, the month by name, or figures whose order the whole column tells.

`5/11/2027` is a day in May to some and in November to others. A column of work done is read only where one of its
days (above 12), that no work is done in days to come, or the user says which; it is never guessed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, time
from typing import Any

from adapters.files.bounded import fault_of
from shared.clock import time_of_day
from shared.vocabulary import DayOrder

DAY_ALLOWED = "a date such as 2027-05-10, 10 May 2027 or 5/10/2027"
CLOCK_ALLOWED = "a time such as 13:30 or 1:30 pm"
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
BEHIND = r"(?:[ T]+\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?\s*(?:[ap]\.?m\.?)?)?"
"""Spreadsheets put a time behind a day, mostly midnight."""
ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})" + BEHIND, re.IGNORECASE)
FIGURES = re.compile(r"(\d{1,2})([/.-])(\d{1,2})\2(\d{4}|\d{2})" + BEHIND, re.IGNORECASE)
WEEKDAY = r"(?:(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,?\s+)?"
DAY_NAMED = re.compile(
    WEEKDAY + r"(\d{1,2})(?:st|nd|rd|th)?[\s-]+([a-z]{3,9})\.?,?[\s-]+(\d{4}|\d{2})", re.IGNORECASE
)
MONTH_NAMED = re.compile(
    WEEKDAY + r"([a-z]{3,9})\.?[\s-]+(\d{1,2})(?:st|nd|rd|th)?,?[\s-]+(\d{4})", re.IGNORECASE
)


@dataclass(frozen=True)
class DayReader:
    """Reads the days of one column.

    Attributes
    ----------
    order : DayOrder, optional
        None where no day in figures needs it.
    """

    order: DayOrder | None

    def read(self, text: Any) -> date:
        """Return a day.

        Raises
        ------
        ValueError
            It is none.
        """
        said = str(text).strip()
        if (iso := ISO.fullmatch(said)) is not None:
            return date(int(iso[1]), int(iso[2]), int(iso[3]))
        if (figures := FIGURES.fullmatch(said)) is not None:
            first, second = int(figures[1]), int(figures[3])
            day, month = (first, second) if self.order is DayOrder.DAY_FIRST else (second, first)
            return date(_year(figures[4]), month, day)
        if (named := DAY_NAMED.fullmatch(said)) is not None:
            return date(_year(named[3]), _month(named[2]), int(named[1]))
        if (named := MONTH_NAMED.fullmatch(said)) is not None:
            return date(_year(named[3]), _month(named[1]), int(named[2]))
        raise ValueError(f"{said!r} is not a date")


def reader_of(
    column: Iterable[Any],
    file: str,
    where: str = "date",
    order: DayOrder | None = None,
    latest: date = date.max,
) -> DayReader:
    """Return the reader of a column: in the order that is said, else in the one that its days tell.

    Parameters
    ----------
    column : iterable
        Its cells.
    order : DayOrder, optional
        What the user says.
    latest : date, optional
        No day of the column can be later, so an order that makes one so is not meant.

    Raises
    ------
    FarmFileError
        Both orders can be, or none can.
    """
    if order is not None:
        return DayReader(order)
    cells = [text for one in column if FIGURES.fullmatch(text := str(one).strip())]
    # What can be in neither order is no day, or one to come: refused row by row, and says nothing of the others.
    can = {text: days for text in cells if (days := _days(text, latest))}
    only = {name: next((t for t, days in can.items() if list(days) == [name]), None) for name in DayOrder}
    if all(only.values()):
        raise fault_of(
            file, "put day and month in two orders", f"one order in all rows, or dates such as 2027-05-10; {_say('the order that is meant')}",
            where, ", ".join(map(str, only.values())),
        )  # fmt: skip
    if not any(only.values()):
        either = next((text for text, days in can.items() if len(set(days.values())) > 1), None)
        if either is not None:
            raise fault_of(file, "can be read in two ways", _say("which"), where, either)
    return DayReader(next((name for name in DayOrder if only[name]), None))


def _days(text: str, latest: date) -> dict[DayOrder, date]:
    """Return the days that a text can be, by the order it is read in."""
    out = {}
    for order in DayOrder:
        with suppress(ValueError):
            out[order] = DayReader(order).read(text)
    return {order: day for order, day in out.items() if day <= latest}


def _say(what: str) -> str:
    return f"--dates {DayOrder.MONTH_FIRST} or --dates {DayOrder.DAY_FIRST} says {what}"


def _year(text: str) -> int:
    return int(text) + (2000 if len(text) == 2 else 0)


def _month(text: str) -> int:
    if text[:3].lower() not in MONTHS:
        raise ValueError(f"{text!r} is no month")
    return MONTHS.index(text[:3].lower()) + 1


def read_clock(text: Any) -> time:
    """Return a time of day: 13:30, 7:05 or 1:30 pm.

    Raises
    ------
    ValueError
        It is none.
    """
    found = time_of_day(str(text))
    if found is None:
        raise ValueError(f"{text!r} is no time of day")
    return found


def bare(heading: str) -> str:
    """Return a heading without what people vary: small letters only."""
    return re.sub(r"[^a-z]", "", heading.lower())
