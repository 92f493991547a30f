"""The second part of the relaxation: the minutes of machines that a mode needs without choice, with their roads.

Question answered: *how much can one machine do in an hour, and on a day with its ways out, between and home?* Rows of
a machine whose days are priced exactly elsewhere are noted as its own.
"""

from __future__ import annotations

from collections import defaultdict

import numpy as np

from scheduler.solver.bound_merge import NOBODY
from scheduler.solver.bound_pieces import Key, Pieces
from scheduler.solver.bound_rows import INF, least_change
from scheduler.solver.problem import Mode
from scheduler.solver.resources import Moves


class Machines(Pieces):
    """Adds machines to the pieces."""

    road_money: dict[tuple[int, int], int]
    machine_days: set[tuple[int, int]]

    def _machines(self) -> None:
        """Minutes of each resource that a mode needs without choice, by stretch and by day."""
        self.road_money = {}
        by_stretch: dict[tuple[int, int, int], list[tuple[int, float]]] = defaultdict(list)
        by_day: dict[tuple[int, int], list[Key]] = defaultdict(list)
        for piece in self.pieces:
            task = self.problem.tasks[piece.task]
            mode = task.modes[piece.mode]
            block = (piece.start - self.calendar.days[piece.day][0]) // self.stretch
            for r in self._sure(mode):
                by_stretch[r, piece.day, block].append((piece.column, mode.minutes / task.size))
        for t, m, d in self.units:
            for r in self._sure(self.problem.tasks[t].modes[m]):
                by_day[r, d].append((t, m, d))
        self.machine_days = set(by_day)
        carrying = {r for row in self.carriers for r in row if r != NOBODY}
        for (r, d, _), terms in by_stretch.items():
            row = self.rows.row(terms, high=self._open(r, d, *self._between(c for c, _ in terms)))
            if r in carrying:
                self.own_rows.add(row)
        for (r, d), keys in by_day.items():
            before = len(self.rows.terms)
            self._machine_day(r, d, keys, r in carrying)
            if r in carrying:
                self.own_rows.update(range(before, len(self.rows.terms)))

    def _sure(self, mode: Mode) -> list[int]:
        return [
            need.any_of[0]
            for need in mode.needs
            if len(need.any_of) == 1 and not self.problem.resources[need.any_of[0]].cumulative
        ]

    def _machine_day(self, r: int, d: int, keys: list[Key], carrying: bool) -> None:
        """A machine's day, between the first and the last hour in which anything may be done."""
        moves = self.problem.resources[r].moves
        home = moves is not None and moves.home_daily and moves.depot is not None
        room, terms = self._room(r, d, keys, home), []
        for key in keys:
            terms += self.minutes_of(key, self._road(r, self.problem.tasks[key[0]].modes[key[1]]))
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
        if carrying:
            self._road_money(r, d, keys, moves, [(used, moves.cost_per_minute * least_back)])
        else:
            self.rows.cost[used] += moves.cost_per_minute * least_back
        changes, first_change = self._changes(r, keys, used)
        self.rows.row([*terms, *changes, (used, extra - first_change - room)], high=0.0)
        self._ways_and_home(r, d, keys, room, used)

    def _ways_and_home(self, r: int, d: int, keys: list[Key], room: float, used: int) -> None:
        """The same day seen from its farthest field: the road is at least the way there and home.

        That is at least the mean of these ways, weighted by the minutes in each field, of which there are at most `most`.
        """
        ways = [self.way(r, self.problem.tasks[t].modes[m].site) for t, m, _ in keys]
        most = room - min(ways)
        if most <= 0.0 or max(ways) == 0.0:
            return
        terms = [x for key, way in zip(keys, ways, strict=True) for x in self.minutes_away(key, way / most)]
        self.rows.row([*terms, (used, -room)], high=0.0)
        if (r, d) in self.road_money:
            moves = self.problem.resources[r].moves
            assert moves is not None
            money = [
                (column, moves.cost_per_minute * weight * way / most)
                for key, way in zip(keys, ways, strict=True)
                if self.carriers[key[0]][key[1]] == r
                for column, weight in self.minutes_of(key, 0.0)
            ]
            self.rows.row([*money, (self.road_money[r, d], -1.0)], high=0.0)

    def _road_money(
        self, r: int, d: int, keys: list[Key], moves: Moves, home: list[tuple[int, float]]
    ) -> None:
        """What a carrier's roads of a day cost, as a column of its own: its days are priced with true roads."""
        # A finite end, far above what the roads of a day can cost: so that any prices prove something.
        begun, ended = self.calendar.days[d]
        most = 2.0 * moves.cost_per_minute * (ended - begun)
        column = self.road_money[r, d] = self.rows.column(1.0, most)
        terms = [(column, -1.0), *home]
        for key in keys:
            if self.carriers[key[0]][key[1]] == r:
                mode = self.problem.tasks[key[0]].modes[key[1]]
                share = moves.cost_per_minute * self._road(r, mode) / self.most_a_day(key)
                terms += [(c, share) for c, _ in self.units[key]]
        self.rows.row(terms, high=0.0)

    def _room(self, r: int, d: int, keys: list[Key], home: bool) -> float:
        """Open minutes between the first leaving and the last coming home that anything on this day could need."""
        first, last = INF, -INF
        for t, m, _ in keys:
            out, back = (self._out(r, t, m), self._back(r, t, m)) if home else (0.0, 0.0)
            opens, closes = self.fit[t, m, d]
            first, last = min(first, opens - out), max(last, closes + back)
        opened = self.calendar.open[r][d]
        if not opened:
            return 0.0
        return self._span(r, d, int(max(first, opened[0][0])), int(min(last, opened[-1][1])))

    def _changes(self, r: int, keys: list[Key], used: int) -> tuple[list[tuple[int, float]], float]:
        """Each set-up family beyond the first of a day costs at least the cheapest change."""
        moves = self.problem.resources[r].moves
        by_family: dict[int, list[Key]] = defaultdict(list)
        for key in keys:
            by_family[self._first_alike(moves, self.problem.tasks[key[0]].modes[key[1]].family)].append(key)
        if moves is None or moves.change is None or len(by_family) < 2:
            return [], 0.0
        roads = max(self._road(r, self.problem.tasks[t].modes[m]) for t, m, _ in keys)
        least = self._least_change(moves, by_family)
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

    @staticmethod
    def _first_alike(moves: Moves | None, family: int) -> int:
        """Return the first family between which and this one this resource has nothing to change."""
        if moves is None or moves.change is None or moves.on_the_way is None or family < 0:
            return family
        free = (moves.change == 0) & moves.on_the_way
        return int(np.flatnonzero(free[family] & free[:, family] | (np.arange(len(free)) == family))[0])

    def _least_change(self, moves: Moves, by_family: dict[int, list[Key]]) -> float:
        """Return the cheapest change between any two families; 0 when a place is not known."""
        least = INF
        sites = {
            f: [self.problem.tasks[t].modes[m].site for t, m, _ in group] for f, group in by_family.items()
        }
        if min(min(group) for group in sites.values()) < 0:
            return 0.0
        for family, here in sites.items():
            for other, there in sites.items():
                if other != family:
                    for site in set(here):
                        least = min(least, least_change(moves, np.array(there), other, site, family))
        return least

    def _only_if(self, key: Key, used: int) -> None:
        """No visit without `used`; a visit does at most what fits into the longest window of the day."""
        share = 1.0 / self.most[key]
        self.rows.row([*((c, share) for c, _ in self.units[key]), (used, -float(self.visits[key]))], high=0.0)

    def _out(self, r: int, t: int, m: int) -> float:
        moves, mode = self.problem.resources[r].moves, self.problem.tasks[t].modes[m]
        return 0.0 if moves is None or mode.site < 0 else float(moves.minutes[moves.depot, mode.site])

    def _back(self, r: int, t: int, m: int) -> float:
        moves, mode = self.problem.resources[r].moves, self.problem.tasks[t].modes[m]
        return 0.0 if moves is None or mode.site < 0 else float(moves.minutes[mode.site, moves.depot])
