"""Wishes about working hours: longer or shorter days, a weekday off or worked.

Question answered: *how would the shifts of these people read?*
"""

from __future__ import annotations

from datetime import datetime, time

from scheduler.events.report import find
from scheduler.events.situation import Situation
from scheduler.farm.operator import WEEKDAYS, Operator, written_shift
from scheduler.whatif.invented import Invented, changed
from scheduler.whatif.wish import Wish
from shared.errors import ReportRefused
from shared.units import UnitFault, parse


def _people(situation: Situation, words: tuple[str, ...]) -> list[Operator]:
    farm = situation.farm
    if len(words) < 2 or words[1].casefold() == "all":
        return list(farm.operators)
    return [farm.operator_by_id[find("operator", words[1], {one.id: one.label for one in farm.operators})]]


def longer(wish: Wish, situation: Situation, now: datetime) -> Invented:
    """Let every day of a person end later (or earlier), its limit with it; the normal hours stay, so that it is paid."""
    try:
        hours = parse(wish.words[1], "hours") * (1 if wish.verb == "longer" else -1)
    except UnitFault as error:
        raise ReportRefused(f"{wish.words[1]!r} {error.problem}; allowed: {error.allowed}.") from error
    reports = []
    for person in _people(situation, ("", *wish.words[:1])):
        written = []
        for shift in person.shifts:
            start, end = (60 * t.hour + t.minute for t in (shift.start, shift.end))
            until = round(min(end + 60 * hours, 23 * 60 + 45))
            if until <= start:
                raise ReportRefused(f"{person.label} would have no day left.")
            written.append(written_shift(shift.days, shift.start, time(*divmod(until, 60))))
        most = min(24.0, person.most_hours_per_day + hours)
        week = min(168.0, person.most_hours_per_week + 6 * hours)
        normal = min(person.normal_hours_per_day, most)
        values = {
            "shift": written, "most_hours": f"{most:g} h", "most_hours_week": f"{week:g} h", "normal_hours": f"{normal:g} h",
        }  # fmt: skip
        reports.append(changed(person.id, "operator", values, now))
    return Invented(tuple(reports))


def weekday(wish: Wish, situation: Situation, now: datetime) -> Invented:
    """Take a weekday off, or work on it with the hours of the person's first shift."""
    day = wish.words[0].casefold()[:3]
    if day not in WEEKDAYS:
        raise ReportRefused(f"{wish.words[0]!r} is no weekday; allowed: {', '.join(WEEKDAYS)}.")
    reports = []
    for person in _people(situation, wish.words):
        shifts = [(shift, tuple(d for d in shift.days if d != day)) for shift in person.shifts]
        if wish.verb == "on":
            shifts = [(shift, (*days, day) if k == 0 else days) for k, (shift, days) in enumerate(shifts)]
        written = [written_shift(days, shift.start, shift.end) for shift, days in shifts if days]
        reports.append(changed(person.id, "operator", {"shift": written}, now))
    return Invented(tuple(reports))
