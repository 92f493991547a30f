"""Working time instead of clock time, where all resources keep the same hours and work may stop and go on.

Question answered: *is this the same problem without any closure?* When every resource is open at the same times,
every task that takes time may stop at closures, and only the last end costs, then the plan in working time is the
plan in clock time with the closures cut out. Closures cost the search nothing then.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from scheduler.solver.calendar import add_work, work_between
from scheduler.solver.problem import LagKind, Problem, Task
from scheduler.solver.resources import FAR, Interval
from scheduler.solver.result import Block, CorePlan


@dataclass(frozen=True)
class Squeezed:
    """The problem in working time, and the way back."""

    problem: Problem
    spans: tuple[Interval, ...]

    def clock_plan(self, plan: CorePlan) -> CorePlan:
        """Return a plan of working time in clock time."""
        return CorePlan(tuple(self._block(b) for b in plan.blocks))

    def _block(self, block: Block) -> Block:
        end = self._end(block.end)
        start = self._start(block.start) if block.end > block.start else self._end(block.start)
        return replace(block, start=start, end=end)

    def _end(self, work: int) -> int:
        """Return the first clock time at which so much work is done."""
        return 0 if work <= 0 else add_work(0, work, self.spans) or 0

    def _start(self, work: int) -> int:
        """Return the last clock time at which so much work is done: work goes on then."""
        done = 0
        for a, b in self.spans:
            if done + (b - a) > work:
                return a + work - done
            done += b - a
        return self.spans[-1][1]

    def clock_bound(self, bound: float) -> float:
        """Return a bound on the last end in clock time (the objective is that end, times its weight)."""
        weight = self.problem.makespan_weight
        if not math.isfinite(bound) or weight <= 0:
            return bound
        return float(weight * self._end(math.ceil(bound / weight - 1e-6)))


def squeeze(problem: Problem) -> Squeezed | None:
    """Return the problem in working time, or None where that is not the same problem."""
    hours = {res.open for res in problem.resources}
    if len(hours) != 1 or problem.makespan_weight <= 0 or problem.pins or problem.before.price:
        return None
    spans = next(iter(hours))
    if not spans or any(stock.deliveries for stock in problem.stocks):
        return None
    if any(res.moves is not None for res in problem.resources):
        return None
    if any(not _squeezable(task) for task in problem.tasks):
        return None
    if any(lag.kind != LagKind.END_START or lag.least != 0 or lag.most is not None for lag in problem.lags):
        return None

    def work(time: int) -> int:
        return FAR if time >= FAR else work_between(0, time, spans)

    tasks = tuple(
        replace(t, resumable=False, release=work(t.release), latest_end=work(t.latest_end))
        for t in problem.tasks
    )
    resources = tuple(replace(res, open=None) for res in problem.resources)
    inner = replace(problem, tasks=tasks, resources=resources, horizon=work(problem.horizon))
    return Squeezed(inner, spans)


def _squeezable(task: Task) -> bool:
    if task.start_curve or task.end_curve or task.latest_start < FAR or task.min_chunk is not None:
        return False
    if task.drop_cost or any(mode.cost for mode in task.modes):
        return False
    for mode in task.modes:
        minutes = mode.minutes_for(task.size, task.size)
        if mode.windows is not None or (minutes and (not task.resumable or not mode.needs)):
            return False
    return True
