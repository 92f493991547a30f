"""Windows of modes, hours and roads of resources, cut by days once per problem.

Question answered: *on which days and between which minutes may this run at all, and how long are the ways?*
"""

from __future__ import annotations

from bisect import bisect_right
from typing import Any

from numpy.typing import NDArray

from scheduler.solver.problem import Mode, Problem
from scheduler.solver.resources import Interval, Moves


def clip(spans: tuple[Interval, ...] | None, day: Interval) -> list[Interval]:
    """Return the parts of `spans` inside `day`; None means always."""
    if spans is None:
        return [day]
    return [(max(a, day[0]), min(b, day[1])) for a, b in spans if min(b, day[1]) > max(a, day[0])]


def without(spans: list[Interval], holes: list[Interval]) -> list[Interval]:
    """Return `spans` with `holes` cut out, in order, empty parts dropped."""
    out = sorted(spans)
    for a, b in holes:
        cut: list[Interval] = []
        for start, end in out:
            cut += [(start, min(end, a)), (max(start, b), end)]
        out = [(start, end) for start, end in cut if end > start]
    return sorted(set(out))


class Roads:
    """`Moves` of one resource as plain lists, which a loop in Python reads several times faster than arrays."""

    def __init__(self, moves: Moves, known: dict[int, list[list[int]]]) -> None:
        self.depot, self.home_daily = moves.depot, moves.home_daily
        self.minutes = self._plain(moves.minutes, known)
        self.change = None if moves.change is None else self._plain(moves.change, known)
        self.on_the_way = None if moves.on_the_way is None else self._plain(moves.on_the_way, known)

    @staticmethod
    def _plain(array: NDArray[Any], known: dict[int, list[list[int]]]) -> list[list[int]]:
        if id(array) not in known:
            known[id(array)] = array.tolist()
        return known[id(array)]

    def gap(self, site_a: int, family_a: int, site_b: int, family_b: int) -> int:
        """Return what `Moves.gap` does."""
        if site_a < 0 or site_b < 0:
            return 0
        if family_a == family_b or self.change is None:
            return self.minutes[site_a][site_b]
        extra = self.change[family_a][family_b]
        if self.depot is None or (self.on_the_way is not None and self.on_the_way[family_a][family_b]):
            return self.minutes[site_a][site_b] + extra
        return self.minutes[site_a][self.depot] + self.minutes[self.depot][site_b] + extra


class Calendar:
    """Windows of modes and opening hours of resources, cut by days once."""

    def __init__(self, problem: Problem) -> None:
        self.days = problem.days
        self.starts = [a for a, _ in problem.days]
        self.open = [[clip(r.open, day) for day in problem.days] for r in problem.resources]
        self._cuts: dict[int, list[tuple[int, int, int]]] = {}
        self.windows = [[self._cut(mode) for mode in task.modes] for task in problem.tasks]
        self.week_of = [
            {d: w for w, week in enumerate(res.hours.weeks) for d in week} if res.hours else {}
            for res in problem.resources
        ]

    def _cut(self, mode: Mode) -> list[tuple[int, int, int]]:
        """Cut windows by days; modes that share their windows share the result."""
        if mode.windows is None:
            return [(d, a, b) for d, (a, b) in enumerate(self.days)]
        known = self._cuts.get(id(mode.windows))
        if known is None:
            known = []
            for window in sorted(mode.windows, key=lambda w: (w.start, w.end)):
                for d in range(self.day_of(window.start), len(self.days)):
                    a, b = max(window.start, self.days[d][0]), min(window.end, self.days[d][1])
                    if self.days[d][0] >= window.end:
                        break
                    if b > a:
                        known.append((d, a, b))
            self._cuts[id(mode.windows)] = known
        return known

    def day_of(self, time: int) -> int:
        """Return the day a time lies in."""
        return max(0, bisect_right(self.starts, time) - 1)
