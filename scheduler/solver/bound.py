"""A lower bound that holds for the true problem, found beside the search.

Question answered: *how much better could any plan be?* First every task as if it were alone, then
linear relaxations with ever finer stretches of the day (`bound_model`), each with the machines' days priced
exactly (`bound_days`), then the same with whole waits, as long as time is left. Only proven figures are taken.
"""

from __future__ import annotations

import threading
import time
from functools import cached_property

import numpy as np

from scheduler.solver.bound_days import RigDays
from scheduler.solver.bound_merge import carriers_of, merged_ways
from scheduler.solver.bound_model import RelaxedFarm
from scheduler.solver.bound_rows import INF
from scheduler.solver.bound_solve import MANY_COLUMNS, Program, solve_rows
from scheduler.solver.bound_staff import staffed
from scheduler.solver.problem import Problem
from scheduler.solver.result import Limits
from scheduler.solver.rigday_calendar import Calendar

STRETCHES = (1.0, 1 / 6, 1 / 12, 1 / 16, 1 / 24)
WHOLE_STRETCHES = (1 / 6, 1 / 12, 1 / 24)
"""Lengths of the stretches of the relaxation, as shares of a day: coarse first, since each takes longer."""
OPEN_SHARE = 840 / 1440
"""Of a day, for a guess of how many columns a program will have."""
COLUMNS_A_STRETCH = 2.0
SHORTEST_S = 0.05
ROUGH_S_A_COLUMN = 5e-5
S_A_COLUMN, HARDER = 2.3e-6, 1.5
"""What a program takes [s], by a power of its columns: 4.4 s at 17,000, 11 at 29,000, 38 at 66,000."""
SURE_SHARE = 0.5
VISITS_TAKE = 3.0
"""So many times as long as the program of whole days takes the one that counts visits too (2.4 at 200 fields)."""
ROUNDS = 4
"""Of cuts; the first two bring nearly all."""
WORTH_A_ROUND = 5e-4
WHOLE_COLUMNS, WHOLE_WINDOWS = 20_000, 20_000
WHOLE_A_SECOND, WHOLE_HARDER = 65.0, 1.2
"""What a program of whole waits takes [s], guessed by a power of what it takes without [s] (8 farms of 12 to 15 fields: the
finer two took from a fifth of the guess to twice as long, the coarsest up to two and a half times)."""
ROOT_TAKES, ROOT_SHARE = 4.0, 0.5
"""So many times as long as a program without takes the first bound of one with whole waits, which brings most of it; so
much of the time left it may take to go before a coarser one that comes to an end."""
STOPS_S, STOPS_SHARE = 0.2, 0.02
"""The solver stops that late: what it proved by then must not come too late."""
COUNTED_COLUMNS = 3000
CLOSE = 1e-6
"""A bound within this share of a value proves it."""


class Bounder:
    """Works on the bound beside the search; `bound` only ever rises, and nothing is tried any more above `enough`."""

    def __init__(
        self, problem: Problem, calendar: Calendar, until: float, limits: Limits, enough: float = INF
    ) -> None:
        self.problem, self.calendar, self.until, self.limits = problem, calendar, until, limits
        self.bound, self.enough = float("-inf"), enough
        self._thread: threading.Thread | None = None
        self._over = threading.Event()
        self._coarse_s = 0.0
        self._took_s: dict[int, float] = {}
        # Times may count minutes or quarter hours: what a day is long says which.
        day = max((end - start for start, end in problem.days), default=1440)
        self._day = day
        self._stretches = tuple(max(1, round(share * day)) for share in STRETCHES)
        self._whole_stretches = tuple(max(1, round(share * day)) for share in WHOLE_STRETCHES)

    def simple(self) -> float:
        """Return what every task costs at its best moment, as if it were alone."""
        total = 0.0
        for t, task in enumerate(self.problem.tasks):
            best = float(task.drop_cost) if task.optional else float("inf")
            for m, mode in enumerate(task.modes):
                opens = [max(a, task.release) for _, a, _ in self.calendar.windows[t][m]]
                if not opens:
                    continue
                if task.end_curve is None:
                    best = min(best, float(mode.cost))
                    continue
                if task.end_curve.slope_before >= 0.0:
                    # Convex: never cheaper than at the first.
                    opens = [min(opens)]
                best = min(best, mode.cost + min(task.end_curve.at(a) for a in opens))
            for bucket in self.problem.buckets if task.later else ():
                best = min(best, task.end_curve.at(bucket.start) if task.end_curve else 0.0)
            for pin in self.problem.pins:
                if pin.task == t and task.end_curve:
                    best = min(best, float(task.end_curve.at(pin.end)))
            if task.start_curve is not None:
                best += min(0.0, min(cost for _, cost in task.start_curve.points))
            total += best if best < float("inf") else 0.0
        self._raise(total)
        return total

    def start(self) -> None:
        """Begin in the background."""
        self._thread = threading.Thread(target=self.run)
        self._thread.start()

    def run(self) -> None:
        """Raise the bound until time is up."""
        if not self.problem.tasks or self._over.is_set():
            return
        counted = self.limits.deterministic
        if not counted and self._seconds_left() > ROUGH_S_A_COLUMN * self._columns(self._stretches[0]):
            self._relax(self._stretches[0], rough=True)
        for k, stretch in enumerate(self._stretches):
            if self._over.is_set() or (counted and self._columns(stretch) > COUNTED_COLUMNS):
                return
            if not counted and not self._worth_trying(stretch):
                if k == 1:
                    self._count_visits()
                break
            if counted or k == 0 or not any(self._spoils(stretch, f) for f in self._stretches[k + 1 :]):
                self._relax(stretch)
        if counted or self._windows > WHOLE_WINDOWS:
            return
        left = [s for s in self._whole_stretches if self._columns(s) < WHOLE_COLUMNS]
        while left and not self._over.is_set():
            # The finest that likely comes to an end, or one finer whose first bound does: a coarser one would be of no use.
            sure = [k for k, s in enumerate(left) if self._guess_whole_s(s) < self._seconds_left()]
            k = max(sure, default=0)
            if k + 1 < len(left) and ROOT_TAKES * self._took(left[k + 1]) < ROOT_SHARE * self._seconds_left():
                k += 1
            self._wait_whole(left[k])
            left = left[k + 1 :]

    @cached_property
    def _merged(self) -> tuple[Problem, Calendar, list[list[int]]]:
        problem, carriers = merged_ways(self.problem)
        return problem, staffed(problem, Calendar(problem)), carriers

    @cached_property
    def _staffed(self) -> Calendar:
        return staffed(self.problem, self.calendar)

    @cached_property
    def _windows(self) -> int:
        return sum(len(cut) for task in self.calendar.windows for cut in task)

    @cached_property
    def _merged_windows(self) -> int:
        return sum(len(cut) for task in self._merged[1].windows for cut in task)

    def _worth_trying(self, stretch: int) -> bool:
        """Guess from the number of columns whether a finer program can be solved in the time left."""
        return self._seconds_left() > self._guess_s(stretch)

    def _spoils(self, stretch: int, finer: int) -> bool:
        """Tell whether a program would take the time that a finer one needs, which alone surely is solved."""
        room = SURE_SHARE * self._seconds_left()
        return self._guess_s(finer) < room < self._guess_s(stretch) + self._guess_s(finer)

    def _guess_s(self, stretch: int) -> float:
        return float(S_A_COLUMN * self._columns(stretch) ** HARDER)

    def _took(self, stretch: int) -> float:
        """Return what a program took, cuts and all; guessed by those before where it was not solved."""
        if stretch in self._took_s:
            return self._took_s[stretch]
        slower = [took / self._guess_s(s) for s, took in self._took_s.items() if s < self._stretches[0]]
        return self._guess_s(stretch) * max(slower, default=1.0)

    def _guess_whole_s(self, stretch: int) -> float:
        """Guess what a program of whole waits takes from what was measured without."""
        return float(WHOLE_A_SECOND * self._took(stretch) ** WHOLE_HARDER)

    def _seconds_left(self) -> float:
        return self.until - time.monotonic()

    def _columns(self, stretch: int) -> float:
        windows = self._windows if stretch == self._stretches[0] else self._merged_windows
        return windows * (2 + COLUMNS_A_STRETCH * OPEN_SHARE * self._day / stretch)

    def _relax(self, stretch: int, rough: bool = False) -> None:
        """Solve one relaxation and take its bound; cut by the machines' true days while that brings something."""
        coarse = stretch == self._stretches[0]
        opened = time.monotonic()
        if coarse and not rough:
            # Whole days are few columns: every way is kept apart, which tells far machines from near ones.
            farm = RelaxedFarm(self.problem, self._staffed, stretch, rough)
        else:
            merged, calendar, carriers = self._merged
            farm = RelaxedFarm(merged, calendar, stretch, rough, None if rough else carriers)
        days = None if coarse else RigDays(farm)
        program = Program(farm.rows, sparse=rough)
        took = SHORTEST_S
        for _ in range(ROUNDS):
            began, before = time.monotonic(), self.bound
            if self.until - began < took:
                return
            solved = program.solve(self.until - began)
            self._raise(solved.bound)
            if coarse and not rough and np.isfinite(solved.bound):
                self._coarse_s = time.monotonic() - opened
            if not rough and len(solved.prices):
                self._took_s.setdefault(stretch, time.monotonic() - opened)
            if days is None or not len(solved.prices) or self._over.is_set():
                return
            bound, added = program.cut_days(farm.own_rows, days, solved)
            self._raise(bound)
            took = time.monotonic() - began
            little = self.bound - before < WORTH_A_ROUND * abs(self.bound)
            if not added or little or len(farm.rows.cost) > MANY_COLUMNS:
                # A large program is better spent its time in finer stretches than in a second round.
                return

    def _count_visits(self) -> None:
        """Where nothing finer fits: whole days once more, with visits and the end of each block."""
        if self._seconds_left() > VISITS_TAKE * self._coarse_s > 0.0:
            farm = RelaxedFarm(
                self.problem, self._staffed, self._stretches[0], carriers=carriers_of(self.problem), lengths=1
            )
            self._raise(Program(farm.rows).solve(self._seconds_left()).bound)

    def _wait_whole(self, stretch: int) -> None:
        """Solve one relaxation in which what is waited for is wholly done or not at all."""
        merged, calendar, carriers = self._merged
        farm = RelaxedFarm(merged, calendar, stretch, carriers=carriers)
        whole = farm.done_by.keys() | farm.done_by_bucket.keys()
        farm.rows.whole = [column in whole for column in range(len(farm.rows.cost))]
        seconds = self._seconds_left() * (1.0 - STOPS_SHARE) - STOPS_S
        if seconds > SHORTEST_S:
            self._raise(solve_rows(farm.rows, seconds).bound)

    def _raise(self, bound: float) -> None:
        self.bound = max(self.bound, bound)
        if self.bound > self.enough:
            self._over.set()

    def finish(self, value: float) -> float:
        """Return the bound; waits for the background work no longer than the deadline, nor once it proves `value`."""
        if self._thread is not None:
            while (
                self._thread.is_alive()
                and self._seconds_left() > 0
                and self.bound < value - CLOSE * max(1.0, abs(value))
            ):
                self._thread.join(min(0.05, max(0.0, self._seconds_left())))
        self._over.set()
        return self.bound
