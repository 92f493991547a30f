"""The third part of the relaxation: what must wait for what, with the pace at which either can go.

Question answered: *how far can the later task be at any time, seen how far the earlier one can be?* For each wait and
time a column says how surely the earlier task is done by then (0 to 1; in truth one of the two; `done_by` says which task and
when). Three kinds of rows, each true of every plan in which it is wholly done or not at all, and so of any mixture:

- done by a time is no more than what was done until then;
- done by a time needs most of the work done some while before, since a task has a pace;
- the later task is no further than its pace allows since the earlier one was done.

The last two are what make a linear program see that half a field is not done in half the time of both.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from dataclasses import dataclass

from scheduler.solver.bound_machines import Machines
from scheduler.solver.bound_pace import Pace
from scheduler.solver.bound_pieces import Piece
from scheduler.solver.problem import Lag, LagKind
from scheduler.solver.resources import FAR

ALL = 1.0 - 1e-9


@dataclass(frozen=True)
class Running:
    """Stretches of a task in order: first start, last end, and the column of all work until then."""

    starts: list[int]
    ends: list[int]
    sums: list[int]


class Waits(Machines):
    """Adds lags to pieces and machines."""

    def _lags(self) -> None:
        """Each lag from the end of one task to the start of another; running sums keep the rows short."""
        self.running: dict[int, Running] = {}
        self.done_by: dict[int, tuple[int, int]] = {}
        self.done_by_bucket: dict[int, tuple[int, int]] = {}
        paces: dict[int, Pace] = {}
        for lag in self.problem.lags:
            if lag.least is None or lag.kind is not LagKind.END_START or lag.least < 0:
                continue
            if lag.loose:
                self._not_before(lag)
                continue
            for t in (lag.before, lag.after):
                if t not in paces:
                    paces[t] = Pace(self.problem, self.calendar, t)
            later = self._running(lag.after)
            done = self._done(lag, later.ends, self._running(lag.before), paces[lag.before])
            self._follows(lag, later, done, paces[lag.after])
            self._in_buckets(lag)

    def _done(self, lag: Lag, ends: list[int], earlier: Running, pace: Pace) -> list[int | None]:
        """Return, for each end of a stretch of the later task, the column that says how surely the earlier is done."""
        share = 1.0 / self.problem.tasks[lag.before].size
        stands = self.stands[lag.before] * share
        starts, sums = earlier.starts, earlier.sums
        out: list[int | None] = []
        assert lag.least is not None
        for end in ends:
            by = end - lag.least
            k = bisect_left(starts, by) - 1
            if k < 0 and stands == 0.0:
                out.append(None)
                continue
            column = self.rows.column(0.0, 1.0)
            self.done_by[column] = lag.before, by
            self.rows.row([(column, 1.0), *([(sums[k], -share)] if k >= 0 else [])], high=stands)
            if out and out[-1] is not None:
                self.rows.row([(out[-1], 1.0), (column, -1.0)], high=0.0)
            for j in range(k - 1, -2, -1):
                rest = 1.0 - pace.between(starts[j + 1], by)
                if rest <= 1.0 - ALL:
                    break
                self.rows.row([(column, rest), *([(sums[j], -share)] if j >= 0 else [])], high=stands)
            out.append(column)
        return out

    def _follows(self, lag: Lag, later: Running, done: list[int | None], pace: Pace) -> None:
        """The later task is no further than its pace since the earlier one was done: one row for each end."""
        share = 1.0 / self.problem.tasks[lag.after].size
        ends, sums = later.ends, later.sums
        for i, end in enumerate(ends):
            weights: dict[int, float] = defaultdict(float)
            for q in range(i, -1, -1):
                column = done[q]
                if column is None:
                    break
                # Done between the ends q - 1 and q: then the later task began no earlier than end q - 1.
                able = pace.fresh(ends[q - 1], end) if q else 1.0
                weights[column] += able
                before = done[q - 1] if q else None
                if able >= ALL:
                    break
                if before is not None:
                    weights[before] -= able
            self.rows.row([(sums[i], share), *((c, -w) for c, w in weights.items() if w)], high=0.0)

    def _in_buckets(self, lag: Lag) -> None:
        """Up to the end of each bucket, and on the whole, the later task is no further than the earlier one could be.

        A part in a bucket may be thought at its end, where it waits, and at its beginning, where it is waited for.
        """
        assert lag.least is not None
        share_a, share_b = (1.0 / self.problem.tasks[t].size for t in (lag.after, lag.before))
        later, earlier = self._running(lag.after), self._running(lag.before)
        buckets = self.problem.buckets
        for end in [buckets[i].end for i, _, _ in self.after_days[lag.after]] or [FAR]:
            by = end - lag.least
            k = bisect_left(earlier.starts, by) - 1
            done = self.rows.column(0.0, 1.0)
            self.done_by_bucket[done] = lag.before, by
            begun = [(c, -share_b) for i, c, _ in self.after_days[lag.before] if buckets[i].start <= by]
            begun += [(earlier.sums[k], -share_b)] if k >= 0 else []
            self.rows.row([(done, 1.0), *begun], high=self.stands[lag.before] * share_b)
            until = [(c, share_a) for i, c, _ in self.after_days[lag.after] if buckets[i].end <= end]
            until += [(column, share_a) for column in later.sums[-1:]]
            self.rows.row([*until, (done, -1.0)], high=0.0)

    def _not_before(self, lag: Lag) -> None:
        """If both are done, none of the later task comes before all of the earlier one: together they are one at most."""
        assert lag.least is not None
        share_a, share_b = (1.0 / self.problem.tasks[t].size for t in (lag.after, lag.before))
        later, earlier = self._running(lag.after), self._running(lag.before)
        buckets = self.problem.buckets
        reached = [(end, [(column, share_a)]) for end, column in zip(later.ends, later.sums, strict=True)]
        for i, _, _ in self.after_days[lag.after]:
            end = buckets[i].end
            until = [(c, share_a) for j, c, _ in self.after_days[lag.after] if buckets[j].end <= end]
            reached.append((end, until + [(column, share_a) for column in later.sums[-1:]]))
        for end, terms in reached:
            by = end - lag.least
            k = bisect_left(earlier.starts, by) - 1
            rest = [(c, share_b) for i, c, _ in self.after_days[lag.before] if buckets[i].start > by]
            if k < len(earlier.sums) - 1:
                rest += [(earlier.sums[-1], share_b)] + ([(earlier.sums[k], -share_b)] if k >= 0 else [])
            if rest:
                self.rows.row(terms + rest, high=1.0)

    def _running(self, t: int) -> Running:
        """Return the stretches in which a task may be worked on, with columns of the work done up to each."""
        if t in self.running:
            return self.running[t]
        groups: dict[tuple[int, int], list[Piece]] = defaultdict(list)
        for piece in self.of_task[t]:
            block = (piece.start - self.calendar.days[piece.day][0]) // self.stretch
            groups[piece.day, block].append(piece)
        found = Running([], [], [])
        for _, pieces in sorted(groups.items()):
            column = self.rows.column(0.0, float(self.problem.tasks[t].size))
            terms = [(column, 1.0)] + [(p.column, -1.0) for p in pieces]
            if found.sums:
                terms.append((found.sums[-1], -1.0))
            self.rows.row(terms, 0.0, 0.0)
            found.starts.append(min(p.start for p in pieces))
            found.ends.append(max(p.end for p in pieces))
            found.sums.append(column)
        self.running[t] = found
        return found
