"""The diary: who is where on which day while a plan is being built, and when somebody is free.

Question answered: *given what stands already, when may a task run, and when is a resource free for it?* Plain Python on
purpose: it works before any compiled code is ready.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass

from scheduler.solver.problem import Lag, LagKind, Problem
from scheduler.solver.resources import FAR, Interval
from scheduler.solver.result import Block, Later
from scheduler.solver.rigday_calendar import Calendar, Roads

Entry = tuple[int, int, int, int]


@dataclass(frozen=True)
class Bounds:
    """When a task may start and end, from its own dates and from what stands already."""

    start_least: int
    start_most: int
    end_least: int
    end_most: int
    allowed: bool = True


class Diary:
    """Everything placed so far."""

    def __init__(self, problem: Problem, calendar: Calendar | None = None) -> None:
        self.problem = problem
        self.calendar = calendar or Calendar(problem)
        self.day_span = max((end - start for start, end in problem.days), default=1440)
        days, resources, tasks = len(problem.days), problem.resources, problem.tasks
        known: dict[int, list[list[int]]] = {}
        self.roads = [Roads(r.moves, known) if r.moves else None for r in resources]
        self.entries: list[list[list[Entry]]] = [[[] for _ in range(days)] for _ in resources]
        self.blocks: list[Block] = []
        self.later: list[Later] = []
        self.left = [task.size for task in tasks]
        self.first = [FAR] * len(tasks)
        self.last = [-FAR] * len(tasks)
        self.before: list[list[Lag]] = [[] for _ in tasks]
        self.after: list[list[Lag]] = [[] for _ in tasks]
        for lag in problem.lags:
            self.before[lag.after].append(lag)
            self.after[lag.before].append(lag)
        self.week_used = [list(r.hours.used_before) if r.hours else [] for r in resources]
        for r, res in enumerate(resources):
            if res.hours:
                self.week_used[r] += [0] * (len(res.hours.weeks) - len(self.week_used[r]))
        self.cells = [sorted(s.deliveries) for s in problem.stocks]
        self.stock_used = [[0.0] * (len(s.deliveries) + 1) for s in problem.stocks]
        self.bucket_left = [dict(b.capacity) for b in problem.buckets]

    # ---- moves and hours -------------------------------------------------------------------------------

    def legs(self, r: int, site: int) -> tuple[int, int]:
        """Return minutes from the yard to a site and back."""
        road = self.roads[r]
        if road is None or not road.home_daily or road.depot is None or site < 0:
            return 0, 0
        return road.minutes[road.depot][site], road.minutes[site][road.depot]

    def gap(self, r: int, a: Entry, site: int, family: int) -> int:
        """Return minutes between the entry and a following block."""
        road = self.roads[r]
        return road.gap(a[2], a[3], site, family) if road else 0

    def gap_to(self, r: int, site: int, family: int, b: Entry) -> int:
        """Return minutes between a block and the entry that follows."""
        road = self.roads[r]
        return road.gap(site, family, b[2], b[3]) if road else 0

    def span(self, r: int, day: int) -> Interval | None:
        """Return from when to when a resource is away from home on a day."""
        entries = self.entries[r][day]
        if not entries:
            return None
        out, _ = self.legs(r, entries[0][2])
        last = max(entries, key=lambda e: e[1])
        return entries[0][0] - out, last[1] + self.legs(r, last[2])[1]

    def _hours_room(self, r: int, day: int, site: int) -> Interval:
        """Return the times between which a block may lie so that the hours of the day and week hold."""
        hours = self.problem.resources[r].hours
        if hours is None:
            return -FAR, FAR
        most = hours.most_per_day
        span = self.span(r, day)
        week = self.calendar.week_of[r].get(day)
        if week is not None and hours.most_per_week < FAR:
            worked = span[1] - span[0] if span else 0
            most = min(most, hours.most_per_week - self.week_used[r][week] + worked)
        if span is None:
            return (-FAR, FAR) if most >= hours.most_per_day else (-FAR, -most)
        out, back = self.legs(r, site)
        return span[1] - most + out, span[0] + most - back

    def free(self, r: int, day: int, lo: int, hi: int, need: int, site: int, family: int) -> Interval | None:
        """Return the first stretch in [lo, hi] of at least `need` minutes in which a resource is free."""
        res = self.problem.resources[r]
        if res.cumulative:
            return (lo, hi) if hi - lo >= need else None
        spans = self.calendar.open[r][day]
        if not spans:
            return None
        out, back = self.legs(r, site)
        a_hours, b_hours = self._hours_room(r, day, site)
        most = FAR
        if b_hours < 0:
            most, b_hours = -b_hours - out - back, FAR
        elif res.hours is not None and not self.entries[r][day]:
            most = res.hours.most_per_day - out - back
        if most < need:
            return None
        lo = max(lo, spans[0][0] + out, a_hours)
        hi = min(hi, spans[-1][1] - back, b_hours)
        if self._never_used(r) and res.moves is not None and res.moves.initial is not None and site >= 0:
            lo = max(lo, int(res.moves.initial[site]))
        entries = self._around(r, day)
        for a, b in spans:
            start = max(lo, a)
            for entry in entries:
                end = min(hi, b, entry[0] - self.gap_to(r, site, family, entry), start + most)
                if end - start >= need:
                    return start, end
                start = max(start, entry[1] + self.gap(r, entry, site, family))
            end = min(hi, b, start + most)
            if end - start >= need:
                return start, end
        return None

    def _never_used(self, r: int) -> bool:
        return not any(self.entries[r])

    def _around(self, r: int, day: int) -> list[Entry]:
        """Return the day's entries and, for what stays out overnight, its neighbours on the days around."""
        entries = self.entries[r][day]
        moves = self.problem.resources[r].moves
        if moves is None or moves.home_daily:
            return entries
        book = self.entries[r]
        before = next((book[d][-1:] for d in range(day - 1, -1, -1) if book[d]), [])
        after = next((book[d][:1] for d in range(day + 1, len(book)) if book[d]), [])
        return before + entries + after

    # ---- stages and stocks -----------------------------------------------------------------------------

    def bounds(self, t: int) -> Bounds:
        """Return when task `t` may run, given its lags to what is placed."""
        task = self.problem.tasks[t]
        lo_s, hi_s, lo_e, hi_e = task.release, task.latest_start, -FAR, task.latest_end
        for lag in self.before[t]:
            left = self.left[lag.before]
            if lag.loose and left == self.problem.tasks[lag.before].size:
                continue
            if left > 0 and not lag.loose:
                return Bounds(0, 0, 0, 0, allowed=False)
            from_start = lag.kind in (LagKind.START_START, LagKind.START_END)
            base = self.first[lag.before] if from_start else self.last[lag.before]
            on_start = lag.kind in (LagKind.END_START, LagKind.START_START)
            if lag.least is not None:
                lo_s, lo_e = (
                    (max(lo_s, base + lag.least), lo_e) if on_start else (lo_s, max(lo_e, base + lag.least))
                )
            if lag.most is not None:
                hi_s, hi_e = (
                    (min(hi_s, base + lag.most), hi_e) if on_start else (hi_s, min(hi_e, base + lag.most))
                )
        for lag in self.after[t]:
            if self.left[lag.after] == self.problem.tasks[lag.after].size:
                continue
            to_start = lag.kind in (LagKind.END_START, LagKind.START_START)
            base = self.first[lag.after] if to_start else self.last[lag.after]
            on_end = lag.kind in (LagKind.END_START, LagKind.END_END)
            if lag.least is not None:
                hi_s, hi_e = (
                    (hi_s, min(hi_e, base - lag.least)) if on_end else (min(hi_s, base - lag.least), hi_e)
                )
            if lag.most is not None:
                lo_s, lo_e = (
                    (lo_s, max(lo_e, base - lag.most)) if on_end else (max(lo_s, base - lag.most), lo_e)
                )
        return Bounds(lo_s, hi_s, lo_e, hi_e)

    def cell(self, stock: int, time: int) -> int:
        """Return which stretch between deliveries a time lies in."""
        return bisect_right([at for at, _ in self.cells[stock]], time)

    def stock_room(self, stock: int, time: int) -> float:
        """Return how much can still be taken at a time without starving what is planned later."""
        deliveries = self.cells[stock]
        first = self.cell(stock, time)
        used = sum(self.stock_used[stock][: first + 1])
        have = self.problem.stocks[stock].initial + sum(q for _, q in deliveries[:first])
        room = have - used
        for k in range(first, len(deliveries)):
            have += deliveries[k][1]
            used += self.stock_used[stock][k + 1]
            room = min(room, have - used)
        return room
