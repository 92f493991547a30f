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
from dataclasses import dataclass

import numpy as np

from scheduler.solver.bound_rows import (
    INF,
    Rows,
    least_change,
    lowest,
    merged,
    nearest_roads,
    slope_at,
    stretches,
)
from scheduler.solver.problem import FAR, LagKind, Mode, Problem, Task
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


class RelaxedFarm:
    """Builds the program; `stretch` in minutes, `whole` waits, `rough` without ways home, changes and wages."""

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
        self._people()
        self._lags()
        self._stocks()
        self._later()

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
