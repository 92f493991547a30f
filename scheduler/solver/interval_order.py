"""The order of blocks on one unary resource in the CP-SAT model: gaps between neighbours or between all pairs.

Question answered: *which block follows which, and how far apart?* Without gaps a plain no-overlap; gaps between
neighbours and costs of moving as a circuit of successors; gaps between all pairs as one literal per pair.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from scheduler.solver.interval_money import charge
from scheduler.solver.resources import Moves
from scheduler.solver.result import CorePlan

if TYPE_CHECKING:
    from scheduler.solver.interval_model import IntervalModel, Use

MOST_IN_CIRCUIT = 260


class Order:
    """What one unary resource adds to the model."""

    def __init__(self, model: IntervalModel, resource: int, uses: list[Use]) -> None:
        self.model, self.resource, self.uses = model, resource, uses
        self.moves: Moves | None = model.problem.resources[resource].moves
        self.arcs: dict[tuple[int, int], Any] = {}
        self.empty: Any = None

    def build(self) -> None:
        """Add the rules."""
        model, moves = self.model, self.moves
        gaps = self._gaps()
        if moves is None or not (gaps.any() or self._has_ends(moves)):
            model.cp.add_no_overlap([model.interval(u) for u in self.uses])
            return
        if len(self.uses) > MOST_IN_CIRCUIT:
            self._coarse(gaps)
            return
        extra = [int(np.delete(gaps[i], i).min()) if len(self.uses) > 1 else 0 for i in range(len(self.uses))]
        model.cp.add_no_overlap([model.interval(u, e) for u, e in zip(self.uses, extra, strict=True)])
        if moves.all_pairs:
            self._pairs(gaps)
        if not moves.all_pairs or self._has_ends(moves):
            self._circuit(gaps, moves)

    def _has_ends(self, moves: Moves) -> bool:
        return moves.initial is not None or moves.final is not None or moves.cost_per_minute != 0

    def _place(self, use: Use) -> tuple[int, int]:
        mode = self.model.problem.tasks[use.task].modes[use.mode]
        return mode.site, mode.family

    def _gaps(self) -> NDArray[np.int64]:
        n = len(self.uses)
        gaps = np.zeros((n, n), np.int64)
        if self.moves is not None:
            places = [self._place(u) for u in self.uses]
            for i, a in enumerate(places):
                for j, b in enumerate(places):
                    if i != j:
                        gaps[i, j] = self.moves.gap(*a, *b)
        return gaps

    def _coarse(self, gaps: NDArray[np.int64]) -> None:
        """Too many for a circuit: every block keeps the widest gap after it; the bound is no longer valid."""
        model = self.model
        model.coarse = True
        model.cp.add_no_overlap([model.interval(u, int(gaps[i].max())) for i, u in enumerate(self.uses)])
        moves = self.moves
        for u in self.uses:
            site = self._place(u)[0]
            if moves is not None and moves.initial is not None and site >= 0:
                model.when(model.cp.add(model.start[u.task] >= int(moves.initial[site])), u.lit)

    def _cannot_follow(self, i: int, j: int, gap: int) -> bool:
        """Tell whether use j cannot come after use i at all."""
        reach = self.model.reach
        a, b = self.uses[i].task, self.uses[j].task
        return a == b or int(reach.end_least[a]) + gap > int(reach.start_most[b])

    def _pairs(self, gaps: NDArray[np.int64]) -> None:
        """One literal per pair of tasks, shared by all resources: which of the two comes first."""
        for i, u in enumerate(self.uses):
            for j in range(i + 1, len(self.uses)):
                v = self.uses[j]
                if u.task == v.task:
                    continue
                lit = self._comes_first(u, v)
                self._apart(u, v, int(gaps[i, j]), lit, self._cannot_follow(i, j, int(gaps[i, j])))
                self._apart(v, u, int(gaps[j, i]), lit.negated(), self._cannot_follow(j, i, int(gaps[j, i])))

    def _comes_first(self, u: Use, v: Use) -> Any:
        """Return the literal that says that the task of `u` comes before that of `v`."""
        model = self.model
        first = (min(u.task, v.task), max(u.task, v.task))
        if first not in model.before:
            model.before[first] = model.cp.new_bool_var(f"o{first[0]}_{first[1]}")
            model.recipes.append((model.before[first], ("first", *first)))
        lit = model.before[first]
        return lit if u.task < v.task else lit.negated()

    def _apart(self, u: Use, v: Use, gap: int, lit: Any, never: bool) -> None:
        model = self.model
        if never:
            model.when(model.cp.add_bool_or([lit.negated()]), u.lit, v.lit)
        else:
            model.when(model.cp.add(model.start[v.task] >= model.end[u.task] + gap), lit, u.lit, v.lit)

    def _circuit(self, gaps: NDArray[np.int64], moves: Moves) -> None:
        """Successors: node 0 is the beginning and the end."""
        model, cp = self.model, self.model.cp
        arcs: list[tuple[int, int, Any]] = []
        for i, u in enumerate(self.uses):
            site = self._place(u)[0]
            first = self._arc(0, i + 1, arcs)
            ready = int(moves.initial[site]) if moves.initial is not None and site >= 0 else 0
            if ready:
                model.when(cp.add(model.start[u.task] >= ready), first)
            last = self._arc(i + 1, 0, arcs)
            back = int(moves.final[site]) if moves.final is not None and site >= 0 else 0
            model.when(cp.add(model.end[u.task] + back <= moves.final_latest), last)
            charge(model, first, moves.cost_per_minute * ready)
            charge(model, last, moves.cost_per_minute * back)
            if not isinstance(u.lit, int):
                arcs.append((i + 1, i + 1, u.lit.negated()))
            for j, v in enumerate(self.uses):
                if i == j or self._cannot_follow(i, j, int(gaps[i, j])):
                    continue
                lit = self._arc(i + 1, j + 1, arcs)
                if not moves.all_pairs:
                    model.when(cp.add(model.start[v.task] >= model.end[u.task] + int(gaps[i, j])), lit)
                else:
                    model.when(cp.add(model.start[v.task] >= model.end[u.task]), lit)
                    # Two of no length at the same time could be in one order here and in the other by their pair.
                    cp.add_implication(lit, self._comes_first(u, v))
                charge(model, lit, moves.cost_per_minute * int(gaps[i, j]))
        if not any(isinstance(u.lit, int) for u in self.uses):
            self.empty = cp.new_bool_var("")
            arcs.append((0, 0, self.empty))
            # Or blocks of no length could follow each other in a ring of their own, with no first of the day to pay for.
            for u in self.uses:
                cp.add_implication(self.empty, u.lit.negated())
        cp.add_circuit(arcs)

    def _arc(self, i: int, j: int, arcs: list[tuple[int, int, Any]]) -> Any:
        lit = self.model.cp.new_bool_var("")
        self.arcs[i, j] = lit
        arcs.append((i, j, lit))
        return lit

    def ranks(self, value: Any) -> dict[int, int]:
        """Return the position of each task in a solution, where a circuit says it."""
        if not self.arcs:
            return {}
        after = {i: j for (i, j), lit in self.arcs.items() if value(lit)}
        out: dict[int, int] = {}
        at = after.get(0, 0)
        while at and len(out) <= len(self.uses):
            out[self.uses[at - 1].task] = len(out)
            at = after.get(at, 0)
        return out

    def hints(self, plan: CorePlan) -> list[tuple[Any, bool]]:
        """Return the value of every arc in a plan."""
        if not self.arcs:
            return []
        node = {(u.task, u.mode): i + 1 for i, u in enumerate(self.uses)}
        row = [node[b.task, b.mode] for b in plan.blocks if self.resource in b.resources]
        path = [0, *row, 0]
        used = set(pairwise(path)) if row else set()
        hints = [(lit, arc in used) for arc, lit in self.arcs.items()]
        if self.empty is not None:
            hints.append((self.empty, not row))
        return hints
