"""The season behind the exact horizon: weeks with a capacity, so that the near plan neither starves nor hoards.

Question answered: *how many fit working quarters has each machine and person in each later week?* Input: the
outlook's expected share of fit daytime hours per operation and week, and the shifts; output: the engine's buckets.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta

import numpy as np

from scheduler.events.situation import Situation, Span
from scheduler.farm.operator import Operator
from scheduler.farm.rig import rigs_of
from scheduler.planning.calendars import holes
from scheduler.planning.quarters import MINUTES, Quarters
from scheduler.solver.resources import Bucket
from scheduler.windows.records import Outlook
from shared.vocabulary import Operation

MOST_WEEKS = 8
ROAD_SHARE = 0.8
"""Share of a working day that is left for field work after service, road and breaks (assumption)."""


def weeks_behind(outlook: Outlook) -> int:
    """Return how many weeks behind the horizon the outlook knows, at most eight."""
    lengths = [len(shares) for shares in outlook.season_fit_share.values()]
    return min([MOST_WEEKS, *lengths]) if lengths else 0


def week_span(grid: Quarters, week: int) -> tuple[date, date]:
    """Return first and last day of a week behind the horizon."""
    first = grid.horizon.day(grid.horizon.days + 7 * week)
    return first, first + timedelta(days=6)


def season_buckets(
    situation: Situation, outlook: Outlook, grid: Quarters, index: Mapping[str, int]
) -> tuple[Bucket, ...]:
    """Return the weeks behind the horizon.

    Parameters
    ----------
    index : mapping of machine or operator id to resource index
    """
    out = []
    for week in range(weeks_behind(outlook)):
        first, last = week_span(grid, week)
        share = {op: float(shares[week]) for op, shares in outlook.season_fit_share.items()}
        room: dict[int, int] = {}
        for person in situation.farm.operators:
            ops = [skill for skill in person.skills if skill in share]
            fit = max((share[op] for op in ops), default=float(np.mean(list(share.values()))))
            room[index[person.id]] = int(_shift_quarters(person, situation, grid, first, last) * fit)
        longest = max(_shift_quarters(p, situation, grid, first, last) for p in situation.farm.operators)
        for machine in situation.farm.machines:
            fit = _machine_share(situation, machine.id, share)
            gone = _days_gone(situation.machine_down.get(machine.id, ()), grid, first, last)
            room[index[machine.id]] = int(longest * fit * (1.0 - gone / 7.0))
        out.append(Bucket(grid.start_of(first), grid.end_of(last), room))
    return tuple(out)


def _machine_share(situation: Situation, machine_id: str, share: Mapping[str, float]) -> float:
    does: set[Operation] = set()
    for rig in rigs_of(situation.farm):
        if any(machine.id == machine_id for machine in rig.machines):
            does |= set(rig.worker.operations)
    known = [share[op.value] for op in does if op.value in share]
    return float(np.mean(known)) if known else float(np.mean(list(share.values())))


def _shift_quarters(person: Operator, situation: Situation, grid: Quarters, first: date, last: date) -> float:
    """Return the quarters that a person may work in a week, daily and weekly hours and absences counted."""
    away = holes(situation.operator_away.get(person.id, ()), grid)
    total = 0.0
    for k in range((last - first).days + 1):
        day = first + timedelta(days=k)
        shift = person.shift_on(day)
        if shift is None or any(a <= grid.start_of(day) and grid.end_of(day) <= b for a, b in away):
            continue
        a, b = grid.shift(day, shift.start, shift.end)
        total += min(b - a, person.most_hours_per_day * 60 / MINUTES)
    return min(total, person.most_hours_per_week * 60 / MINUTES) * ROAD_SHARE


def _days_gone(spans: tuple[Span, ...], grid: Quarters, first: date, last: date) -> int:
    gone = holes(spans, grid)
    days = [first + timedelta(days=k) for k in range((last - first).days + 1)]
    return sum(any(a <= grid.start_of(d) and grid.end_of(d) <= b for a, b in gone) for d in days)
