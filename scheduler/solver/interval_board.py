"""Time lines of resources while a plan without days is being built: the earliest time one more block fits.

Question answered: *given what stands, from when on can this block run on these resources?* Input: a problem
without `days`; blocks are added one by one.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from collections.abc import Sequence

from scheduler.solver.calendar import add_work, meet, next_open
from scheduler.solver.problem import Mode, Problem, Task
from scheduler.solver.resources import FAR
from scheduler.solver.result import Block

Entry = tuple[int, int, int, int]


class Board:
    """What each resource does, and what each stock has left."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.rows: list[list[Entry]] = [[] for _ in problem.resources]
        self.packed = [0] * len(problem.resources)
        self.times: list[list[int]] = [[0] for _ in problem.resources]
        self.levels: list[list[int]] = [[0] for _ in problem.resources]
        self.taken = [0] * len(problem.stocks)
        self.blocks: list[Block] = []

    def earliest(
        self, task: Task, m: int, crew: Sequence[int], start: int, start_most: int, end_most: int
    ) -> tuple[int, int] | None:
        """Return the first start at or after `start`, and its end, or None."""
        mode = task.modes[m]
        minutes = mode.minutes_for(task.size, task.size)
        calendars = [self.problem.resources[r].open for r in crew]
        spans = meet(*calendars)
        while True:
            begin = next_open(start, spans) if minutes or not task.resumable else start
            if begin is None or begin > start_most:
                return None
            end = add_work(begin, minutes, spans) if task.resumable else begin + minutes
            if end is None or end > end_most:
                return None
            later = self._not_before(task, mode, crew, begin, end)
            if later <= begin:
                return begin, end
            start = later

    def _not_before(self, task: Task, mode: Mode, crew: Sequence[int], begin: int, end: int) -> int:
        """Return `begin` when a block fits there, or a later time to try."""
        later = self._window(mode, begin, end)
        for stock, amount in mode.consumes.items():
            later = max(later, self._stocked(stock, amount, begin))
        for need, r in zip(mode.needs, crew, strict=True):
            res = self.problem.resources[r]
            if not task.resumable and res.open is not None:
                k = bisect_right(res.open, (begin, FAR)) - 1
                if k < 0 or end > res.open[k][1]:
                    later = max(later, res.open[k + 1][0] if k + 1 < len(res.open) else FAR)
            if res.cumulative:
                later = max(later, self._free_capacity(r, need.amount, begin, end))
            else:
                later = max(later, self._free_unary(r, mode, begin, end))
        return later

    def _window(self, mode: Mode, begin: int, end: int) -> int:
        if mode.windows is None or any(w.start <= begin and end <= w.end for w in mode.windows):
            return begin
        return min((w.start for w in mode.windows if w.start > begin), default=FAR)

    def _stocked(self, stock: int, amount: int, begin: int) -> int:
        """Return when enough is there, leaving untouched what is taken already at any time."""
        supply = self.problem.stocks[stock]
        have = supply.initial - self.taken[stock] - amount
        if have >= 0:
            return begin
        for time, more in sorted(supply.deliveries):
            have += more
            if have >= 0:
                return max(begin, time)
        return FAR

    def _free_capacity(self, r: int, amount: int, begin: int, end: int) -> int:
        capacity = self.problem.resources[r].capacity
        if amount > capacity:
            return FAR
        if end <= begin:
            return begin
        times, levels = self.times[r], self.levels[r]
        k = bisect_right(times, begin) - 1
        last = -1
        while k < len(times) and times[k] < end:
            if levels[k] + amount > capacity:
                last = k
            k += 1
        if last < 0:
            return begin
        return times[last + 1] if last + 1 < len(times) else FAR

    def _free_unary(self, r: int, mode: Mode, begin: int, end: int) -> int:
        res = self.problem.resources[r]
        if res.capacity < 1:
            return FAR
        if begin < self.packed[r]:
            return self.packed[r]
        moves, row = res.moves, self.rows[r]
        k = bisect_left(row, (begin, end, -FAR, -FAR))
        if moves is None:
            if k and row[k - 1][1] > begin:
                return row[k - 1][1]
            return row[k][1] if k < len(row) and row[k][0] < end else begin
        later = begin
        if k == 0 and moves.initial is not None and mode.site >= 0:
            later = max(later, int(moves.initial[mode.site]))
        back = int(moves.final[mode.site]) if moves.final is not None and mode.site >= 0 else 0
        if k == len(row) and end + back > moves.final_latest:
            return FAR
        before = row[:k] if moves.all_pairs else row[max(0, k - 1) : k]
        after = row[k:] if moves.all_pairs else row[k : k + 1]
        for a in before:
            later = max(later, a[1] + moves.gap(a[2], a[3], mode.site, mode.family))
        for b in after:
            if end + moves.gap(mode.site, mode.family, b[2], b[3]) > b[0]:
                later = max(later, b[1], begin + 1)
        return later

    def add(self, block: Block) -> None:
        """Write a block down."""
        mode = self.problem.tasks[block.task].modes[block.mode]
        self.blocks.append(block)
        for stock, amount in mode.consumes.items():
            self.taken[stock] += amount
        for need, r in zip(mode.needs, block.resources, strict=True):
            if not self.problem.resources[r].cumulative:
                insort(self.rows[r], (block.start, block.end, mode.site, mode.family))
                self._pack(r, block)
            elif block.end > block.start:
                self._raise(r, need.amount, block.start, block.end)

    def _pack(self, r: int, block: Block) -> None:
        """Keep up to where a resource is busy without a break: nobody need look for room before that."""
        if block.start <= self.packed[r] < block.end:
            at, row = block.end, self.rows[r]
            k = bisect_left(row, (at, at, -FAR, -FAR))
            while k < len(row) and row[k][0] <= at:
                at = max(at, row[k][1])
                k += 1
            self.packed[r] = at

    def _raise(self, r: int, amount: int, start: int, end: int) -> None:
        times, levels = self.times[r], self.levels[r]
        for time in (start, end):
            k = bisect_left(times, time)
            if k == len(times) or times[k] != time:
                times.insert(k, time)
                levels.insert(k, levels[k - 1])
        for k in range(bisect_left(times, start), bisect_left(times, end)):
            levels[k] += amount
