"""The relaxation behind the bound: work spread over stretches of days, as a mixed-integer program in plain lists.

Question answered: *how little can any plan cost?* Every true plan gives a solution of this model that costs no
more, because each rule here is weaker than the true one:

- work of a block is counted in the stretch of the day in which it is done; a unit done in a stretch ends no
  earlier than the stretch begins (curves are convex);
- a resource gives at most its open minutes in each stretch, and per day work, set-ups, the shortest road into each
  field and the shortest way out of and back to the yard;
- people are pooled by who may do what; wages count work and set-ups only, overtime above the normal day;
- what must wait is never further on than what it waits for, at the pace of both (`bound_waits`);
- stocks hold at every delivery;
- what is left to the weeks behind the horizon keeps dates, stocks, waits, and the minutes of whom it cannot do without.
"""

from __future__ import annotations

from scheduler.solver.bound_people import People
from scheduler.solver.bound_staff import unions_of
from scheduler.solver.problem import Problem
from scheduler.solver.resources import FAR
from scheduler.solver.rigday_calendar import Calendar


class RelaxedFarm(People):
    """Builds the program; the parameters are those of `Pieces`."""

    def __init__(
        self,
        problem: Problem,
        calendar: Calendar,
        stretch: int,
        rough: bool = False,
        carriers: list[list[int]] | None = None,
        lengths: int = 3,
    ) -> None:
        super().__init__(problem, calendar, stretch, rough, carriers, lengths)
        self._machines()
        self._people()
        self._lags()
        self._stocks()
        self._later()

    def _stocks(self) -> None:
        for s, stock in enumerate(self.problem.stocks):
            have = float(stock.initial)
            for at, amount in [*sorted(stock.deliveries), (FAR, 0)]:
                terms = []
                for piece in self.pieces:
                    task = self.problem.tasks[piece.task]
                    taken = task.modes[piece.mode].consumes.get(s, 0)
                    if taken > 0 and piece.end <= at:
                        terms.append((piece.column, taken / task.size))
                self.rows.row(terms + self._taken_later(s, at), high=have)
                have += amount

    def _taken_later(self, s: int, at: int) -> list[tuple[int, float]]:
        """Return what the weekly buckets that begin before a time take of a stock: all of it at their start."""
        terms = []
        for t, task in enumerate(self.problem.tasks):
            taken = min((m.consumes.get(s, 0) for m in task.modes), default=0)
            if taken > 0:
                begun = (k for k, _, _ in self.after_days[t] if self.problem.buckets[k].start < at)
                terms += [(self.after_days[t][k][1], taken / task.size) for k in begun]
        return terms

    def _later(self) -> None:
        """Weekly buckets: a set of resources gives no more minutes than it has to what must take some of them."""
        tasks = [t for t in range(len(self.problem.tasks)) if self.after_days[t]]
        asked = {members: self._least_asked(tasks, frozenset(members)) for members in self._sets(tasks)}
        for b, bucket in enumerate(self.problem.buckets):
            for members, least in asked.items():
                terms = [(self.after_days[t][b][1], minutes) for t, minutes in least]
                self.rows.row(terms, high=float(sum(bucket.capacity.get(r, 0) for r in members)))

    def _sets(self, tasks: list[int]) -> set[tuple[int, ...]]:
        """Return the groups that later work asks for, groups that share somebody together, and what stands in for another."""
        groups: set[tuple[int, ...]] = set()
        instead: set[tuple[int, ...]] = set()
        for t in tasks:
            ways = [{tuple(sorted(n.any_of)) for n in mode.needs} for mode in self.problem.tasks[t].modes]
            asked = {group for way in ways for group in way}
            groups |= asked
            differ = {group for group in asked if any(group not in way for way in ways)}
            instead.add(tuple(sorted({r for group in differ for r in group})))
        return {s for s in unions_of(groups) | instead if s}

    def _least_asked(self, tasks: list[int], members: frozenset[int]) -> list[tuple[int, float]]:
        """Return the tasks of which every way takes minutes of these resources, with the least of them a unit."""
        out = []
        for t in tasks:
            task = self.problem.tasks[t]
            least = min(
                mode.minutes * sum(n.amount for n in mode.needs if members.issuperset(n.any_of))
                for mode in task.modes
            )
            if least > 0:
                out.append((t, least / task.size))
        return out
