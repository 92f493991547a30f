"""When a mode can be staffed at all: its windows cut down to the times in which all it needs can be there at once.

Question answered: *at which hours of the day are there, for every need of this mode, machines and people that are open,
have had time to come and can still go home, a different one for each need?* Work that takes two drivers has no hour on
a day on which one is at home. A relaxation: only what no block could use is cut away.
"""

from __future__ import annotations

import copy
from functools import lru_cache
from itertools import pairwise

import numpy as np

from scheduler.solver.bound_rows import count_sites, shortest_roads
from scheduler.solver.problem import Mode, Problem
from scheduler.solver.resources import FAR, Interval
from scheduler.solver.rigday_calendar import Calendar
from scheduler.solver.rigday_layout import Ints

Crew = tuple[tuple[int, ...], ...]
"""Groups of which one each is taken, all different, none of them apart from the others."""
MOST_UNIONS = 40


def staffed(problem: Problem, calendar: Calendar) -> Calendar:
    """Return the calendar with the windows of every mode cut to its staffed hours.

    Tasks that stop at closures and go on after them keep their windows: one block of theirs may lie about several
    stretches of staffed hours.
    """
    out = copy.copy(calendar)
    staff = _Staff(problem, calendar)
    out.windows = [
        [
            cut if task.resumable else staff.cut(mode, cut)
            for mode, cut in zip(task.modes, calendar.windows[t], strict=True)
        ]
        for t, task in enumerate(problem.tasks)
    ]
    return out


class _Staff:
    def __init__(self, problem: Problem, calendar: Calendar) -> None:
        self.problem, self.calendar = problem, calendar
        # A day may begin with work that stands, wherever that is: then nothing is known of the first way.
        self.pinned = {r for pin in problem.pins for r in pin.resources}
        if any(not pin.resources for pin in problem.pins):
            self.pinned = set(range(len(problem.resources)))
        self.sites = count_sites(problem)
        self.roads = shortest_roads(problem)
        self.hours: dict[tuple[Crew, int], list[Interval]] = {}
        self.ends: dict[tuple[tuple[int, ...], int], tuple[Ints, Ints]] = {}

    def cut(self, mode: Mode, windows: list[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
        """Return windows of a mode (day, start, end) without the hours in which it cannot be staffed."""
        needs = tuple(n.any_of for n in mode.needs if not any(self._pool(r) for r in n.any_of))
        out = []
        for d, a, b in windows:
            if mode.site >= 0:
                for group in needs:
                    first, last = self._ways(group, d)
                    a, b = max(a, int(first[mode.site])), min(b, int(last[mode.site]))
            out += [(d, max(a, x), min(b, y)) for x, y in self._hours(needs, d) if min(b, y) > max(a, x)]
        return out

    def _hours(self, needs: Crew, d: int) -> list[Interval]:
        """Return the stretches of a day in which every need has its own open resource."""
        if (needs, d) in self.hours:
            return self.hours[needs, d]
        spans = {r: self.calendar.open[r][d] for need in needs for r in need}
        cuts = {x for of in spans.values() for span in of for x in span}
        out: list[Interval] = []
        for a, b in pairwise(sorted({*self.calendar.days[d], *cuts})):
            opened = {r for r, of in spans.items() if any(x <= a and b <= y for x, y in of)}
            if can_be_served(tuple(tuple(r for r in need if r in opened) for need in needs)):
                if out and out[-1][1] == a:
                    out[-1] = out[-1][0], b
                else:
                    out.append((a, b))
        self.hours[needs, d] = out
        return out

    def _pool(self, r: int) -> bool:
        return self.problem.resources[r].cumulative

    def _ways(self, group: tuple[int, ...], d: int) -> tuple[Ints, Ints]:
        """Return, by site, when any of a group can be there first on a day, and when the last has to leave for home."""
        if (group, d) not in self.ends:
            first, last = np.full(self.sites, FAR, np.int64), np.full(self.sites, -FAR, np.int64)
            for r in group:
                if spans := self.calendar.open[r][d]:
                    out, back = self._legs(r)
                    first = np.minimum(first, spans[0][0] + out)
                    last = np.maximum(last, spans[-1][1] - back)
            self.ends[group, d] = first, last
        return self.ends[group, d]

    def _legs(self, r: int) -> tuple[Ints, Ints]:
        moves = self.problem.resources[r].moves
        if moves is None or not moves.home_daily or moves.depot is None or r in self.pinned:
            return np.zeros(self.sites, np.int64), np.zeros(self.sites, np.int64)
        roads = self.roads[id(moves.minutes)]
        # A resource may know fewer sites than there are: it never goes to the others.
        known = min(self.sites, len(roads))
        rest = self.sites - known
        out, back = roads[moves.depot, :known], roads[:known, moves.depot]
        return np.pad(out, (0, rest)), np.pad(back, (0, rest))


@lru_cache(maxsize=1 << 16)
def most_served(needs: Crew) -> int:
    """Return for how many needs there is a different option each (a matching, by augmenting paths)."""
    taken: dict[int, int] = {}

    def place(i: int, asked: set[int]) -> bool:
        for r in needs[i]:
            if r not in asked:
                asked.add(r)
                if r not in taken or place(taken[r], asked):
                    taken[r] = i
                    return True
        return False

    return sum(place(i, set()) for i in range(len(needs)))


def can_be_served(needs: Crew) -> bool:
    """Tell whether every need can have one of its options, no option twice."""
    return most_served(needs) == len(needs)


@lru_cache(maxsize=1 << 16)
def crews_of(needs: Crew, opened: frozenset[int]) -> tuple[Crew, ...]:
    """Return the needs as crews: options that are open and leave one for every other need; apart what shares nobody.

    Where two are needed and one of them is the only one who may do the first job, he is no option for the second. Needs
    that cannot be served are one crew as they are: its people give no time that they do not have.
    """
    here = tuple(tuple(r for r in need if r in opened) for need in needs)
    if not can_be_served(here):
        return (tuple(sorted(needs)),)
    groups = [
        tuple(
            r
            for r in need
            if can_be_served(
                tuple(tuple(o for o in other if o != r) for j, other in enumerate(here) if j != i)
            )
        )
        for i, need in enumerate(here)
    ]
    crews: list[list[tuple[int, ...]]] = []
    for group in groups:
        near = [crew for crew in crews if any(set(group) & set(other) for other in crew)]
        crews = [crew for crew in crews if crew not in near]
        crews.append([group, *(other for crew in near for other in crew)])
    return tuple(tuple(sorted(crew)) for crew in crews)


@lru_cache(maxsize=1 << 16)
def must_take(crew: Crew, members: frozenset[int]) -> int:
    """Return how many of `members` every way of serving a crew takes at least."""
    return len(crew) - most_served(tuple(tuple(r for r in need if r not in members) for need in crew))


def unions_of(groups: set[tuple[int, ...]]) -> set[tuple[int, ...]]:
    """Return the groups and, as far as there are few, what groups that share somebody are together."""
    out = set(groups)
    for group in sorted(groups):
        if len(out) > MOST_UNIONS:
            break
        out |= {tuple(sorted({*group, *other})) for other in out if set(group) & set(other)}
    return out
