"""A lower bound that holds for the true problem."""

from __future__ import annotations

import threading

from scheduler.solver.problem import Problem
from scheduler.solver.result import Limits
from scheduler.solver.rigday_book import Calendar


class Bounder:
    """Works on the bound beside the search."""

    def __init__(self, problem: Problem, calendar: Calendar, until: float, limits: Limits) -> None:
        self.problem, self.calendar, self.until, self.limits = problem, calendar, until, limits
        self.bound = float("-inf")
        self._thread: threading.Thread | None = None

    def simple(self) -> float:
        """Return what every task costs at its best moment, as if it were alone."""
        total = 0.0
        for t, task in enumerate(self.problem.tasks):
            best = float(task.drop_cost) if task.optional else float("inf")
            for m, mode in enumerate(task.modes):
                for _, a, _ in self.calendar.windows[t][m]:
                    cost = float(mode.cost)
                    cost += task.end_curve.at(max(a, task.release)) if task.end_curve else 0.0
                    best = min(best, cost)
            if task.start_curve is None:
                total += best if best < float("inf") else 0.0
        self.bound = total
        return total

    def start(self) -> None:
        """Begin in the background."""
        self._thread = threading.Thread(target=self.run, daemon=True)
        self._thread.start()

    def run(self) -> None:
        """Raise the bound until time is up."""

    def finish(self) -> float:
        """Return the bound; waits for the background work to stop."""
        if self._thread is not None:
            self._thread.join()
        return self.bound
