"""The relaxation behind the bound: work spread over stretches of days, as a mixed-integer program in plain lists.

Question answered: *how little can any plan cost?* Every true plan gives a solution of this model that costs no
more, because each rule here is weaker than the true one:

- work of a block is counted in the stretch of the day in which it is done; a unit done in a stretch ends no
  earlier than the stretch begins (curves are convex);
- a resource gives at most its open minutes in each stretch, and per day work, set-ups, the shortest road into each
  field and the shortest way out of and back to the yard;
- people are pooled by who may do what; wages count work and set-ups only, overtime above the normal day;
- what must wait is never further on than what it waits for, and with `whole` has not begun before that is done;
- stocks hold at every delivery.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict

from scheduler.solver.bound_pieces import Pieces
from scheduler.solver.bound_rows import (
    merged,
)
from scheduler.solver.problem import FAR, LagKind, Problem
from scheduler.solver.rigday_calendar import Calendar


class RelaxedFarm(Pieces):
    """Builds the program; `stretch` in the problem's time units, `whole` waits, `rough` without ways home, changes, wages."""

    def __init__(
        self, problem: Problem, calendar: Calendar, stretch: int, whole: bool, rough: bool = False
    ) -> None:
        super().__init__(problem, calendar, stretch, whole, rough)
        self._people()
        self._lags()
        self._stocks()
        self._later()

    # ---- people ----------------------------------------------------------------------------------------

    def _people(self) -> None:
        """Minutes of each group of interchangeable people, shared out to the people by day, and by stretch."""
        demand: dict[tuple[tuple[int, ...], int], list[tuple[int, float]]] = defaultdict(list)
        by_stretch: dict[tuple[tuple[int, ...], int, int], list[tuple[int, float]]] = defaultdict(list)
        for (t, m, d), columns in self.units.items():
            task, mode = self.problem.tasks[t], self.problem.tasks[t].modes[m]
            for need in mode.needs:
                if len(need.any_of) < 2 or any(self.problem.resources[r].cumulative for r in need.any_of):
                    continue
                road = min(self._road(r, mode) for r in need.any_of)
                unit = mode.minutes / task.size + (mode.fixed_minutes + road) / self.most[t, m, d]
                demand[need.any_of, d] += [(c, unit) for c, _ in columns]
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
        worked: dict[tuple[int, int], list[tuple[int, float]]] = defaultdict(list)
        for (group, d), terms in demand.items():
            shares = []
            for r in group:
                if self.calendar.open[r][d]:
                    column = self.rows.column(0.0)
                    shares.append((column, -1.0))
                    worked[r, d].append((column, 1.0))
            self.rows.row([*terms, *shares], high=0.0)
        self._pools(by_stretch)
        self._wages(worked)

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

    def _wages(self, worked: dict[tuple[int, int], list[tuple[int, float]]]) -> None:
        weeks: dict[tuple[int, int], list[tuple[int, float]]] = defaultdict(list)
        for (r, d), terms in worked.items():
            hours = self.problem.resources[r].hours
            room = self._open(r, d, self.calendar.days[d][0], self.calendar.days[d][1])
            slack = self._road_slack(r)
            if hours is None:
                self.rows.row(terms, high=room + slack)
                continue
            terms = [*terms, *self._ways(r, d, terms, room)]
            normal = self.rows.column(hours.cost_per_minute, hours.normal_per_day)
            most = max(0.0, min(room, hours.most_per_day) - hours.normal_per_day)
            over = self.rows.column(hours.overtime_per_minute, most + slack)
            self.rows.row([*terms, (normal, -1.0), (over, -1.0)], high=0.0)
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
        there = self.rows.column(0.0, 1.0)
        self.rows.row([*terms, (there, -room)], high=0.0)
        return [(there, back + max(0.0, out - most_road))]

    def _road_slack(self, r: int) -> float:
        """Without a way home each day the first road of a day may be free: allow for it."""
        moves = self.problem.resources[r].moves
        if moves is None or moves.home_daily:
            return 0.0
        return max((road for (who, _, _), road in self.nearest.items() if who == r), default=0.0)

    # ---- lags, stocks, later ---------------------------------------------------------------------------

    def _lags(self) -> None:
        """What must wait is never further on than what it waits for (running sums keep the rows short)."""
        done: dict[int, tuple[list[int], list[int]]] = {}
        ready: dict[int, tuple[list[int], list[int]]] = {}
        for lag in self.problem.lags:
            if lag.loose or lag.least is None or lag.kind is not LagKind.END_START or lag.least < 0:
                continue
            b, a = lag.before, lag.after
            if a not in done:
                done[a] = self._running(a, by_end=True)
            if b not in ready:
                ready[b] = self._running(b, by_end=False)
            share_a, share_b = 1.0 / self.problem.tasks[a].size, 1.0 / self.problem.tasks[b].size
            starts, begun = ready[b]
            for end, column in zip(*done[a], strict=True):
                k = bisect_left(starts, end - lag.least) - 1
                terms = [(column, share_a)] + ([(begun[k], -share_b)] if k >= 0 else [])
                self.rows.row(terms, high=self.stands[b] * share_b)
                if self.whole and k >= 0 and self.stands[b] == 0:
                    finished = self._finished(b, self.calendar.day_of(end - lag.least), ready[b])
                    self.rows.row([(column, share_a), (finished, -1.0)], high=0.0)
            everything = [(p.column, share_a) for p in self.of_task[a]]
            everything += [(c, share_a) for _, c, _ in self.after_days[a]]
            everything += [(p.column, -share_b) for p in self.of_task[b]]
            everything += [(c, -share_b) for _, c, _ in self.after_days[b]]
            self.rows.row(everything, high=self.stands[b] * share_b)

    def _finished(self, t: int, day: int, running: tuple[list[int], list[int]]) -> int:
        """Return the 0-1 column that says whether task t is wholly done by the end of a day."""
        known = self.finished.setdefault(t, {})
        if day not in known:
            column = known[day] = self.rows.column(0.0, 1.0, True)
            starts, begun = running
            k = bisect_left(starts, self.calendar.days[day][1]) - 1
            done = [(begun[k], -1.0 / self.problem.tasks[t].size)] if k >= 0 else []
            self.rows.row([(column, 1.0), *done], high=self.stands[t] / self.problem.tasks[t].size)
            for other, before in known.items():
                if other != day:
                    early, late = (before, column) if other < day else (column, before)
                    self.rows.row([(early, 1.0), (late, -1.0)], high=0.0)
        return known[day]

    def _running(self, t: int, by_end: bool) -> tuple[list[int], list[int]]:
        """Return times, and columns that hold the work done up to each of them."""
        groups: dict[int, list[int]] = defaultdict(list)
        for piece in self.of_task[t]:
            groups[piece.end if by_end else piece.start].append(piece.column)
        times = sorted(groups)
        columns: list[int] = []
        for time in times:
            column = self.rows.column(0.0)
            terms = [(column, 1.0)] + [(c, -1.0) for c in groups[time]]
            if columns:
                terms.append((columns[-1], -1.0))
            self.rows.row(terms, 0.0, 0.0)
            columns.append(column)
        return times, columns

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
