"""The relaxation behind the bound: work spread over stretches of days, as a mixed-integer program in plain lists.

Question answered: *how little can any plan cost?* Every true plan gives a solution of this model that costs no
more, because each rule here is weaker than the true one:

- work of a block is counted in the stretch of the day in which it is done; a unit done in a stretch ends no
  earlier than the stretch begins (curves are convex);
- a resource gives at most its open minutes in each stretch, and per day work, set-ups, the shortest road into each
  field and the shortest way out of and back to the yard;
- people are pooled by who may do what; wages count work and set-ups only, overtime above the normal day;
- what must wait is never further on than what it waits for, at the pace of both (`bound_waits`);
- stocks hold at every delivery.
"""

from __future__ import annotations

from collections import defaultdict

from scheduler.solver.bound_people import People
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
                self.rows.row(terms, high=have)
                have += amount

    def _later(self) -> None:
        """Weekly buckets: minutes of each resource that all modes of a task need without choice."""
        for b, bucket in enumerate(self.problem.buckets):
            by_resource: dict[int, list[tuple[int, float]]] = defaultdict(list)
            for t, task in enumerate(self.problem.tasks):
                if not self.after_days[t]:
                    continue
                sure = [{n.any_of[0] for n in m.needs if len(n.any_of) == 1} for m in task.modes]
                minutes = min(m.minutes for m in task.modes) / task.size
                for r in set.intersection(*sure) if sure else set():
                    by_resource[r].append((self.after_days[t][b][1], minutes))
            for r, terms in by_resource.items():
                self.rows.row(terms, high=float(bucket.capacity.get(r, 0)))
