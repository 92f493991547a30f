"""The first part of the relaxation: pieces of work by stretch of day, visits, and what stays undone.

Question answered: *how much of each task is done when, and what does that cost at least?* Every rule here is weaker
than the true one; `bound_machines`, `bound_waits` and `bound_model` add what machines, waits and people allow.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from scheduler.solver.bound_merge import NOBODY
from scheduler.solver.bound_rows import (
    INF,
    Rows,
    lowest,
    nearest_roads,
    slope_at,
    stretches,
    ways,
)
from scheduler.solver.problem import Mode, Problem, Task
from scheduler.solver.rigday_calendar import Calendar

Key = tuple[int, int, int]
"""Task, mode, day."""


LENGTHS = {1: (0.8,), 3: (1.0, 0.6, 0.35)}
"""Of the longest block of a day, at which the charge for ending late is exact: one where time is short, or three."""


@dataclass(frozen=True)
class Piece:
    """Work of one mode in one stretch of one day."""

    task: int
    mode: int
    day: int
    start: int
    end: int
    column: int


class Pieces:
    """Work by stretch and visits.

    Parameters
    ----------
    stretch : int
        Length of a stretch in the problem's time units.
    rough : bool
        Without ways home, changes and wages.
    carriers : list of list of int, optional
        Per task and mode, the resource whose days are priced exactly (`bound_days`); its own rows are in `own_rows`.
    lengths : int
        For how many lengths of a block its end is counted: 1 or 3.
    """

    def __init__(
        self,
        problem: Problem,
        calendar: Calendar,
        stretch: int,
        rough: bool = False,
        carriers: list[list[int]] | None = None,
        lengths: int = 3,
    ) -> None:
        self.problem, self.calendar = problem, calendar
        self.lengths = LENGTHS[lengths]
        self.stretch, self.rough = stretch, rough
        self.carriers = carriers or [[NOBODY] * len(task.modes) for task in problem.tasks]
        self.rows = Rows()
        self.pieces: list[Piece] = []
        self.of_task: list[list[Piece]] = [[] for _ in problem.tasks]
        self.most: dict[Key, int] = {}
        self.visits: dict[Key, int] = {}
        self.visit: dict[Key, int] = {}
        self.units: dict[Key, list[tuple[int, float]]] = {}
        self.fit: dict[Key, tuple[int, int]] = {}
        self.span_of: dict[int, tuple[int, int]] = {}
        self.own_rows: set[int] = set()
        self.after_days: list[list[tuple[int, int, float]]] = [[] for _ in problem.tasks]
        self.nearest = nearest_roads(problem)
        self.ways = {} if rough else ways(problem)
        self.stands = [0] * len(problem.tasks)
        for t in range(len(problem.tasks)):
            self._task(t)

    def _task(self, t: int) -> None:
        task = self.problem.tasks[t]
        for m, mode in enumerate(task.modes):
            by_day: dict[int, list[tuple[int, int]]] = defaultdict(list)
            for d, a, b in self.calendar.windows[t][m]:
                a, b = max(a, task.release), min(b, task.latest_end)
                if b > a:
                    by_day[d].append((a, b))
            for d, spans in by_day.items():
                self._day((t, m, d), task, mode, spans)
        placed = [(p.column, 1.0) for p in self.of_task[t]]
        undone = self.rows.column(task.drop_cost / task.size, task.size if task.optional else 0.0)
        later: list[tuple[int, float]] = []
        if task.later:
            for bucket in self.problem.buckets:
                cost = task.end_curve.at(bucket.end) / task.size if task.end_curve else 0.0
                cost = max(0.0, cost) + min((m.cost for m in task.modes), default=0) / task.size
                dated = bucket.end > task.release and bucket.start < min(
                    task.latest_end, task.latest_start + 1
                )
                later.append((self.rows.column(cost, task.size if dated else 0.0), 1.0))
        self.after_days[t] = [(k, column, 1.0) for k, (column, _) in enumerate(later)]
        pinned = self._pinned(t)
        self.rows.row([*placed, *later, (undone, 1.0)], task.size - pinned, task.size - pinned)

    def _pinned(self, t: int) -> int:
        """Count what stands already: its cost is known, and it takes nothing from anybody here."""
        task = self.problem.tasks[t]
        for pin in self.problem.pins:
            if pin.task == t:
                cost = task.modes[pin.mode].cost + (task.end_curve.at(pin.end) if task.end_curve else 0.0)
                cost += task.start_curve.at(pin.start) if task.start_curve else 0.0
                self.rows.constant += cost * pin.amount / task.size
                self.stands[t] += pin.amount
        return self.stands[t]

    def _day(self, key: Key, task: Task, mode: Mode, spans: list[tuple[int, int]]) -> None:
        t, m, d = key
        per_unit = mode.minutes / task.size
        longest = max(b - a for a, b in spans)
        # In whole numbers: a block that just fills the window is not to be lost by rounding.
        room = max(0, longest - mode.fixed_minutes)
        most = min(task.size, room * task.size // mode.minutes) if mode.minutes else task.size
        chunk = task.size if task.min_chunk is None else min(task.min_chunk, task.size)
        if most <= 0 or (most < chunk and task.min_chunk is None):
            return
        self.most[key], self.visits[key] = most, len(spans)
        self.fit[key] = min(a for a, _ in spans), max(b for _, b in spans)
        carried = self.carriers[t][m] != NOBODY
        risk = self._least_risk(mode, spans)
        road = sum(
            self._road_cost(n.any_of, mode)
            for n in mode.needs
            if not (carried and n.any_of == (self.carriers[t][m],))
        )
        extra = road / self.most_a_day(key) + (0.0 if carried else risk * mode.fixed_minutes / most)
        abreast = self._abreast(mode, d)
        columns: list[tuple[int, float]] = []
        for a, b in spans:
            # A visit begins with its fixed minutes: no work is done in them (work of no minutes may end with them).
            opened = a + mode.fixed_minutes if mode.minutes else a
            for start, end in stretches(opened, b, self.calendar.days[d][0], self.stretch):
                cost = self._unit_cost(task, mode, start, a) + risk * per_unit + extra
                fits = abreast * (end - start) / per_unit if per_unit else INF
                column = self.rows.column(cost, min(task.size, fits))
                piece = Piece(t, m, d, start, end, column)
                self.pieces.append(piece)
                self.span_of[column] = (start, end)
                self.of_task[t].append(piece)
                columns.append((column, 1.0))
        self.units[key] = columns
        if carried:
            most_visits = 1 if task.min_chunk is None else -(-task.size // chunk) + 1
            column = self.visit[key] = self.rows.column(risk * mode.fixed_minutes, most_visits)
            self.own_rows.add(
                self.rows.row([*((c, 1.0 / most) for c, _ in columns), (column, -1.0)], high=0.0)
            )
            self._blocks_end(key, task, mode, min(a for a, _ in spans))

    def _blocks_end(self, key: Key, task: Task, mode: Mode, opened: int) -> None:
        """Charge work for ending with its block: units wait for the last one, on average half the block's minutes.

        Blocks of A units cost at least g A^2 more together, with y of them g (sum of A)^2 / y, which is at least
        g (2 l sum of A - l^2 y) for any l: few blocks are long, many take their fixed minutes.
        """
        if task.end_curve is None or task.min_chunk is None:
            return
        slope = slope_at(task.end_curve, opened)
        if slope <= 0.0 or not mode.minutes:
            return
        most = float(self.most[key])
        per_square = slope * mode.minutes / (2.0 * task.size**2)
        column = self.rows.column(per_square * most, task.size**2 / most)
        for length in self.lengths:
            units = [(c, -2.0 * length) for c, _ in self.units[key]]
            self.rows.row([(column, 1.0), *units, (self.visit[key], most * length**2)], low=0.0)

    def _abreast(self, mode: Mode, d: int) -> int:
        """Return how many blocks of a mode can run side by side: two people may look at one field together."""
        resources, opened = self.problem.resources, self.calendar.open
        room = [
            sum(
                resources[r].capacity // max(1, n.amount) if resources[r].cumulative else 1
                for r in n.any_of
                if opened[r][d]
            )
            for n in mode.needs
        ]
        return min(room, default=1)

    def most_a_day(self, key: Key) -> float:
        """Return the most of a task that one mode can do on a day: a person may stay there between two windows."""
        return float(min(self.problem.tasks[key[0]].size, self.visits[key] * self.most[key]))

    def minutes_of(self, key: Key, road: float) -> list[tuple[int, float]]:
        """Return the terms of all minutes that a mode takes on a day: work, fixed minutes, and `road` into the field."""
        task = self.problem.tasks[key[0]]
        mode = task.modes[key[1]]
        unit = mode.minutes / task.size + road / self.most_a_day(key)
        if key in self.visit:
            return [*((c, unit) for c, _ in self.units[key]), (self.visit[key], float(mode.fixed_minutes))]
        unit += mode.fixed_minutes / self.most[key]
        return [(c, unit) for c, _ in self.units[key]]

    def way(self, r: int, site: int) -> float:
        """Return the shortest way out to a site and home again; 0 for what stays out overnight."""
        return float(self.ways[r][site]) if r in self.ways and site >= 0 else 0.0

    def minutes_away(self, key: Key, share: float) -> list[tuple[int, float]]:
        """Return the terms of work and fixed minutes, with `share` of them more for the way there and home."""
        return [(column, weight * (1.0 + share)) for column, weight in self.minutes_of(key, 0.0)]

    def _least_risk(self, mode: Mode, spans: list[tuple[int, int]]) -> float:
        if mode.windows is None:
            return 0.0
        return min(
            w.risk_per_minute for w in mode.windows if any(w.start < b and a < w.end for a, b in spans)
        )

    def _unit_cost(self, task: Task, mode: Mode, start: int, opened: int) -> float:
        """Return the least cost of a unit done in a stretch that starts at `start`.

        A unit of a task that may not be split ends half its length after it is done, on average.
        """
        cost = float(mode.cost)
        if task.end_curve is not None:
            half = mode.minutes / 2 if task.min_chunk is None else 0.0
            cost += task.end_curve.at(start) + half * max(0.0, slope_at(task.end_curve, opened))
        if task.start_curve is not None:
            cost += min(0.0, lowest(task.start_curve))
        return cost / task.size

    def _road_cost(self, options: tuple[int, ...], mode: Mode) -> float:
        costs = []
        for r in options:
            moves = self.problem.resources[r].moves
            costs.append(moves.cost_per_minute * self._road(r, mode) if moves and moves.home_daily else 0.0)
        return min(costs, default=0.0)

    def _road(self, r: int, mode: Mode) -> float:
        return self.nearest.get((r, mode.site, mode.family), 0.0)

    def _span(self, r: int, d: int, start: int, end: int) -> float:
        """Return the minutes of work and road that fit between two times: roads may lie where a resource is closed."""
        spans = self.calendar.open[r][d]
        return float(max(0, min(end, spans[-1][1]) - max(start, spans[0][0]))) if spans else 0.0

    def _open(self, r: int, d: int, start: int, end: int) -> float:
        return float(sum(max(0, min(b, end) - max(a, start)) for a, b in self.calendar.open[r][d]))

    def _between(self, columns: Iterable[int]) -> tuple[int, int]:
        """Return the first and the last minute in which any of some work can be done."""
        spans = [self.span_of[column] for column in columns]
        return min(a for a, _ in spans), max(b for _, b in spans)
