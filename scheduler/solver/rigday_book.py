"""The day book: who is where on which day while a plan is being built, and where one more block fits.

Question answered: *given what stands already, where is the first gap for this task, in this mode, in
this window, and who can do it?* Input: a problem with `days`; blocks are added one by one. Plain Python
on purpose: it works before any compiled code is ready; dispatch, repair and pins build their plans with
it.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterator
from dataclasses import replace

from scheduler.solver.problem import Mode
from scheduler.solver.result import Block, CorePlan
from scheduler.solver.rigday_diary import Bounds, Diary

SHIFTS_MOST = 12
"""Rounds in which machines and people of a block agree on a time."""


class Book(Diary):
    """Everything placed so far, and what is placed next."""

    def fit(self, t: int, m: int, day: int, a: int, b: int, bounds: Bounds) -> Block | None:
        """Return the first block of task `t` that fits into [a, b] of a day, as large as possible."""
        task = self.problem.tasks[t]
        mode = task.modes[m]
        left = self.left[t]
        least = left if task.min_chunk is None else min(left, task.min_chunk)
        if left < (task.min_chunk or 0) and left < task.size:
            a = max(a, self.last[t])
        need = mode.minutes_for(least, task.size)
        full = mode.minutes_for(left, task.size)
        lo, hi = max(a, bounds.start_least), min(b, bounds.end_most)
        for _ in range(24):
            if hi - lo < need or lo > bounds.start_most:
                return None
            chosen = self._choose(mode, day, lo, hi, need)
            if chosen is None:
                return None
            start, end, resources, settled = chosen
            if start > bounds.start_most:
                return None
            if settled:
                block = self._sized(t, m, start, min(end, start + full), resources)
                later = self._next_delivery(mode, start)
                if block is not None or later is None:
                    return block
                start = later
            lo = start
        return None

    def _next_delivery(self, mode: Mode, time: int) -> int | None:
        """Return when something that a mode takes is delivered next."""
        return min((at for s in mode.consumes for at, _ in self.cells[s] if at > time), default=None)

    def _choose(
        self, mode: Mode, day: int, lo: int, hi: int, need: int
    ) -> tuple[int, int, tuple[int, ...], bool] | None:
        """Choose resources need by need; not settled means: try again from the later start."""
        used: list[int] = []
        start, end = lo, hi
        for wanted in mode.needs:
            best: tuple[int, int, int] | None = None
            for r in wanted.any_of:
                if r in used:
                    continue
                got = self.free(r, day, start, hi, need, mode.site, mode.family)
                if got is None:
                    continue
                key = (max(got[0], start), -min(got[1], end), r)
                if best is None or key < best:
                    best = key
            if best is None:
                return None
            used.append(best[2])
            if best[0] > start and len(used) > 1:
                return best[0], hi, (), False
            start, end = best[0], min(end, -best[1])
            if end - start < need:
                return end - need + 1, hi, (), False
        return start, end, tuple(used), True

    def _sized(self, t: int, m: int, start: int, end: int, resources: tuple[int, ...]) -> Block | None:
        task = self.problem.tasks[t]
        mode = task.modes[m]
        amount = self.left[t]
        if mode.minutes:
            amount = min(amount, (end - start - mode.fixed_minutes) * task.size // mode.minutes)
        for stock, taken in mode.consumes.items():
            if taken > 0:
                amount = min(amount, int(self.stock_room(stock, start) * task.size / taken + 1e-9))
        least = self.left[t] if task.min_chunk is None else min(self.left[t], task.min_chunk)
        if amount < least or amount <= 0:
            return None
        return Block(start, start + mode.minutes_for(amount, task.size), t, m, amount, resources)

    def still_fits(self, block: Block) -> bool:
        """Tell whether a block may stand exactly as it is."""
        task = self.problem.tasks[block.task]
        mode = task.modes[block.mode]
        bounds = self.bounds(block.task)
        least = (
            self.left[block.task] if task.min_chunk is None else min(self.left[block.task], task.min_chunk)
        )
        if not bounds.allowed or not least <= block.amount <= self.left[block.task]:
            return False
        if block.end - block.start != mode.minutes_for(block.amount, task.size):
            return False
        if not bounds.start_least <= block.start <= bounds.start_most:
            return False
        if not bounds.end_least <= block.end <= bounds.end_most:
            return False
        cuts = self.calendar.windows[block.task][block.mode]
        if not any(a <= block.start and block.end <= b for _, a, b in cuts):
            return False
        day, length = self.calendar.day_of(block.start), block.end - block.start
        for need, r in zip(mode.needs, block.resources, strict=True):
            if r not in need.any_of:
                return False
            if self.free(r, day, block.start, block.end, length, mode.site, mode.family) is None:
                return False
        return all(
            self.stock_room(stock, block.start) >= taken * block.amount / task.size - 1e-9
            for stock, taken in mode.consumes.items()
        )

    def later_on_its_day(self, block: Block) -> Block | None:
        """Return the block as soon after its time as the same machines and people can do it on that day; None where they cannot."""
        task = self.problem.tasks[block.task]
        mode, length = task.modes[block.mode], block.end - block.start
        day = self.calendar.day_of(block.start)
        for cut_day, a, b in self.calendar.windows[block.task][block.mode]:
            if cut_day != day or b - max(a, block.start) < length:
                continue
            start = self._all_free(block, mode, day, max(a, block.start), b)
            shifted = None if start is None else replace(block, start=start, end=start + length)
            if shifted is not None and self.still_fits(shifted):
                return shifted
        return None

    def _all_free(self, block: Block, mode: Mode, day: int, lo: int, hi: int) -> int | None:
        """Return from when on everything that a block takes is free for its length in [lo, hi]."""
        length = block.end - block.start
        for _ in range(SHIFTS_MOST):
            start = lo
            for r in block.resources:
                got = self.free(r, day, start, hi, length, mode.site, mode.family)
                if got is None:
                    return None
                start = max(start, got[0])
            if start == lo:
                return start
            lo = start
        return None

    def add(self, block: Block) -> None:
        """Write a block into the book."""
        task = self.problem.tasks[block.task]
        mode = task.modes[block.mode]
        day = self.calendar.day_of(block.start)
        self.blocks.append(block)
        self.left[block.task] -= block.amount
        self.first[block.task] = min(self.first[block.task], block.start)
        self.last[block.task] = max(self.last[block.task], block.end)
        for r in block.resources:
            if self.problem.resources[r].cumulative:
                continue
            week = self.calendar.week_of[r].get(day)
            before = self.span(r, day)
            insort(self.entries[r][day], (block.start, block.end, mode.site, mode.family))
            after = self.span(r, day)
            if week is not None and after is not None:
                self.week_used[r][week] += after[1] - after[0] - (before[1] - before[0] if before else 0)
        for stock, taken in mode.consumes.items():
            self.stock_used[stock][self.cell(stock, block.start)] += taken * block.amount / task.size

    def candidates(self, t: int) -> Iterator[tuple[int, int, int, int]]:
        """Yield (day, start, end, mode) of every window of a task, earliest first."""
        rows = [(d, a, b, m) for m, cut in enumerate(self.calendar.windows[t]) for d, a, b in cut]
        yield from sorted(rows)

    def plan(self) -> CorePlan:
        """Return what stands."""
        return CorePlan(tuple(sorted(self.blocks)), tuple(self.later))
