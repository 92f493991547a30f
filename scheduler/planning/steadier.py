"""Plans between "all that is sound stands" and "everything is free": a job is moved only where that saves a great deal.

Question answered: *which few jobs, moved, bring most of what a free plan would save?* The search itself says: it begins from
the calmest plan, everything is free, and each job that leaves its day or its people costs a share of what keeping still
may cost at all.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

from scheduler.planning.compiled import Compiled
from scheduler.planning.quarters import MINUTES
from scheduler.solver.problem import Before, Problem
from scheduler.solver.result import Block, CorePlan, Limits
from scheduler.solver.solve import solve

AN_HOUR = 60 // MINUTES
MOVES = (2, 6, 18)
"""So many moved jobs together cost what keeping still may cost: few and dear first, then more and cheaper."""


def moved(compiled: Compiled, core: CorePlan) -> int:
    """Return how many blocks that people know are on another day or with somebody else."""
    if compiled.start is None:
        return 0
    kept = {_where(compiled.problem, block) for block in core.blocks}
    return sum(_where(compiled.problem, block) not in kept for block in compiled.start.blocks)


def moved_and_shifted(compiled: Compiled, core: CorePlan) -> tuple[int, int]:
    """Return how many blocks are on another day or with somebody else, and how many begin over an hour earlier or later."""
    if compiled.start is None:
        return 0, 0
    begun: dict[tuple[int, int, frozenset[int]], list[int]] = defaultdict(list)
    for block in core.blocks:
        begun[_where(compiled.problem, block)].append(block.start)
    shifted = 0
    for block in compiled.start.blocks:
        starts = begun.get(_where(compiled.problem, block), [])
        shifted += bool(starts) and min(abs(block.start - start) for start in starts) > AN_HOUR
    return moved(compiled, core), shifted


def plans_between(compiled: Compiled, calm: CorePlan, allowance: float, limits: Limits) -> list[CorePlan]:
    """Return plans in which few jobs leave their place.

    Parameters
    ----------
    calm : CorePlan
        The calmest plan, which these begin from.
    allowance : float
        What keeping still may cost at all [cents].
    limits : Limits
        Effort of all of them together.
    """
    part = replace(limits, seconds=limits.seconds / len(MOVES))
    known = compiled.problem.before
    found = []
    for moves in MOVES:
        price = max(1, round(allowance / moves))
        tasks = {pin.task for pin in known.blocks}
        dear = replace(
            compiled.problem,
            before=Before(known.blocks, {t: max(price, known.price.get(t, 0)) for t in tasks}),
        )
        found.append(solve(dear, part, start=calm).plan)
    return found


def _where(problem: Problem, block: Block) -> tuple[int, int, frozenset[int]]:
    day = next((d for d, (a, b) in enumerate(problem.days) if a <= block.start < b), -1)
    return block.task, day, frozenset(block.resources)
