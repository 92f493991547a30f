"""The first half of the relaxation: pieces of work by stretch of day, visits, and the minutes of machines with their roads.

Every rule here is weaker than the true one; `bound_model` adds people, waits, stocks and later weeks.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from scheduler.solver.bound_rows import (
    INF,
    Rows,
    least_change,
    lowest,
    nearest_roads,
    slope_at,
    stretches,
)
from scheduler.solver.problem import Mode, Problem, Task
from scheduler.solver.rigday_calendar import Calendar


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
    """Work by stretch, visits, and what machines give; `stretch` in minutes, `whole` waits, `rough` without ways home, changes and wages."""

    def __init__(
        self, problem: Problem, calendar: Calendar, stretch: int, whole: bool, rough: bool = False
    ) -> None:
        self.problem, self.calendar = problem, calendar
        self.stretch, self.whole, self.rough = stretch, whole, rough
        self.rows = Rows()
        self.pieces: list[Piece] = []
        self.of_task: list[list[Piece]] = [[] for _ in problem.tasks]
        self.most: dict[tuple[int, int, int], int] = {}
        self.visits: dict[tuple[int, int, int], int] = {}
        self.units: dict[tuple[int, int, int], list[tuple[int, float]]] = {}
        self.finished: dict[int, dict[int, int]] = {}
        self.after_days: list[list[tuple[int, int, float]]] = [[] for _ in problem.tasks]
        self.nearest = nearest_roads(problem)
        self.stands = [0] * len(problem.tasks)
        for t in range(len(problem.tasks)):
            self._task(t)
        self._machines()

    # ---- tasks -----------------------------------------------------------------------------------------

    def _task(self, t: int) -> None:
        task = self.problem.tasks[t]
        for m, mode in enumerate(task.modes):
            by_day: dict[int, list[tuple[int, int]]] = defaultdict(list)
            for d, a, b in self.calendar.windows[t][m]:
                a, b = max(a, task.release), min(b, task.latest_end)
                if b > a:
                    by_day[d].append((a, b))
            for d, spans in by_day.items():
                self._day(t, m, task, mode, d, spans)
        placed = [(p.column, 1.0) for p in self.of_task[t]]
        undone = self.rows.column(task.drop_cost / task.size, task.size if task.optional else 0.0)
        later: list[tuple[int, float]] = []
        if task.later:
            for bucket in self.problem.buckets:
                cost = task.end_curve.at(bucket.end) / task.size if task.end_curve else 0.0
                column = self.rows.column(
                    max(0.0, cost) + min((m.cost for m in task.modes), default=0) / task.size
                )
                later.append((column, 1.0))
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

    def _day(self, t: int, m: int, task: Task, mode: Mode, d: int, spans: list[tuple[int, int]]) -> None:
        per_unit = mode.minutes / task.size
        longest = max(b - a for a, b in spans)
        most = task.size if per_unit == 0 else min(task.size, int((longest - mode.fixed_minutes) / per_unit))
        chunk = task.size if task.min_chunk is None else min(task.min_chunk, task.size)
        if most <= 0 or (most < chunk and task.min_chunk is None):
            return
        columns: list[tuple[int, float]] = []
        risk = self._least_risk(mode, spans)
        visit = sum(self._road_cost(n.any_of, t, m) for n in mode.needs) + risk * mode.fixed_minutes
        for a, b in spans:
            for start, end in stretches(a, b, self.calendar.days[d][0], self.stretch):
                cost = self._unit_cost(task, mode, start, a) + risk * per_unit + visit / most
                column = self.rows.column(cost, min(task.size, (end - start) / per_unit if per_unit else INF))
                piece = Piece(t, m, d, start, end, column)
                self.pieces.append(piece)
                self.of_task[t].append(piece)
                columns.append((column, 1.0))
        self.units[t, m, d] = columns
        self.most[t, m, d], self.visits[t, m, d] = most, len(spans)

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

    def _road_cost(self, options: tuple[int, ...], t: int, m: int) -> float:
        mode = self.problem.tasks[t].modes[m]
        costs = []
        for r in options:
            moves = self.problem.resources[r].moves
            costs.append(moves.cost_per_minute * self._road(r, mode) if moves and moves.home_daily else 0.0)
        return min(costs, default=0.0)

    def _road(self, r: int, mode: Mode) -> float:
        return self.nearest.get((r, mode.site, mode.family), 0.0)

    # ---- resources -------------------------------------------------------------------------------------

    def _machines(self) -> None:
        """Minutes of each resource that a mode needs without choice, by stretch and by day."""
        by_stretch: dict[tuple[int, int, int], list[tuple[int, float]]] = defaultdict(list)
        by_day: dict[tuple[int, int], list[tuple[int, int, int]]] = defaultdict(list)
        for piece in self.pieces:
            task = self.problem.tasks[piece.task]
            mode = task.modes[piece.mode]
            block = (piece.start - self.calendar.days[piece.day][0]) // self.stretch
            for need in mode.needs:
                if len(need.any_of) == 1 and not self.problem.resources[need.any_of[0]].cumulative:
                    r = need.any_of[0]
                    by_stretch[r, piece.day, block].append((piece.column, mode.minutes / task.size))
        for t, m, d in self.units:
            for need in self.problem.tasks[t].modes[m].needs:
                if len(need.any_of) == 1 and not self.problem.resources[need.any_of[0]].cumulative:
                    by_day[need.any_of[0], d].append((t, m, d))
        for (r, d, block), terms in by_stretch.items():
            start = self.calendar.days[d][0] + block * self.stretch
            self.rows.row(terms, high=self._open(r, d, start, start + self.stretch))
        for (r, d), keys in by_day.items():
            self._machine_day(r, d, keys)

    def _open(self, r: int, d: int, start: int, end: int) -> float:
        return float(sum(max(0, min(b, end) - max(a, start)) for a, b in self.calendar.open[r][d]))

    def _machine_day(self, r: int, d: int, keys: list[tuple[int, int, int]]) -> None:
        """A machine's day, between the first and the last hour in which anything may be done."""
        moves = self.problem.resources[r].moves
        home = moves is not None and moves.home_daily and moves.depot is not None
        terms: list[tuple[int, float]] = []
        first, last = INF, -INF
        for key in keys:
            t, m, _ = key
            task, mode = self.problem.tasks[t], self.problem.tasks[t].modes[m]
            unit = mode.minutes / task.size + (mode.fixed_minutes + self._road(r, mode)) / self.most[key]
            terms += [(column, unit) for column, _ in self.units[key]]
            spans = [(a, b) for dd, a, b in self.calendar.windows[t][m] if dd == d]
            out = (
                int(moves.minutes[moves.depot, mode.site])
                if home and moves is not None and mode.site >= 0
                else 0
            )
            back = (
                int(moves.minutes[mode.site, moves.depot])
                if home and moves is not None and mode.site >= 0
                else 0
            )
            first = min(first, min(a for a, _ in spans) - out)
            last = max(last, max(b for _, b in spans) + back)
        opened = self.calendar.open[r][d]
        room = (
            self._open(r, d, int(max(first, opened[0][0])), int(min(last, opened[-1][1]))) if opened else 0.0
        )
        if self.rough or not home or moves is None:
            slack = max((self._road(r, self.problem.tasks[t].modes[m]) for t, m, _ in keys), default=0.0)
            self.rows.row(terms, high=room + slack)
            return
        least_back = min(self._back(r, t, m) for t, m, _ in keys)
        used = self.rows.column(0.0, 1.0)
        for key in keys:
            self._only_if(key, used)
        least_out = min(self._out(r, t, m) for t, m, _ in keys)
        extra = least_back + max(
            0.0, least_out - max(self._road(r, self.problem.tasks[t].modes[m]) for t, m, _ in keys)
        )
        self.rows.cost[used] += moves.cost_per_minute * least_back
        changes, first_change = self._changes(r, keys, used)
        self.rows.row([*terms, *changes, (used, extra - first_change - room)], high=0.0)

    def _changes(
        self, r: int, keys: list[tuple[int, int, int]], used: int
    ) -> tuple[list[tuple[int, float]], float]:
        """Each set-up family beyond the first of a day costs at least the cheapest change."""
        moves = self.problem.resources[r].moves
        by_family: dict[int, list[tuple[int, int, int]]] = defaultdict(list)
        for key in keys:
            by_family[self.problem.tasks[key[0]].modes[key[1]].family].append(key)
        if moves is None or moves.change is None or len(by_family) < 2:
            return [], 0.0
        roads = max(self._road(r, self.problem.tasks[t].modes[m]) for t, m, _ in keys)
        least = INF
        for family, group in by_family.items():
            sites = np.array([self.problem.tasks[t].modes[m].site for t, m, _ in group])
            for other in by_family:
                if other != family and sites.min() >= 0:
                    from_sites = [self.problem.tasks[t].modes[m].site for t, m, _ in by_family[other]]
                    if min(from_sites) < 0:
                        return [], 0.0
                    for site in set(sites.tolist()):
                        least = min(least, least_change(moves, np.array(from_sites), other, site, family))
        extra = 0.0 if least == INF else max(0.0, least - roads)
        if extra == 0.0:
            return [], 0.0
        terms = []
        for group in by_family.values():
            column = self.rows.column(0.0, 1.0)
            terms.append((column, extra))
            for key in group:
                self._only_if(key, column)
        return terms, extra

    def _only_if(self, key: tuple[int, int, int], used: int) -> None:
        """No visit without `used`; a visit does at most what fits into the longest window of the day."""
        share = 1.0 / self.most[key]
        self.rows.row([*((c, share) for c, _ in self.units[key]), (used, -float(self.visits[key]))], high=0.0)

    def _out(self, r: int, t: int, m: int) -> float:
        moves, mode = self.problem.resources[r].moves, self.problem.tasks[t].modes[m]
        return 0.0 if moves is None or mode.site < 0 else float(moves.minutes[moves.depot, mode.site])

    def _back(self, r: int, t: int, m: int) -> float:
        moves, mode = self.problem.resources[r].moves, self.problem.tasks[t].modes[m]
        return 0.0 if moves is None or mode.site < 0 else float(moves.minutes[mode.site, moves.depot])
