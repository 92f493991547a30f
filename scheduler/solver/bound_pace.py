"""How fast a task can go at most: the share of it that all its modes together can do between two times.

Question answered: *how much of this task can be done from here to there, whoever does it?*
"""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from itertools import pairwise

from scheduler.solver.problem import Problem, Task
from scheduler.solver.rigday_calendar import Calendar


class Pace:
    """Most work of one task, as a share of its size, in any stretch of time.

    Modes that need the same one resource cannot run side by side: of such a group only the fastest counts. A block
    begins with its fixed minutes, in which no work is done.
    """

    def __init__(self, problem: Problem, calendar: Calendar, t: int) -> None:
        task = problem.tasks[t]
        self._at_once = any(m.minutes == 0 for m in task.modes)
        self.fixed = min((m.fixed_minutes for m in task.modes), default=0)
        rates: dict[int, float] = defaultdict(float)
        for group in _side_by_side(problem, task):
            spans = [
                (
                    max(a, task.release) + self.fixed,
                    min(b, task.latest_end),
                    1.0 / max(1, task.modes[m].minutes),
                )
                for m in group
                for _, a, b in calendar.windows[t][m]
            ]
            cuts = sorted({x for a, b, _ in spans if b > a for x in (a, b)})
            for a, b in pairwise(cuts):
                rate = max((r for start, end, r in spans if start <= a and b <= end), default=0.0)
                rates[a] += rate
                rates[b] -= rate
        self._times, self._done = _summed(rates)

    def between(self, start: int, end: int) -> float:
        """Return the most that can be done from `start` to `end` by blocks that may have begun before (0 to 1)."""
        if self._at_once:
            return 1.0
        return min(1.0, max(0.0, self._until(end) - self._until(start)))

    def fresh(self, start: int, end: int) -> float:
        """Return the most that can be done until `end` by blocks that begin at `start` or later (0 to 1)."""
        return self.between(start + self.fixed, end)

    def _until(self, time: int) -> float:
        times, done = self._times, self._done
        if not times or time <= times[0]:
            return 0.0
        if time >= times[-1]:
            return done[-1]
        k = bisect_left(times, time)
        return done[k - 1] + (done[k] - done[k - 1]) * (time - times[k - 1]) / (times[k] - times[k - 1])


def _summed(rates: dict[int, float]) -> tuple[list[int], list[float]]:
    times = sorted(rates)
    done, rate, total = [], 0.0, 0.0
    for k, time in enumerate(times):
        total += rate * (time - times[k - 1]) if k else 0.0
        done.append(total)
        rate += rates[time]
    return times, done


def _side_by_side(problem: Problem, task: Task) -> list[list[int]]:
    """Return groups of modes; at any time at most one mode of each group runs."""
    best: list[list[int]] = []
    # However much room there is: every block but a last rest is at least the smallest one.
    blocks = task.size // (task.min_chunk or task.size) + 1
    for i in range(min((len(m.needs) for m in task.modes), default=0)):
        options = set().union(*(m.needs[i].any_of for m in task.modes))
        room = sum(problem.resources[r].capacity if problem.resources[r].cumulative else 1 for r in options)
        if all(len(m.needs[i].any_of) == 1 for m in task.modes) and room == len(options):
            groups: dict[int, list[int]] = defaultdict(list)
            for m, mode in enumerate(task.modes):
                groups[mode.needs[i].any_of[0]].append(m)
            found = list(groups.values())
        else:
            found = [list(range(len(task.modes)))] * min(room, blocks)
        if not best or len(found) < len(best):
            best = found
    return best or [[m] for m in range(len(task.modes))]
