"""The best plan so far, shared by whatever searches at the same time; it believes only the evaluator."""

from __future__ import annotations

import math
import threading
import time

from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Problem
from scheduler.solver.result import CorePlan, Progress, ProgressSink, Result, Status


class Keeper:
    """Takes plans and bounds from several threads; a plan counts only when it breaks no rule.

    Parameters
    ----------
    problem : Problem
    began, deadline : float
        Values of ``time.monotonic``.
    progress : callable, optional
        Gets each line of the story.
    """

    def __init__(
        self, problem: Problem, began: float, deadline: float, progress: ProgressSink | None
    ) -> None:
        self.problem, self.began, self.deadline, self.progress = problem, began, deadline, progress
        self.plan: CorePlan | None = None
        self.value, self.bound, self.first = math.inf, -math.inf, math.inf
        self.impossible = False
        self.story: list[Progress] = []
        self.whole = _costs_are_whole(problem)
        self._lock = threading.RLock()

    def offer(self, plan: CorePlan, step: str) -> bool:
        """Take a plan when it is sound and cheaper."""
        found = evaluate(self.problem, plan)
        if found.violations:
            return False
        with self._lock:
            if self.plan is not None and found.value >= self.value - 1e-9:
                return False
            if self.plan is None:
                self.first = found.value
            self.plan, self.value = plan, found.value
            self._tell(step)
            return True

    def raise_bound(self, bound: float, step: str) -> None:
        """Take a proven bound; where all costs are whole numbers, so is the best value."""
        if self.whole and math.isfinite(bound):
            bound = math.ceil(bound - 1e-6)
        with self._lock:
            if bound > self.bound + 1e-9:
                self.bound = bound
                self._tell(step)

    def proven(self) -> bool:
        """Tell whether the plan is known to be best."""
        return self.plan is not None and self.value - self.bound <= 1e-6 * max(1.0, abs(self.value))

    def left(self) -> float:
        """Return the seconds left."""
        return self.deadline - time.monotonic()

    def _tell(self, step: str) -> None:
        now = time.monotonic()
        line = Progress(now - self.began, step, self.value, self.bound, max(0.0, self.deadline - now))
        self.story.append(line)
        if self.progress is not None:
            self.progress(line)

    def result(self) -> Result:
        """Return what is known now."""
        with self._lock:
            wall, story = time.monotonic() - self.began, tuple(self.story)
            if self.plan is None:
                status = Status.INFEASIBLE if self.impossible else Status.UNKNOWN
                bound = math.inf if self.impossible else self.bound
                return Result(status, CorePlan(), math.inf, bound, math.inf, story, wall)
            status = Status.OPTIMAL if self.proven() else Status.FEASIBLE
            bound = min(self.bound, self.value)
            return Result(status, self.plan, self.value, bound, self.first, story, wall)


def _costs_are_whole(problem: Problem) -> bool:
    """Tell whether every plan without split tasks costs a whole number."""
    rates: list[float] = []
    for task in problem.tasks:
        for curve in (task.start_curve, task.end_curve):
            if curve is not None:
                if len(curve.points) > 1:
                    return False
                rates += [curve.slope_before, curve.slope_after]
        rates += [w.risk_per_minute for mode in task.modes for w in mode.windows or ()]
    rates += [res.moves.cost_per_minute for res in problem.resources if res.moves is not None]
    unsplit = all(task.min_chunk is None for task in problem.tasks) and not problem.days
    return unsplit and all(float(rate).is_integer() for rate in rates)
