"""Why there is no plan: the smallest clash of named rules, in words.

Question answered: *which few rules of this problem cannot hold together?* Rules are named groups (a pin, a lag,
"this must be done", dates, windows, hours, one job at a time, a stock ...). Ever smaller chunks of them are left
out; what can be left out while there is still no plan does not belong to the clash. What stays is smallest in the
sense that dropping any one of its rules makes a plan possible. The bare horizon and the days are never dropped.
"""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from dataclasses import dataclass

from scheduler.solver.clash_rules import Rule, relaxed, rules_of, sentence
from scheduler.solver.evaluate import evaluate
from scheduler.solver.interval_bounds import reach_of
from scheduler.solver.interval_dispatch import dispatch
from scheduler.solver.interval_prove import is_possible
from scheduler.solver.problem import Problem
from scheduler.solver.result import Limits
from scheduler.solver.solve import hopeless, takes_days
from scheduler.solver.validate import validate

MARGIN_S = 0.2
CHECK_S = 1.0
CHECK_DAYS_S = 0.3


@dataclass(frozen=True)
class Clash:
    """Rules that cannot hold together.

    Attributes
    ----------
    rules : tuple of Rule
        Empty when there is a plan (or none was refuted in time).
    sentences : tuple of str
        The same in words.
    proved : bool
        Every refusal was a proof; False: a search found no plan in the time it had.
    smallest : bool
        Each rule was tried and is needed; False: time ran out, some may be needless.
    """

    rules: tuple[Rule, ...]
    sentences: tuple[str, ...]
    proved: bool = True
    smallest: bool = True

    def __str__(self) -> str:
        """Return the clash as one text."""
        if not self.rules:
            return "No clash was found."
        return "These cannot hold together: " + "; ".join(self.sentences) + "."


def explain(problem: Problem, seconds: float = 5.0) -> Clash:
    """Return the smallest clash of named rules, within `seconds`.

    Parameters
    ----------
    problem : Problem
        Best one for which `solve` said INFEASIBLE.
    seconds : float
        Wall time for the whole search.
    """
    validate(problem)
    finder = _Finder(problem, time.monotonic() + max(0.1, seconds - MARGIN_S))
    rules = rules_of(problem)
    if finder.has_plan(rules) is not False:
        return Clash((), (), proved=finder.proved)
    rules = finder.start_small(rules)
    rules, smallest = finder.shrink(rules)
    return Clash(tuple(rules), tuple(sentence(problem, rule) for rule in rules), finder.proved, smallest)


class _Finder:
    """Checks of relaxed problems under one deadline."""

    def __init__(self, problem: Problem, deadline: float) -> None:
        self.problem, self.deadline = problem, deadline
        self.proved = True

    def left(self) -> float:
        return self.deadline - time.monotonic()

    def has_plan(self, rules: Sequence[Rule]) -> bool | None:
        """Tell whether these rules alone can be kept; None when that stayed open (and was not disproved)."""
        problem = relaxed(self.problem, rules)
        if hopeless(problem):
            return False
        return self._with_days(problem) if takes_days(problem) else self._without_days(problem)

    def _with_days(self, problem: Problem) -> bool:
        """A search that finds no plan is taken as a refusal, and told as such."""
        from scheduler.solver import rigday
        from scheduler.solver.dispatch import dispatch as rule

        if not problem.days:
            return True
        if not evaluate(problem, rule(problem)).violations:
            return True
        until = time.monotonic() + min(CHECK_DAYS_S, max(0.05, self.left()))
        found = rigday.search(problem, until, Limits(CHECK_DAYS_S, 1))
        if math.isfinite(found.value):
            return True
        self.proved = False
        return False

    def _without_days(self, problem: Problem) -> bool | None:
        reach = reach_of(problem, problem.horizon)
        if reach.clash:
            return False
        until = time.monotonic() + 0.05
        for plan in dispatch(problem, reach, 0, lambda: time.monotonic() > until):
            if not evaluate(problem, plan).violations:
                return True
        return is_possible(problem, reach, min(CHECK_S, max(0.05, self.left())))

    def start_small(self, rules: list[Rule]) -> list[Rule]:
        """Try whether one thing that must be done clashes already, with everything else that must be left out."""
        musts = [rule for rule in rules if rule.kind == "must"]
        others = [rule for rule in rules if rule.kind != "must"]
        if self.has_plan(others) is False:
            return others
        budget = self.left() / 3
        began = time.monotonic()
        for must in musts:
            if time.monotonic() - began > budget:
                break
            alone = [must, *others]
            if self.has_plan(alone) is False:
                return alone
        return rules

    def shrink(self, rules: list[Rule]) -> tuple[list[Rule], bool]:
        """Leave out chunks, halves first, then ever smaller ones down to single rules, until none can go."""
        size = max(1, len(rules) // 2)
        while True:
            k, gone = 0, False
            while k < len(rules):
                if self.left() <= 0:
                    return rules, False
                rest = rules[:k] + rules[k + size :]
                if self.has_plan(rest) is False:
                    rules, gone = rest, True
                else:
                    k += size
            if size == 1 and not gone:
                return rules, True
            size = max(1, size // 2)
