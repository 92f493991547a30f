"""The relaxation behind the bound: work spread over stretches of days, as a mixed-integer program in plain lists.

Question answered: *how little can any plan cost?* Every true plan gives a solution of this model that costs no
more, because each rule here is weaker than the true one:

- work of a block is counted in the stretch of the day in which it is done; a unit done in a stretch ends no
  earlier than the stretch begins (curves are convex);
- a resource gives at most its open minutes in each stretch, and per day work, set-ups, the shortest road into each
  field and the shortest way out of and back to the yard;
- people are pooled by who may do what; wages count work and set-ups only, overtime above the normal day;
- what must wait is never further on than what it waits for, at the pace of both (`bound_waits`);
- stocks hold at every delivery.
"""

from __future__ import annotations

from collections import defaultdict

from scheduler.solver.bound_pieces import Key
from scheduler.solver.bound_rows import INF, merged
from scheduler.solver.bound_waits import Waits
from scheduler.solver.problem import Problem
from scheduler.solver.resources import FAR
from scheduler.solver.rigday_calendar import Calendar

Demand = dict[tuple[tuple[int, ...], int], list[tuple[int, float]]]
"""Minutes that a group of interchangeable people is asked for on a day."""


class RelaxedFarm(Waits):
    """Builds the program; the parameters are those of `Pieces`."""

    def __init__(
        self,
        problem: Problem,
        calendar: Calendar,
        stretch: int,
        rough: bool = False,
        carriers: list[list[int]] | None = None,
        lengths: int = 3,
    ) -> None:
        super().__init__(problem, calendar, stretch, rough, carriers, lengths)
        self._machines()
        self._people()
        self._lags()
        self._stocks()
        self._later()

    # ---- people ----------------------------------------------------------------------------------------

    def _people(self) -> None:
        """Minutes of each group of interchangeable people, shared out to the people by day, and by stretch."""
        demand: Demand = defaultdict(list)
        keys: dict[tuple[tuple[int, ...], int], list[Key]] = defaultdict(list)
        by_stretch: dict[tuple[tuple[int, ...], int, int], list[tuple[int, float]]] = defaultdict(list)
        for t, m, d in self.units:
            mode = self.problem.tasks[t].modes[m]
            for need in mode.needs:
                if len(need.any_of) < 2 or any(self.problem.resources[r].cumulative for r in need.any_of):
                    continue
                road = min(self._road(r, mode) for r in need.any_of)
                demand[need.any_of, d] += self.minutes_of((t, m, d), road)
                keys[need.any_of, d].append((t, m, d))
        for piece in self.pieces:
            task = self.problem.tasks[piece.task]
            mode = task.modes[piece.mode]
            block = (piece.start - self.calendar.days[piece.day][0]) // self.stretch
            for need in mode.needs:
                if len(need.any_of) > 1 and not any(
                    self.problem.resources[r].cumulative for r in need.any_of
                ):
                    by_stretch[need.any_of, piece.day, block].append((piece.column, mode.minutes / task.size))
        if self.rough:
            self._pools(by_stretch)
            return
        worked = self._shared_out(demand)
        away = self._shared_out(self._demand_away(keys))
        self._pools(by_stretch)
        self._wages(worked, away)

    def _shared_out(self, demand: Demand) -> dict[tuple[int, int], list[tuple[int, float]]]:
        """Share each group's minutes of a day out to its people; return what each takes on."""
        worked: dict[tuple[int, int], list[tuple[int, float]]] = defaultdict(list)
        for (group, d), terms in demand.items():
            shares = []
            for r in group:
                if self.calendar.open[r][d]:
                    column = self.rows.column(0.0, self._room_of(r, d) + self._road_slack(r))
                    shares.append((column, -1.0))
                    worked[r, d].append((column, 1.0))
            self.rows.row([*terms, *shares], high=0.0)
        return worked

    def _demand_away(self, keys: dict[tuple[tuple[int, ...], int], list[Key]]) -> Demand:
        """The same minutes seen from the farthest field: who works there is on the road there and home.

        A day's road is at least the mean of the ways there and home, weighted by the minutes in each field.
        """
        least: dict[tuple[int, int], float] = {}
        for (group, d), of in keys.items():
            for r in group:
                nearest = min(self.way(r, self.problem.tasks[t].modes[m].site) for t, m, _ in of)
                least[r, d] = min(least.get((r, d), INF), nearest)
        demand: Demand = defaultdict(list)
        for (group, d), of in keys.items():
            for key in of:
                site = self.problem.tasks[key[0]].modes[key[1]].site
                shares = [
                    0.0 if (most := self._most_of(r, d) - least[r, d]) <= 0.0 else self.way(r, site) / most
                    for r in group
                    if self.calendar.open[r][d]
                ]
                demand[group, d] += self.minutes_away(key, min(shares, default=0.0))
        return demand

    def _room_of(self, r: int, d: int) -> float:
        return self._span(r, d, *self.calendar.days[d])

    def _most_of(self, r: int, d: int) -> float:
        """Return the most minutes that a day of a resource can have, roads counted."""
        hours = self.problem.resources[r].hours
        return self._room_of(r, d) if hours is None else min(self._room_of(r, d), float(hours.most_per_day))

    def _pools(self, by_stretch: dict[tuple[tuple[int, ...], int, int], list[tuple[int, float]]]) -> None:
        """In each stretch, a set of groups cannot use more people than it has."""
        slots: dict[tuple[int, int], dict[tuple[int, ...], list[tuple[int, float]]]] = defaultdict(dict)
        for (group, d, block), terms in by_stretch.items():
            slots[d, block][group] = terms
        for (d, block), groups in slots.items():
            start = self.calendar.days[d][0] + block * self.stretch
            unions = set(groups) | {tuple(sorted(set().union(*groups)))}
            for union in unions:
                members = set(union)
                terms = [x for group, more in groups.items() if set(group) <= members for x in more]
                room = sum(self._open(r, d, start, start + self.stretch) for r in members)
                self.rows.row(merged(terms), high=room)

    def _wages(
        self,
        worked: dict[tuple[int, int], list[tuple[int, float]]],
        away: dict[tuple[int, int], list[tuple[int, float]]],
    ) -> None:
        weeks: dict[tuple[int, int], list[tuple[int, float]]] = defaultdict(list)
        for (r, d), terms in worked.items():
            hours = self.problem.resources[r].hours
            room = self._room_of(r, d)
            slack = self._road_slack(r)
            terms = [*terms, *self._ways(r, d, terms, room)]
            if hours is None:
                self.rows.row(terms, high=room + slack)
                self.rows.row(away[r, d], high=room + slack)
                continue
            normal = self.rows.column(hours.cost_per_minute, min(hours.normal_per_day, room + slack))
            most = max(0.0, min(room, hours.most_per_day) - hours.normal_per_day)
            over = self.rows.column(hours.overtime_per_minute, most + slack)
            self.rows.row([*terms, (normal, -1.0), (over, -1.0)], high=0.0)
            self.rows.row([*away[r, d], (normal, -1.0), (over, -1.0)], high=0.0)
            week = self.calendar.week_of[r].get(d)
            if week is not None and hours.most_per_week < FAR:
                weeks[r, week] += [(normal, 1.0), (over, 1.0)]
        for (r, week), terms in weeks.items():
            hours = self.problem.resources[r].hours
            assert hours is not None
            used = hours.used_before[week] if week < len(hours.used_before) else 0
            self.rows.row(terms, high=hours.most_per_week - used + 7 * self._road_slack(r))

    def _ways(self, r: int, d: int, terms: list[tuple[int, float]], room: float) -> list[tuple[int, float]]:
        """A person at work on a day goes out and comes home at least the shortest way."""
        moves = self.problem.resources[r].moves
        places = [(site, road) for (who, site, _), road in self.nearest.items() if who == r]
        if moves is None or not moves.home_daily or moves.depot is None or not places:
            return []
        out = min(int(moves.minutes[moves.depot, site]) for site, _ in places)
        back = min(int(moves.minutes[site, moves.depot]) for site, _ in places)
        most_road = max(road for _, road in places)
        # Where the day is also counted as that of a machine without choice, its way home is paid there.
        paid = (r, d) in self.machine_days
        there = self.rows.column(0.0 if paid else moves.cost_per_minute * back, 1.0)
        self.rows.row([*terms, (there, -room)], high=0.0)
        return [(there, back + max(0.0, out - most_road))]

    def _road_slack(self, r: int) -> float:
        """Without a way home each day the first road of a day may be free: allow for it."""
        moves = self.problem.resources[r].moves
        if moves is None or moves.home_daily:
            return 0.0
        return max((road for (who, _, _), road in self.nearest.items() if who == r), default=0.0)

    def _stocks(self) -> None:
        for s, stock in enumerate(self.problem.stocks):
            have = float(stock.initial)
            for at, amount in [*sorted(stock.deliveries), (FAR, 0)]:
                terms = []
                for piece in self.pieces:
                    task = self.problem.tasks[piece.task]
                    taken = task.modes[piece.mode].consumes.get(s, 0)
                    if taken > 0 and piece.end <= at:
                        terms.append((piece.column, taken / task.size))
                self.rows.row(terms, high=have)
                have += amount

    def _later(self) -> None:
        """Weekly buckets: minutes of each resource that all modes of a task need without choice."""
        for b, bucket in enumerate(self.problem.buckets):
            by_resource: dict[int, list[tuple[int, float]]] = defaultdict(list)
            for t, task in enumerate(self.problem.tasks):
                if not self.after_days[t]:
                    continue
                sure = [{n.any_of[0] for n in m.needs if len(n.any_of) == 1} for m in task.modes]
                minutes = min(m.minutes for m in task.modes) / task.size
                for r in set.intersection(*sure) if sure else set():
                    by_resource[r].append((self.after_days[t][b][1], minutes))
            for r, terms in by_resource.items():
                self.rows.row(terms, high=float(bucket.capacity.get(r, 0)))
