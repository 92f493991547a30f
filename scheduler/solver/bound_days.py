"""Rig-days as cuts: what a carrier's whole day can cost at least, in the direction that the linear program prefers.

Question answered: *which mixture of work that the program gives a machine's day is no mixture of true days?* The
program's own prices (its duals) say what a minute of work in each field is worth. The cheapest true day at these
prices (`bound_kernel`: exact roads, fixed minutes, windows) bounds every plan twice: put in place of the program's own
idea of that day it gives a proven bound at once (Lagrange), and as a row it bars the mixture (a rig-day column seen
from the dual side).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scheduler.solver.bound_kernel import cheapest_day
from scheduler.solver.bound_model import RelaxedFarm
from scheduler.solver.bound_pieces import Key
from scheduler.solver.rigday_layout import Floats, Ints

MOST_FIELDS = 150
"""A day with more fields than this is not priced: its time grows with their square."""


@dataclass(frozen=True)
class Cut:
    """``sum of weights * columns >= least`` for every true plan."""

    columns: NDArray[np.int64]
    weights: Floats
    least: float


@dataclass(frozen=True)
class _Day:
    """Everything of a carrier's day that does not depend on prices."""

    keys: list[Key]
    columns: list[Ints]
    piece_at: Ints
    per_minute: Floats
    since: Ints
    fixed: Ints
    most: Ints
    out: Ints
    hop: Ints
    back: Ints
    rate: float
    road_money: int


class RigDays:
    """The carriers' days of a relaxed farm."""

    def __init__(self, farm: RelaxedFarm) -> None:
        self.farm = farm
        keys: dict[tuple[int, int], list[Key]] = {}
        for key in farm.visit:
            keys.setdefault((farm.carriers[key[0]][key[1]], key[2]), []).append(key)
        self.days = [
            self._day(r, d, of)
            for (r, d), of in sorted(keys.items())
            if farm.calendar.open[r][d] and len(of) <= MOST_FIELDS
        ]

    @property
    def columns(self) -> NDArray[np.int64]:
        """Columns that the priced days answer for."""
        out = [self.farm.visit[key] for day in self.days for key in day.keys]
        out += [int(c) for day in self.days for columns in day.columns for c in columns]
        return np.array(out + [day.road_money for day in self.days], np.int64)

    def price(self, prices: Floats) -> tuple[float, list[Cut]]:
        """Return the least that all priced days cost together at reduced costs `prices`, and a cut for each day."""
        total, cuts = 0.0, []
        for day in self.days:
            least, cut = _priced(day, self.farm, prices)
            total += least
            if cut is not None:
                cuts.append(cut)
        return total, cuts

    def _day(self, r: int, d: int, keys: list[Key]) -> _Day:
        farm = self.farm
        opened = farm.calendar.open[r][d]
        first, last = opened[0][0], opened[-1][1]
        moves = farm.problem.resources[r].moves
        assert moves is not None and moves.depot is not None
        modes = [farm.problem.tasks[t].modes[m] for t, m, _ in keys]
        sites = np.array([mode.site for mode in modes], np.int64)
        piece_at = np.full((len(keys), last - first), -1, np.int64)
        since = np.full((len(keys), last - first + 1), -1, np.int64)
        columns = []
        pieces = {p.column: p for t in {t for t, _, _ in keys} for p in farm.of_task[t]}
        for i, key in enumerate(keys):
            own = np.array([c for c, _ in farm.units[key]], np.int64)
            columns.append(own)
            for k, column in enumerate(own):
                piece = pieces[int(column)]
                piece_at[i, max(0, piece.start - first) : max(0, piece.end - first)] = k
            task = farm.problem.tasks[key[0]]
            for day, a, b in farm.calendar.windows[key[0]][key[1]]:
                a, b = max(a, task.release, first), min(b, task.latest_end, last)
                if day == d and b > a:
                    part = since[i, a - first : b - first + 1]
                    np.maximum(part, np.arange(b - a + 1), out=part)
        sizes = np.array([farm.problem.tasks[t].size for t, _, _ in keys], np.float64)
        return _Day(
            keys=keys,
            columns=columns,
            piece_at=piece_at,
            per_minute=sizes / np.maximum(1, [mode.minutes for mode in modes]),
            since=since,
            fixed=np.array([mode.fixed_minutes for mode in modes], np.int64),
            most=np.array([mode.minutes for mode in modes], np.int64),
            out=moves.minutes[moves.depot, sites],
            hop=np.ascontiguousarray(moves.minutes[np.ix_(sites, sites)]),
            back=moves.minutes[sites, moves.depot],
            rate=float(moves.cost_per_minute),
            road_money=farm.road_money[r, d],
        )


def _priced(day: _Day, farm: RelaxedFarm, prices: Floats) -> tuple[float, Cut | None]:
    """Return the least cost of a day, and the cut it gives (None: no work pays, so nothing is cut)."""
    rate = day.rate * float(prices[day.road_money])
    useful = [i for i, own in enumerate(day.columns) if len(own) and float(prices[own].min()) < 0.0]
    if not useful:
        return 0.0, None
    pick = np.array(useful, np.int64)
    minutes = day.piece_at.shape[1]
    gain = np.zeros((len(pick), minutes))
    charge = np.zeros(len(pick))
    for n, i in enumerate(useful):
        of_piece = np.append(prices[day.columns[i]] * day.per_minute[i], np.inf)
        gain[n] = of_piece[day.piece_at[i]]
        charge[n] = prices[farm.visit[day.keys[i]]]
    hop = np.ascontiguousarray(day.hop[np.ix_(pick, pick)])
    least = cheapest_day(
        gain,
        day.since[pick],
        day.fixed[pick],
        day.most[pick],
        charge,
        day.out[pick],
        hop,
        day.back[pick],
        rate,
    )
    columns = [
        *day.columns,
        np.array([farm.visit[key] for key in day.keys], np.int64),
        np.array([day.road_money], np.int64),
    ]
    every = np.concatenate(columns)
    return least, Cut(every, prices[every], least)
