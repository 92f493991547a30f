"""Why there is no plan: the smallest clash of named rules, in words.

Question answered: *which few rules of this problem cannot hold together?* Rules are named groups (a pin, a lag,
"this must be done", dates, windows, hours, one job at a time, a stock ...). Whole kinds are left out, else ever smaller
parts of them; what can be left out while there is still no plan does not belong to the clash. What stays is smallest in the
sense that dropping any one of its rules makes a plan possible. The bare horizon and the days are never dropped.

With days, a refusal is a proof of the bound (`clash_proof`) where one is found; else a search that found no plan in
the time it had is taken for one, and told as such.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass

from scheduler.solver import rigday, rigday_walk
from scheduler.solver.clash_needed import OF_TASKS, needed
from scheduler.solver.clash_proof import SURE, all_free, refuted
from scheduler.solver.clash_rules import OF_RESOURCES, Rule, relaxed, rules_of, sentence
from scheduler.solver.dispatch import dispatch as rule_plan
from scheduler.solver.evaluate import evaluate
from scheduler.solver.interval_bounds import reach_of
from scheduler.solver.interval_dispatch import dispatch
from scheduler.solver.interval_prove import is_possible
from scheduler.solver.problem import Problem
from scheduler.solver.result import CorePlan, Limits
from scheduler.solver.solve import hopeless, takes_days
from scheduler.solver.validate import validate

MARGIN_S = 0.2
CHECK_S = 1.0
ROUNDS_A_TASK = 100
HARDER = 5
PROOF_DAYS_S = 0.2
"""What proves anything takes less than half of this (farms of 3 to 15 fields)."""
EASIEST_TO_LEAVE = (
    "moves", "hours", "stock", "choice", "open", "lag", "pin", "capacity", "must", "dates", "windows",
)  # fmt: skip
"""Kinds of rules in the order in which they are tried."""


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
        Each rule was tried and is needed: without it there is a plan. False: that stayed open for some of them.
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
    part = needed(problem)
    finder = _Finder(part.problem, time.monotonic() + max(0.1, seconds - MARGIN_S))
    rules = rules_of(part.problem)
    if finder.has_plan(rules) is not False:
        return Clash((), (), proved=finder.proved)
    rules = finder.start_small(rules)
    rules, smallest = finder.shrink(rules)
    found = tuple(part.whole(rule) for rule in rules)
    return Clash(found, tuple(sentence(problem, rule) for rule in found), finder.proved, smallest)


class _Finder:
    """Checks of relaxed problems under one deadline."""

    def __init__(self, problem: Problem, deadline: float) -> None:
        self.problem, self.deadline = problem, deadline
        self.proved, self.by_proof, self.effort = True, False, 1

    def left(self) -> float:
        return self.deadline - time.monotonic()

    def has_plan(self, rules: Sequence[Rule]) -> bool | None:
        """Tell whether these rules alone can be kept; None when that stayed open (and was not disproved)."""
        problem = needed(relaxed(self.problem, rules)).problem
        if hopeless(problem):
            return False
        return self._with_days(problem) if takes_days(problem) else self._without_days(problem)

    def _with_days(self, problem: Problem) -> bool | None:
        """Look for a plan, then for a proof that there is none.

        Once a refusal was proved, only proofs count: what is left at the end is then proved as a whole.
        """
        problem = all_free(problem)
        if self._planned(problem, rule_plan(problem)):
            return True
        tasks = max(rigday_walk.TASKS_LEAST, len(problem.tasks))
        seconds = self.effort * ROUNDS_A_TASK * tasks * tasks / rigday_walk.COUNTED_ROUNDS
        effort = Limits(seconds, 1, deterministic=True, bound=False)
        if self._planned(problem, rigday.search(problem, self.deadline, effort).plan):
            return True
        if refuted(problem, min(self.effort * PROOF_DAYS_S, max(0.05, self.left()))):
            self.proved = self.by_proof = True
            return False
        if self.by_proof:
            return None
        self.proved = False
        return False

    @staticmethod
    def _planned(problem: Problem, plan: CorePlan) -> bool:
        judged = evaluate(problem, plan)
        return not judged.violations and judged.value < SURE

    def _without_days(self, problem: Problem) -> bool | None:
        reach = reach_of(problem, problem.horizon)
        if reach.clash:
            return False
        until = time.monotonic() + 0.05
        for plan in dispatch(problem, reach, 0, lambda: time.monotonic() > until):
            if not evaluate(problem, plan).violations:
                return True
        return is_possible(problem, reach, min(CHECK_S, max(0.05, self.left())))

    def at_work(self, rules: list[Rule]) -> list[Rule]:
        """Return the rules without those of tasks, machines, people and stocks that what must be done does not touch."""
        part = needed(relaxed(self.problem, rules))
        modes = [mode for task in part.problem.tasks for mode in task.modes]
        lags = [rule.index for rule in rules if rule.kind == "lag"]
        asked = {r for mode in modes for need in mode.needs for r in need.any_of}
        used = {
            **{kind: set(part.back["task"]) for kind in OF_TASKS},
            **{kind: asked for kind in OF_RESOURCES},
            "lag": {lags[k] for k in part.back["lag"]},
            "stock": {s for mode in modes for s in mode.consumes},
        }
        return [rule for rule in rules if rule.kind not in used or rule.index in used[rule.kind]]

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
        """Leave out whole kinds of rules, else halves of them, down to single rules, until none can go.

        What is tried first is the likeliest to go: roads and stocks before the machines, and these before the work, so
        that a clash is told by few kinds of rules. A rule that was needed stays needed when more have gone.
        """
        rules = self.at_work(rules)
        chunks = [[rule for rule in rules if rule.kind == kind] for kind in EASIEST_TO_LEAVE]
        chunks = [chunk for chunk in chunks if chunk][::-1]
        open_ones: list[Rule] = []
        while chunks:
            chunk = chunks.pop()
            if self.left() <= 0:
                return rules, False
            gone = set(chunk)
            rest = [rule for rule in rules if rule not in gone]
            answer = self.has_plan(rest)
            if answer is False:
                rules = self.at_work(rest)
                chunks = [
                    left for chunk in chunks if (left := [rule for rule in chunk if rule in set(rules)])
                ]
            elif len(chunk) > 1:
                half = len(chunk) // 2
                chunks += [chunk[half:], chunk[:half]]
            elif answer is None:
                open_ones.append(chunk[0])
        return self.once_more(rules, open_ones)

    def once_more(self, rules: list[Rule], open_ones: list[Rule]) -> tuple[list[Rule], bool]:
        """Try again, longer, to leave out single rules of which that stayed open; tell whether the rest is needed."""
        self.effort, sure = HARDER, True
        for rule in [one for one in open_ones if one in rules]:
            answer = self.has_plan([one for one in rules if one != rule]) if self.left() > 0 else None
            if answer is False:
                rules = self.at_work([one for one in rules if one != rule])
            sure = sure and answer is not None
        return rules, sure
