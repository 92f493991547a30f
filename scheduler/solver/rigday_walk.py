"""Walks of the large-neighbourhood search: by the clock on one or two threads, or by counted rounds.

Question answered: *how is the time until the deadline spent?* Each walk anneals its own copy of the plan; now and
then the walk that is behind takes over the state of the other. The compiled rounds hold no interpreter lock, so two
walks use two cores.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

import numpy as np

from scheduler.solver import rigday_layout as at
from scheduler.solver.annealing import anneal, changes
from scheduler.solver.rigday_pack import Work

SLICE_S = 0.1
PROBES = 200
LEAST_RISE, LEAST_OF_AVERAGE = 0.5, 0.25
HEAT_PER_ROUND = 0.001
HEAT_LEAST, HEAT_MOST, HEAT_FALL = 0.6, 0.85, 0.025
"""First heat, as a share of what a task costs, least and most, and what is left of it at the end (compared in docs/engine-notes.md)."""
HEAT_NEAR = 0.01
"""The least where a search begins from a plan that a caller gave and nothing better is known: good plans lie near a good one."""
ROUNDS_PER_CYCLE = 70
"""A task, for each task: the larger the farm, the longer a cooling has to be before a second one is worth its while."""
MOST_CYCLES = 8
REHEATED = 0.35
"""Of the first heat, for every second cooling: it looks about near what the one before it found."""
COUNTED_ROUNDS = 2_000_000
"""A second and task where effort is counted: about a quarter of what a second by the clock gives (160,000 rounds on a farm of 57
tasks). With 150,000, sixteen springs of the wet week ended 19,400 +- 5,500 of 481,400 dearer (played in 0.94 of the time)."""
WHOLE_LEAST, SPLIT_TASKS, WHOLE_TASKS = 0.3, 20, 60
"""How often a task is first tried in one block: always from `WHOLE_TASKS` on, down to the least where there are few
and all ways to split can be tried (compared at 12, 60, 200 fields and two scenarios)."""
TASKS_LEAST = 10
MEETINGS = 12


class Walk:
    """One search with its own state, own random numbers and own speed."""

    def __init__(self, work: Work, near: bool = False) -> None:
        self.work = work
        self.least = HEAT_NEAR if near else HEAT_LEAST
        self.rounds = 10
        self.expected = 100.0
        self.done, self.spent = 0, 0.0
        large = (work.farm.tasks - SPLIT_TASKS) / (WHOLE_TASKS - SPLIT_TASKS)
        work.floats[at.WHOLE] = min(1.0, max(WHOLE_LEAST, large))
        self.scale = self._usual_rise()

    @property
    def value(self) -> float:
        """Cost of the best plan of this walk."""
        return float(self.work.floats[1])

    def _usual_rise(self) -> float:
        """Return the median of what a round that makes the plan worse adds to its cost.

        Few rounds are tried, some of which only shift a block and some of which lose a field: so it is held near what a
        task costs on average.
        """
        found = np.zeros(PROBES)
        changes(*self.work.arrays, found)
        average = abs(float(self.work.floats[0])) / max(1, self.work.farm.tasks)
        rises = found[found > LEAST_RISE]
        usual = float(np.median(rises)) if len(rises) else average
        return min(average, max(LEAST_OF_AVERAGE * average, usual))

    def heat(self, share: float) -> float:
        """Return the heat when `share` of the time is gone.

        With many rounds for each task the start is a little hotter; with very many, it is heated again and again
        (small farms have few but high ridges between their good plans).
        """
        start = min(HEAT_MOST, max(self.least, HEAT_PER_ROUND * self.expected))
        cooling = ROUNDS_PER_CYCLE * max(1, self.work.farm.tasks)
        cycles = max(1, min(MOST_CYCLES, int(self.expected / cooling)))
        cycle = min(cycles - 1, int(share * cycles))
        within = min(1.0, share * cycles - cycle)
        return self.scale * start * (REHEATED if cycle % 2 else 1.0) * float(HEAT_FALL**within)

    def some_rounds(self, rounds: int, share: float, next_share: float) -> None:
        """Tear and put back a number of times."""
        work = self.work
        anneal(*work.arrays, work.best, work.best_count, rounds, self.heat(share), self.heat(next_share))

    def by_clock(self, opened: float, stop: float, until: float) -> None:
        """Walk until `stop`, in short slices whose rounds follow the measured speed; heat falls until `until`."""
        whole = max(1e-9, until - opened)
        while (now := time.monotonic()) < stop:
            self.some_rounds(self.rounds, (now - opened) / whole, (now - opened + SLICE_S) / whole)
            spent = time.monotonic() - now
            self.done, self.spent = self.done + self.rounds, self.spent + spent
            self.expected = self.done / self.spent * whole / max(1, self.work.farm.tasks)
            aim = min(SLICE_S, max(0.002, (stop - now) / 3))
            self.rounds = max(1, int(self.rounds * min(3.0, aim / max(spent, 1e-5))))

    def take_over(self, other: Walk) -> None:
        """Go on from the state of another walk, with own random numbers and best plan."""
        luck = int(self.work.ints[at.RNG])
        best = self.value
        self.work.ints[:] = other.work.ints
        self.work.ints[at.RNG] = luck
        self.work.floats[:] = other.work.floats
        if best > other.value:
            self.work.best[:] = other.work.best
            self.work.best_count[:] = other.work.best_count
        else:
            self.work.floats[1] = best


def walk_by_count(walk: Walk, seconds: float, until: float) -> None:
    """Search by counted rounds: the same input gives the same plan; the deadline only guards."""
    total = max(50, int(seconds * COUNTED_ROUNDS / max(TASKS_LEAST, walk.work.farm.tasks)))
    walk.expected = total / max(1, walk.work.farm.tasks)
    steps = 40
    for k in range(steps):
        if time.monotonic() > until:
            return
        walk.some_rounds(max(1, total // steps), k / steps, (k + 1) / steps)


def walk_together(
    walks: list[Walk], until: float, goal: Callable[[], float], tell: Callable[[float], None]
) -> None:
    """Search by the clock until `until`, or until a value meets `goal()`; `tell` hears the best value."""
    opened = time.monotonic()
    stretch = max(0.15, (until - opened) / MEETINGS)
    while (now := time.monotonic()) < until:
        stop = min(until, now + stretch)
        if until - stop < stretch / 4:
            stop = until
        threads = [threading.Thread(target=w.by_clock, args=(opened, stop, until)) for w in walks[1:]]
        for thread in threads:
            thread.start()
        walks[0].by_clock(opened, stop, until)
        for thread in threads:
            thread.join()
        best = min(w.value for w in walks)
        tell(best)
        if goal() >= best - 0.5:
            return
        leader = min(walks, key=lambda w: float(w.work.floats[0]))
        for walk in walks:
            if walk is not leader:
                walk.take_over(leader)
