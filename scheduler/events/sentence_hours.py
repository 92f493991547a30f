"""Working hours of one day in a sentence: `ilse works until 9 pm`, `oskari works sunday`, `tove starts at 9 tomorrow`.

Question answered: *from when to when does somebody work on which day?* Who says one end of the day keeps the usual other one.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import time

from scheduler.events import speech as w
from scheduler.events.report import day_ahead
from scheduler.events.sentence_left import NotClear, Sentence, Strict
from scheduler.events.sentence_times import Moment, time_after, when
from scheduler.farm.operator import Operator, Shift
from shared.clock import is_iso_date

MORNING_H = 4
"""A day that begins at an hour said without am or pm begins from then to noon (common speech, no source)."""
LATEST_H = 23


def hours(s: Sentence, late: bool = False) -> Strict:
    """Read the hours that somebody works on one day; of who is `late until 9` it is the begin that is said."""
    person = s.farm.operator_by_id[s.must(w.OPERATOR)]
    _, last = time_after(s, w.UNTIL)
    _, first = when(s)
    if late:
        first, last = last or first, Moment(first.day)
    if not (first.clock or first.hour) and (hour := s.take(w.HOUR)) is not None:
        first = Moment(first.day, None, first.part, hour)
    word, today = first.day or last.day, s.now.date()
    day = today if word is None else day_ahead(word, today)
    usual = person.shift_on(day)
    begin, end = _begin(first), _end(last)
    if begin is None and end is None and (late or word is None):
        raise NotClear("the hour is not said" if late else "from when to when is not said")
    base = usual or _first(person)
    begin, end = begin or base.start, end or base.end
    if end <= begin or (day == today and end <= s.now.time()):
        raise NotClear(f"a day from {begin:%H:%M} to {end:%H:%M} is none, or over")
    if day == today and word is None and first and begin < s.now.time():
        raise NotClear(f"{begin:%H:%M} of today is over; say of which day it is")
    return ["hours", person.id, f"{begin:%H:%M}-{end:%H:%M}", day.isoformat()], {}


def _first(person: Operator) -> Shift:
    """Return the hours of a usual day."""
    return next((one for one in person.shifts if not all(map(is_iso_date, one.days))), person.shifts[0])


def _begin(moment: Moment) -> time | None:
    return _clock(moment, lambda hour: hour if MORNING_H <= hour <= 12 else hour + 12)


def _end(moment: Moment) -> time | None:
    """Return when a day ends; an hour without am or pm is after noon."""
    return _clock(moment, lambda hour: hour % 12 + 12)


def _clock(moment: Moment, of_hour: Callable[[int], int]) -> time | None:
    if moment.clock is not None:
        return time.fromisoformat(moment.clock)
    return None if moment.hour is None else time(min(of_hour(int(moment.hour)), LATEST_H))
