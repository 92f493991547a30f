"""Small parts of the bound: a program as lists of columns and rows, slopes of curves, shortest roads.

Question answered: *what is the least that a curve, a road or a change of implement can cost here?*
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from scheduler.solver.problem import Curve, Problem
from scheduler.solver.resources import Moves

INF = float("inf")


@dataclass
class Rows:
    """A mixed-integer program: columns with cost and bounds, rows with two sides."""

    cost: list[float] = field(default_factory=list)
    upper: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    terms: list[list[tuple[int, float]]] = field(default_factory=list)
    constant: float = 0.0

    def column(self, cost: float, upper: float = INF, whole: bool = False) -> int:
        """Add a column from 0 to `upper`; return its index."""
        self.cost.append(cost)
        self.upper.append(upper)
        self.whole.append(whole)
        return len(self.cost) - 1

    def row(self, terms: list[tuple[int, float]], low: float = -INF, high: float = INF) -> int:
        """Add low <= sum of terms <= high; return its index (that of no row when there are no terms)."""
        if not terms:
            return -1
        self.terms.append(terms)
        self.low.append(low)
        self.high.append(high)
        return len(self.terms) - 1


def slope_at(curve: Curve, time: int) -> float:
    """Return the smallest slope of a convex curve from `time` on."""
    points = curve.points
    if time < points[0][0]:
        return curve.slope_before
    for (a, ca), (b, cb) in pairwise(points):
        if a <= time < b:
            return (cb - ca) / (b - a)
    return curve.slope_after


def merged(terms: list[tuple[int, float]]) -> list[tuple[int, float]]:
    out: dict[int, float] = defaultdict(float)
    for column, weight in terms:
        out[column] += weight
    return list(out.items())


def stretches(a: int, b: int, day_start: int, length: int) -> list[tuple[int, int]]:
    """Cut [a, b] at the multiples of `length` since the day began."""
    out = []
    start = a
    while start < b:
        end = min(b, day_start + ((start - day_start) // length + 1) * length)
        out.append((start, end))
        start = end
    return out


def lowest(curve: Curve) -> float:
    if curve.slope_before > 0 or curve.slope_after < 0:
        return -INF
    return float(min(cost for _, cost in curve.points))


def nearest_roads(problem: Problem) -> dict[tuple[int, int, int], float]:
    """Return, per resource and (site, family), the shortest road into it from anything else or the yard."""
    stops: dict[int, dict[tuple[int, int], int]] = defaultdict(lambda: defaultdict(int))
    for task in problem.tasks:
        for key in {(m.site, m.family, r) for m in task.modes for n in m.needs for r in n.any_of}:
            if key[0] >= 0:
                stops[key[2]][key[0], key[1]] += 1
    out: dict[tuple[int, int, int], float] = {}
    for r, places in stops.items():
        moves = problem.resources[r].moves
        if moves is None:
            continue
        keys = list(places)
        sites = np.array([s for s, _ in keys])
        families = np.array([f for _, f in keys])
        for k, (site, family) in enumerate(keys):
            best = float(moves.minutes[moves.depot, site]) if moves.depot is not None else INF
            same = families == family
            if moves.change is None:
                same = np.ones(len(keys), bool)
            same[k] = places[keys[k]] > 1
            if same.any():
                best = min(best, float(moves.minutes[sites[same], site].min()))
            if moves.change is not None and (~same).any():
                for other in np.unique(families[~same]):
                    if other != family:
                        best = min(
                            best, least_change(moves, sites[families == other], int(other), site, family)
                        )
            out[r, site, family] = 0.0 if best == INF else best
    return out


def ways(problem: Problem) -> dict[int, NDArray[np.float64]]:
    """Return, per resource that is at home every night, the shortest way out to each site and home again.

    Whoever is at a site on a day is that long on the road on that day at least, whatever else lies on the way.
    """
    shortest_of = shortest_roads(problem)
    out: dict[int, NDArray[np.float64]] = {}
    for r, resource in enumerate(problem.resources):
        moves = resource.moves
        if moves is None or moves.depot is None or not moves.home_daily:
            continue
        roads = shortest_of[id(moves.minutes)]
        out[r] = (roads[moves.depot, :] + roads[:, moves.depot]).astype(np.float64)
    return out


def shortest(minutes: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the least minutes from site to site, whatever lies between."""
    least = minutes.copy()
    for k in range(len(least)):
        np.minimum(least, least[:, [k]] + least[[k], :], out=least)
    return least


def shortest_roads(problem: Problem) -> dict[int, NDArray[np.int64]]:
    """Return, by identity of each table of roads, the least minutes from site to site."""
    tables = {id(r.moves.minutes): r.moves.minutes for r in problem.resources if r.moves is not None}
    return {k: shortest(minutes) for k, minutes in tables.items()}


def count_sites(problem: Problem) -> int:
    """Return how many sites there are, with work or on any table of roads."""
    work = [1 + mode.site for task in problem.tasks for mode in task.modes]
    return max([0, *work, *(len(r.moves.minutes) for r in problem.resources if r.moves is not None)])


def least_change(moves: Moves, sites: NDArray[np.int64], other: int, site: int, family: int) -> float:
    assert moves.change is not None
    extra = float(moves.change[other, family])
    if moves.depot is None or (moves.on_the_way is not None and moves.on_the_way[other, family]):
        return float(moves.minutes[sites, site].min()) + extra
    return float(moves.minutes[sites, moves.depot].min() + moves.minutes[moves.depot, site]) + extra
