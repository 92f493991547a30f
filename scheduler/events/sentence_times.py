"""Times in a sentence: `fri at noon`, `tomorrow morning`, `until 3 pm`, `wed to fri`, `for two days`, `at 3`.

Question answered: *when, from when, until when?* Each word for a time is used up as it is understood. An hour without am or pm
is the one that fits: behind for what happened, ahead for what is to come; where both or none would, it is asked for.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from scheduler.events import speech as w
from scheduler.events.report import day_ahead, day_behind, weekday
from scheduler.events.sentence_left import NotClear, Sentence

EVENING = "18:00"
"""When work of a day that is named without an hour is taken to have been done."""
BEGINS = {"morning": "00:00", "afternoon": "12:00", "evening": "18:00"}
ENDS = {"morning": "12:00", "afternoon": "18:00", "evening": "21:00"}
"""Parts of a day (common speech, no source)."""
WAKING_H = (5, 22)
"""Hours that people mean by an hour without am or pm."""
EVENING_H = 18
WORDS_MOST = 6
When = dict[str, str | None]


@dataclass(frozen=True)
class Moment:
    """What is said of one time: a day, a time of day, a part of a day, or an hour that may be before or after noon."""

    day: str | None = None
    clock: str | None = None
    part: str | None = None
    hour: str | None = None

    def __bool__(self) -> bool:
        return any((self.day, self.clock, self.part, self.hour))

    def clock_on(self, day: date, now: datetime, ahead: bool | None) -> str | None:
        """Return the time of day as HH:MM; None where none is said; `ahead` of now or behind, None where it may be either.

        Raises
        ------
        NotClear
            An hour fits before and after noon, or neither.
        """
        if self.clock is not None or self.hour is None:
            return self.clock
        known = int(self.hour)
        hours = [h for h in dict.fromkeys((known, known % 12 + 12)) if WAKING_H[0] <= h <= WAKING_H[1]]
        if self.part is not None:
            hours = [h for h in hours if (h < 12) == (self.part == "morning")]
        if day == now.date():
            hours = [h for h in hours if ahead is None or (h > now.hour) == ahead]
        elif len(hours) > 1:
            hours = [h for h in hours if h < EVENING_H]
        if len(hours) != 1:
            raise NotClear(f"{self.hour!r} can be {known} am or {known} pm")
        return f"{hours[0]:02d}:00"


def time_after(s: Sentence, kind: str) -> tuple[str, Moment]:
    """Use up a word such as until or from, and the time behind it; return what the word says and the time."""
    for place, one in enumerate(s.left):
        if kind in one.can_be:
            moment, count = _moment(s, place + 1)
            if moment:
                del s.left[place : place + 1 + count]
                return one.can_be[kind][0], moment
    return "", Moment()


def when(s: Sentence) -> tuple[str, Moment]:
    """Use up a day and an hour, with or without a word such as on or at before them."""
    said, found = time_after(s, w.FROM)
    more = time_after(s, w.FROM)[1] if found and not (found.day and found.clock) else Moment()
    day, clock, part = found.day or more.day, found.clock or more.clock, found.part or more.part
    return said, Moment(
        day or s.take(w.DAY), clock or s.take(w.CLOCK), part or s.take(w.PART), found.hour or more.hour
    )


def past(s: Sentence) -> When:
    """Return when something happened: a weekday is the last one."""
    _, moment = when(s)
    if not moment:
        return {}
    today = s.now.date()
    on = today if moment.day is None else day_behind(moment.day, today)
    clock = moment.clock_on(on, s.now, ahead=False)
    if clock is not None:
        return {"at": f"{on} {clock}"}
    if on == today:
        return {}
    return {"at": f"{on} {ENDS[moment.part] if moment.part else EVENING}"}


def ended(s: Sentence) -> When:
    """As `past`; of a stretch of time its end, and where it is said its begin too: `from 2 pm to 6 pm`, `until noon`."""
    last = Moment()
    if any(w.UNTIL in one.can_be for one in s.left):
        _, last = time_after(s, w.UNTIL)
    if not last:
        return past(s)
    _, first = when(s)
    day = last.day or first.day
    on = s.now.date() if day is None else day_behind(day, s.now.date())
    begin = first.clock_on(on, s.now, ahead=False) if first.clock or first.hour else None
    clock = last.clock_on(on, s.now, ahead=False) if begin is None else _after_begin(last, on, begin, s.now)
    if clock is None:
        raise NotClear("the hour is not said")
    out: When = {"at": f"{on} {clock}"}
    return out if begin is None else out | {"since": f"{on} {begin}"}


def _after_begin(last: Moment, on: date, begin: str, now: datetime) -> str | None:
    """Return the end of a stretch that began at a time of day: of an hour before or after noon the first one behind it."""
    if last.clock is None and last.hour is not None:
        later = [f"{h:02d}:00" for h in (int(last.hour), int(last.hour) % 12 + 12) if f"{h:02d}:00" > begin]
        return later[0] if later else None
    clock = last.clock_on(on, now, ahead=False)
    if clock is not None and clock <= begin:
        raise NotClear(f"work from {begin} to {clock} is none")
    return clock


def night(s: Sentence) -> When:
    """Return since when rain fell that is said of the night: the evening before, not midnight."""
    if s.take(w.NIGHT) is None:
        return {}
    return {"since": f"{s.now.date() - timedelta(days=1)} {EVENING}"}


def span(s: Sentence, of_person: bool) -> When:
    """Return begin and end of an outage or absence: a day is that whole day, an hour of a person the rest of the day."""
    rest = s.take(w.REST)
    if rest is not None:
        return _rest(rest, s.now.date())
    how, last = time_after(s, w.UNTIL)
    long = None if last else s.take(w.LONG)
    said, first = when(s)
    today = s.now.date()
    on = today if first.day is None else day_ahead(first.day, today)
    # A machine broke, mostly, before it is said; a person says it before leaving.
    clock = first.clock_on(on, s.now, ahead=of_person and said != "since")
    clock = clock or (BEGINS[first.part] if first.part else None)
    out: When = {"at": f"{on} {clock or '00:00'}"} if clock or on > today else {}
    if last:
        out["until"] = _end(last, how, on, clock, s.now)
    elif long is not None:
        out["until"] = _after(float(long), on, clock, s.now, of_person)
    elif not _open(said, first, of_person):
        out["until"] = _end_of(first, on)
    if last and str(out["until"]) <= (out.get("at") or f"{s.now:%Y-%m-%d %H:%M}"):
        raise NotClear(f"until {out['until']} is over before it begins")
    return out


def leaving(s: Sentence) -> When:
    """Return begin and end of the absence of somebody who leaves for the day: `only until 3 pm`, `leaves at noon`."""
    _, moment = time_after(s, w.UNTIL)
    if not moment:
        _, moment = when(s)
    today = s.now.date()
    on = today if moment.day is None else day_ahead(moment.day, today)
    clock = moment.clock_on(on, s.now, ahead=True)
    if clock is None and (on > today or moment.part):
        raise NotClear("the hour is not said")
    out: When = {"until": _midnight_after(on)}
    return out | {"at": f"{on} {clock}"} if clock else out


def coming_back(s: Sentence) -> tuple[date | None, str | None]:
    """Return the day and hour from which something is there again; of today no day, of now neither."""
    today = s.now.date()
    long = s.take(w.LONG)
    if long is not None:
        end = _after(float(long), today, None, s.now, of_person=False)
        return date.fromisoformat(end[:10]), end[11:]
    _, moment = when(s)
    on = today if moment.day is None else day_ahead(moment.day, today)
    clock = moment.clock_on(on, s.now, ahead=None)
    if clock is None and moment.part:
        clock = BEGINS[moment.part]
    return (None if moment.day is None else on), clock


def _moment(s: Sentence, place: int) -> tuple[Moment, int]:
    """Return the time that stands at a place, and of how many words; a word such as at may stand within it."""
    found: dict[str, str] = {}
    count = 0
    for k, one in enumerate(s.left[place : place + WORDS_MOST]):
        kind = next((kind for kind in OF_TIME if kind in one.can_be), None)
        field = None if kind is None else OF_TIME[kind]
        if field is None:
            if w.FROM not in one.can_be:
                break
        elif field in found or {field, *found} >= {"clock", "hour"}:
            break
        else:
            found[field] = one.can_be[str(kind)][0]
            count = k + 1
    return Moment(**found), count


OF_TIME = {w.DAY: "day", w.CLOCK: "clock", w.PART: "part", w.HOUR: "hour"}


def _open(said: str, first: Moment, of_person: bool) -> bool:
    """Return whether nobody knows the end: none of it is said, or it goes on from then."""
    if not first or said == "since":
        return True
    if first.clock or first.hour:
        return not of_person
    return said == "from" and first.day is not None


def _end(last: Moment, how: str, on: date, begin: str | None, now: datetime) -> str:
    """Return the end that `until` or `through` and a time say."""
    day = on if last.day is None else day_ahead(last.day, now.date())
    if day < on and last.day is not None and weekday(last.day) is not None:
        day += timedelta(days=7)
    after = now if begin is None or day > on else datetime.combine(on, time.fromisoformat(begin))
    clock = last.clock_on(day, after, ahead=True)
    if clock is not None:
        return f"{day} {clock}"
    if how == "until":
        return f"{day} {BEGINS[last.part] if last.part else '00:00'}"
    return f"{day} {ENDS['morning']}" if last.part == "morning" else _midnight_after(day)


def _after(hours: float, on: date, clock: str | None, now: datetime, of_person: bool) -> str:
    """Return the end after a length of time; of a person whole days end with a day."""
    if of_person and hours % 24 == 0 and clock is None:
        return f"{on + timedelta(hours=hours)} 00:00"
    begin = (
        now
        if clock is None and on <= now.date()
        else datetime.combine(on, time.fromisoformat(clock or "00:00"))
    )
    return f"{begin + timedelta(hours=hours):%Y-%m-%d %H:%M}"


def _end_of(first: Moment, on: date) -> str:
    return f"{on} {ENDS['morning']}" if first.part == "morning" else _midnight_after(on)


def _midnight_after(day: date) -> str:
    return f"{day + timedelta(days=1)} 00:00"


def _rest(said: str, today: date) -> When:
    monday = today + timedelta(days=7 - today.weekday())
    if said == "next week":
        return {"at": f"{monday} 00:00", "until": f"{monday + timedelta(days=7)} 00:00"}
    return {"until": _midnight_after(today) if said == "day" else f"{monday} 00:00"}
