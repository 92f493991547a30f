"""Worries as people read them: many of one kind about one pass and day are one line with all its fields.

A program, and each person's list, finds every one of them by itself in the plan.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from scheduler.farm.farm import Farm
from scheduler.planning.plan import Worry
from scheduler.planning.wording import Names, day_text, first_few
from scheduler.planning.worries import CLOSED, DOUBTFUL, DOUBTFUL_PINNED, NO_ROOM, SKIPPED, TIGHT

LEAST_ALIKE = 3
LINES = {
    SKIPPED: "{job}: not reported done in {count} fields, though work that comes after it is",
    CLOSED: "{job}: the window closed on {day} in {count} fields with {area} left",
    NO_ROOM: "{job}: the window closes on {day} in {count} fields, {area} find no room",
    TIGHT: "{job}: the window closes on {day} in {count} fields, where it is planned to end no more than a day before",
    DOUBTFUL: "{job} on {day}: odds of only {odds} in {count} fields",
    DOUBTFUL_PINNED: "{job} on {day}: odds of only {odds} in {count} fields, pinned",
}
"""What a line about one field becomes of several."""
Alike = tuple[str, str, int, str]


def gathered(worries: Iterable[Worry], farm: Farm) -> tuple[Worry, ...]:
    """Return the worries with those that are alike put together, where the first of them stood."""
    found = list(worries)
    names = Names(farm)
    alike: dict[Alike, list[Worry]] = {}
    for one in found:
        if one.line in LINES:
            alike.setdefault(_kind(one, names), []).append(one)
    out: list[Worry] = []
    said: set[Alike] = set()
    for one in found:
        kind = _kind(one, names)
        group = alike.get(kind, [])
        if len({other.field for other in group}) < LEAST_ALIKE:
            out.append(one)
        elif kind not in said:
            said.add(kind)
            out.append(_together(group, names, kind))
    return tuple(_doubtful_days(out, names))


def _doubtful_days(worries: list[Worry], names: Names) -> list[Worry]:
    """Put together what is left of poor odds on one day, whatever the job: it stands behind each job of the day as well."""
    by_day: dict[str, list[Worry]] = {}
    for one in worries:
        if one.line == DOUBTFUL:
            by_day.setdefault(_day(one), []).append(one)
    many = {day: group for day, group in by_day.items() if len({one.field for one in group}) >= LEAST_ALIKE}
    out: list[Worry] = []
    for one in worries:
        group = many.get(_day(one), []) if one.line == DOUBTFUL else []
        if not group:
            out.append(one)
        elif one is group[0]:
            works = names.works((other.field or "", other.pass_id or "") for other in group)
            day = day_text(date.fromisoformat(_day(one)))
            text = f"On {day} odds of only {_odds(group)}: {first_few(works)}."
            out.append(Worry(severity=max(other.severity for other in group), text=text))
    return out


def _kind(one: Worry, names: Names) -> Alike:
    """Return what makes worries alike: line, job, gravity, and the day they are about."""
    return one.line, names.job(one.field or "", one.pass_id or ""), one.severity, _day(one)


def _day(one: Worry) -> str:
    when = one.values.get("closes") or one.values.get("start") or ""
    return when[:10]


def _together(group: list[Worry], names: Names, kind: Alike) -> Worry:
    line, job, severity, day = kind
    fields = list(dict.fromkeys(names.field(one.field or "") for one in group))
    text = LINES[line].format(
        job=job, count=len(fields), day=day_text(date.fromisoformat(day)) if day else "",
        area=names.area(sum(float(one.values.get("left_ha", "0")) for one in group)),
        odds=_odds(group),
    )  # fmt: skip
    return Worry(severity=severity, text=f"{text}: {first_few(fields)}.", pass_id=group[0].pass_id)


def _odds(group: list[Worry]) -> str:
    odds = sorted(float(one.values.get("chance", "0")) for one in group)
    low, high = f"{odds[0]:.0%}", f"{odds[-1]:.0%}"
    return low if low == high else f"{low} to {high}"
