"""What somebody wants done by a time, in words: ``plant in heron, far-west by 2027-05-14``.

    plant in heron and far-west by fri
    plant by fri                                all fields in which the pass is still open
    can we finish planting corn by friday noon
    "side-dress and seed" in kiln by "2027-06-10 18:00"

A day stands for all of it: ``by 2027-05-14`` is the end of that day.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from scheduler.events.report import day_word, find, read_time, weekday
from scheduler.events.situation import Situation
from scheduler.planning.demands import Demand
from scheduler.whatif.demand_said import plain_question, said_keys
from shared.clock import Horizon
from shared.errors import ReportRefused

USAGE = "PASS [in FIELDS] by DATE|TIME"
BEFORE_A_DAY = re.compile(r"^(the )?(end of )?(the )?", re.IGNORECASE)
EVERYWHERE = ("all", "farm", "all fields", "every field", "everywhere")


def read_demands(text: str, situation: Situation, now: datetime) -> tuple[Demand, ...]:
    """Return what a text demands, one for each field.

    Raises
    ------
    ReportRefused
        It makes no sense for this farm or these days; one sentence.
    """
    text = plain_question(text)
    try:
        words = shlex.split(text)
    except ValueError as error:
        raise ReportRefused(f"{text!r}: a quotation mark is not closed.") from error
    low = [word.casefold() for word in words]
    if "by" not in low[1:-1]:
        raise ReportRefused(f"{text!r} does not say what is to be done by when; write: {USAGE}.")
    place = len(low) - 1 - low[::-1].index("by")
    head, until = words[:place], _until(" ".join(words[place + 1 :]), situation, now)
    if low[place - 1] == "everywhere" and place > 1:
        head, place = head[:-1], place - 1
    split = low.index("in", 1) if "in" in low[1:place] else place
    named = _fields_named(" ".join(head[split + 1 :]), situation)
    try:
        return _demands(" ".join(head[:split]), named, until, situation)
    except ReportRefused:
        keys = said_keys(" ".join(head), situation)
        if keys is None and low.count("by") > 1:
            raise ReportRefused(f"{text!r} says two times; say each demand by itself.") from None
        if keys is None:
            raise
        return tuple(Demand(field, pass_id, until) for field, pass_id in keys)


def _fields_named(text: str, situation: Situation) -> list[str]:
    """Return the names in a list with commas and "and"; a field may have an "and" in its own name."""
    known = {name.casefold() for one in situation.farm.fields for name in (one.id, one.label)}
    if text.casefold() in EVERYWHERE and text.casefold() not in known:
        return []
    parts = [part.strip() for part in text.split(",")]
    split = [[part] if part.casefold() in known else part.split(" and ") for part in parts]
    return [name.removeprefix("and ").strip() for names in split for name in names if name.strip()]


def _demands(what: str, named: list[str], until: datetime, situation: Situation) -> tuple[Demand, ...]:
    farm = situation.farm
    labels = {key[1]: farm.pass_label(key[1]) for key in situation.passes}
    fields = {one.id: one.label for one in farm.fields}
    if not named:
        pass_id = find("pass", what, labels)
        keys = [key for key in situation.passes if key[1] == pass_id and not situation.passes[key].cancelled]
        if not keys:
            raise ReportRefused(f"{labels[pass_id]} is cancelled in every field.")
        return tuple(Demand(field, name, until) for field, name in keys)
    out = []
    for text in named:
        field = find("field", text, fields)
        own = {
            key[1]: spec.label for key in situation.passes if key[0] == field and (spec := farm.spec(*key))
        }
        pass_id = find("pass", what, own, f"{what!r} is no pass of {fields[field]}")
        if situation.passes[(field, pass_id)].cancelled:
            raise ReportRefused(f"{own[pass_id]} in {fields[field]} is cancelled.")
        out.append(Demand(field, pass_id, until))
    return tuple(dict.fromkeys(out))


def _until(text: str, situation: Situation, now: datetime) -> datetime:
    """Return the moment by which it is to be done: of a day or weekday, its end."""
    zone = ZoneInfo(situation.farm.time_zone)
    said = BEFORE_A_DAY.sub("", text)
    today = now.astimezone(zone).date()
    day, _, clock = said.partition(" ")
    named = weekday(day)
    if named is not None:
        # Of today's weekday today is meant.
        said = f"{today + timedelta(days=(named - today.weekday()) % 7)} {clock}".strip()
    until = read_time(said, now, zone, "time after 'by'")
    if day_word(said):
        until = _end_of(until.date(), zone)
    if until <= now:
        raise ReportRefused(f"by {text!r}: that is over; allowed: a time from now on.")
    return until


def within(demands: Sequence[Demand], horizon: Horizon) -> tuple[Demand, ...]:
    """Return demands whose time lies within the days that are planned.

    Raises
    ------
    ReportRefused
        One lies behind them.
    """
    last = horizon.first_day + timedelta(days=horizon.days - 1)
    for demand in demands:
        if demand.until > _end_of(last, horizon.zone):
            raise ReportRefused(
                f"by {demand.until:%Y-%m-%d %H:%M} lies behind the days that are planned; allowed: up to {last}."
            )
    return tuple(dict.fromkeys(demands))


def _end_of(day: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(day + timedelta(days=1), time(0), zone)
