"""When people and machines are there: shifts without absences and breakdowns, and the hours that people may work.

Question answered: *in which quarter hours is this person or machine free to work at all?* Input: a situation and
the quarter hours of the horizon; output: open intervals, nothing before now, and working-time limits.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from math import floor

from scheduler.events.situation import Situation, Span
from scheduler.farm.farm import Farm
from scheduler.farm.operator import Operator
from scheduler.planning.quarters import MINUTES, Interval, Quarters, quarters_up
from scheduler.solver.resources import HoursLimit
from scheduler.solver.rigday_calendar import without

CENTS = 100.0


def holes(spans: Iterable[Span], grid: Quarters) -> list[Interval]:
    """Return spans as quarter hours, rounded outwards; open-ended ones reach past the horizon."""
    end = grid.day(grid.horizon.days + 90)[1]
    return [(grid.down(s.start), end if s.end is None else grid.up(s.end)) for s in spans]


def _from(name: str, situation: Situation, grid: Quarters) -> int:
    now, left = grid.up(situation.now), situation.on_way.get(name)
    return now if left is None else min(now, grid.up(left))


def person_open(person: Operator, situation: Situation, grid: Quarters) -> list[Interval]:
    """Return when a person may be at work (travel included), from now on, or since they are on the road."""
    now = _from(person.id, situation, grid)
    spans: list[Interval] = []
    for k in range(grid.horizon.days):
        day = grid.horizon.day(k)
        shift = person.shift_on(day)
        if shift is None:
            continue
        first, last = grid.shift(day, shift.start, shift.end)
        first = max(first, now)
        worked = situation.worked_minutes.get((person.id, day), 0.0)
        if worked > 0:
            left = person.most_hours_per_day * 60.0 - worked
            last = min(last, first + max(0, floor(left / MINUTES)))
        if last > first:
            spans.append((first, last))
    return without(spans, holes(situation.operator_away.get(person.id, ()), grid))


def working_day(farm: Farm, day: date, grid: Quarters) -> Interval | None:
    """Return from when to when anybody is at work on a day; None when all are off."""
    shifts = [grid.shift(day, s.start, s.end) for p in farm.operators if (s := p.shift_on(day)) is not None]
    return (min(a for a, _ in shifts), max(b for _, b in shifts)) if shifts else None


def machine_open(machine_id: str, situation: Situation, grid: Quarters) -> list[Interval]:
    """Return when a machine may be out (road included): the working day less the daily service, unless down."""
    farm = situation.farm
    now = _from(machine_id, situation, grid)
    service = quarters_up(farm.plan.service_minutes)
    spans: list[Interval] = []
    for k in range(grid.horizon.days):
        span = working_day(farm, grid.horizon.day(k), grid)
        if span is not None and span[1] > max(span[0] + service, now):
            spans.append((max(span[0] + service, now), span[1]))
    return without(spans, holes(situation.machine_down.get(machine_id, ()), grid))


def week_start(day: date) -> date:
    """Return the Monday of a day's week."""
    return day - timedelta(days=day.weekday())


def worked_in_week(person_id: str, monday: date, situation: Situation) -> float:
    """Return the minutes that a person has worked in a week so far."""
    return sum(
        minutes
        for (who, day), minutes in situation.worked_minutes.items()
        if who == person_id and week_start(day) == monday
    )


def hours_limit(person: Operator, situation: Situation, grid: Quarters) -> HoursLimit:
    """Return the working-time limits of a person, in quarters and cents."""
    weeks: dict[date, list[int]] = {}
    for k in range(grid.horizon.days):
        weeks.setdefault(week_start(grid.horizon.day(k)), []).append(k)
    wage = person.wage_per_h * CENTS * MINUTES / 60.0
    return HoursLimit(
        normal_per_day=floor(person.normal_hours_per_day * 60 / MINUTES),
        most_per_day=floor(person.most_hours_per_day * 60 / MINUTES),
        most_per_week=floor(person.most_hours_per_week * 60 / MINUTES),
        cost_per_minute=wage,
        overtime_per_minute=wage * person.overtime_factor,
        weeks=tuple(tuple(days) for days in weeks.values()),
        used_before=tuple(quarters_up(worked_in_week(person.id, monday, situation)) for monday in weeks),
    )
