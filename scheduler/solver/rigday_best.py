"""The best plan so far while a search runs, and its story.

Question answered: *which of the plans offered is best, by the judge's own figures?* Fewest broken rules first, then cost.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Problem
from scheduler.solver.result import CorePlan, Progress, Result, Status

UNJUDGED = 1 << 30
WORTH_A_CALL = 0.001
"""Of its value: what a plan must save before people who know another are called."""


@dataclass
class Best:
    """The best plan so far, and the story."""

    problem: Problem
    plan: CorePlan = field(default_factory=lambda: CorePlan((), ()))
    value: float = math.inf
    faults: int = UNJUDGED
    first: float = math.inf
    given: bool = False
    bound: float = -math.inf
    story: list[Progress] = field(default_factory=list)

    @property
    def proven(self) -> bool:
        """Whether no plan can be better."""
        return self.faults == 0 and self.value - self.bound <= 1e-6 * max(1.0, abs(self.value))

    @property
    def worth(self) -> float:
        """What a plan must cost less to be taken for this one."""
        known = any(self.problem.before.price.values()) and self.given and self.faults == 0
        return WORTH_A_CALL * abs(self.value) if known else 1e-9

    def offer(self, plan: CorePlan, worth: float = 1e-9) -> tuple[bool, float, int]:
        """Judge a plan and take it if it breaks fewer rules, or as few and costs less by `worth`.

        Returns
        -------
        taken, value, faults
        """
        found = evaluate(self.problem, plan)
        value, faults = found.value, len(found.violations)
        taken = (faults, value) < (self.faults, self.value - worth)
        if taken:
            self.plan, self.value, self.faults, self.given = plan, value, faults, False
        return taken, value, faults

    def result(self, wall_s: float) -> Result:
        """Return what a caller gets."""
        status = Status.UNKNOWN if self.faults else Status.OPTIMAL if self.proven else Status.FEASIBLE
        first = self.first if math.isfinite(self.first) else self.value
        return Result(status, self.plan, self.value, self.bound, first, tuple(self.story), wall_s)
