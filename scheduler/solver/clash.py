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
ROUNDS_A_TASK, MOST_ROUNDS = 100, 4000
FEW = 20
"""So many things that must be done are checked all at once first."""
HARDER, LAST_S = 5, 0.5
PROOF_DAYS_S, PROOF_S_A_TASK = 0.2, 0.01
"""What proves anything takes less than half of the first (farms of 3 to 15 fields); more where there is more work."""
S_A_TASK = 2e-3
"""What looking for a plan takes at least, most of it in the rule: not begun where less time is left."""
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
        Every refusal was a proof, or a plan was found; False: a search found no plan in the time it had.
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
    rules = finder.start(rules_of(part.problem))
    if rules is None:
        return Clash((), (), proved=finder.proved)
    rules, smallest = finder.shrink(rules)
    found = tuple(part.whole(rule) for rule in rules)
    return Clash(found, tuple(sentence(problem, rule) for rule in found), finder.proved, smallest)


class _Finder:
    """Checks of relaxed problems under one deadline."""

    def __init__(self, problem: Problem, deadline: float) -> None:
        self.problem, self.deadline = problem, deadline
        self.proved, self.by_proof, self.effort = True, True, 1

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

        Only proofs count, so that what is left at the end is proved as a whole, until `by_proof` is taken back.
        """
        problem = all_free(problem)
        tasks = max(rigday_walk.TASKS_LEAST, len(problem.tasks))
        if self.left() < S_A_TASK * tasks:
            return None
        if self._planned(problem, rule_plan(problem)):
            return True
        rounds = self.effort * min(ROUNDS_A_TASK * tasks, MOST_ROUNDS)
        seconds = rounds * tasks / rigday_walk.COUNTED_ROUNDS
        effort = Limits(seconds, 1, deterministic=True, bound=False)
        if self._planned(problem, rigday.search(problem, self.deadline, effort).plan):
            return True
        proof_s = self.effort * max(PROOF_DAYS_S, PROOF_S_A_TASK * tasks)
        if refuted(problem, min(proof_s, max(0.05, self.left() / 2))):
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

    def start(self, rules: list[Rule]) -> list[Rule] | None:
        """Return rules that clash, with few things that must be done where few are found; None where none clash.

        Each of them alone is tried, then the 2, 4, 8 ... with the least time to spare: what small parts refute need not be
        refuted as a whole, which takes long where there is much of it.
        """
        musts = [rule for rule in rules if rule.kind == "must"]
        others = [rule for rule in rules if rule.kind != "must"]
        whole = self.has_plan(rules) if len(musts) <= FEW else None
        if whole:
            return None
        if self.has_plan(others) is False:
            return others
        musts.sort(key=lambda rule: self._spare(rule.index))
        few = [[must] for must in musts]
        few += [musts[: 2**k] for k in range(1, max(1, len(musts) - 1).bit_length())]
        until = time.monotonic() + self.left() / 3
        for some in few:
            late = time.monotonic() > (until if len(some) == 1 else self.deadline - LAST_S)
            if not late and self.has_plan([*some, *others]) is False:
                return [*some, *others]
        if whole is None and len(musts) > FEW:
            whole = self.has_plan(rules)
        if whole is None:
            # Nothing is proved: a search that finds no plan has to do.
            self.by_proof = False
            whole = self.has_plan(rules)
        self.proved = self.proved and whole is not None
        return rules if whole is False else None

    def _spare(self, t: int) -> int:
        """Return the most time that the hours of a task leave beside its work."""
        task = self.problem.tasks[t]
        return max(
            (
                sum(max(0, min(w.end, task.latest_end) - max(w.start, task.release)) for w in mode.windows)
                if mode.windows is not None
                else self.problem.horizon
            )
            - mode.minutes
            for mode in task.modes
        )

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
