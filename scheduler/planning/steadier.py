"""Plans between "all that is sound stands" and "everything is free": a job is moved only where that saves a great deal.

Question answered: *which few jobs, moved, bring most of what a free plan would save?* The search itself says: everything is
free, and each job that leaves its day or its people costs what it has to save, or a share of that.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

from scheduler.planning.compiled import Compiled
from scheduler.planning.costs import CENTS
from scheduler.planning.quarters import MINUTES
from scheduler.planning.replan import all_in
from scheduler.solver.problem import Before, Problem
from scheduler.solver.result import Block, CorePlan, Limits
from scheduler.solver.solve import solve

AN_HOUR = 60 // MINUTES
PRICES = ((0.4, 1.0), (0.7, 1.0), (1.0, 1.5))
"""Shares of a moved job's price, search by search: cheap moves first, then dear ones; two at a time."""
PRICES_ALONE = ((0.5,), (1.0,), (1.0,))


def moved(compiled: Compiled, core: CorePlan, but: Collection[Block] = ()) -> int:
    """Return how many blocks that people know are on another day or with somebody else, those `but` left aside."""
    if compiled.start is None:
        return 0
    kept = {_where(compiled.problem, block) for block in core.blocks}
    return sum(
        block not in but and _where(compiled.problem, block) not in kept for block in compiled.start.blocks
    )


def moved_and_shifted(compiled: Compiled, core: CorePlan, but: Collection[Block] = ()) -> tuple[int, int]:
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
    return moved(compiled, core, but), shifted


def plans_between(
    compiled: Compiled, known: Sequence[CorePlan], limits: Limits, change_cost: float, move_cost: float,
    but: Collection[Block] = (),
) -> list[CorePlan]:  # fmt: skip
    """Return plans in which few jobs leave their place.

    Each search begins from the plan that is best at its own price of a moved job, of those known and those found
    before: from the free plan while moves are cheap, from calmer ones as they get dearer.

    Parameters
    ----------
    known : sequence of CorePlan
        The calmest and the free one among them; those that break a rule are left aside.
    limits : Limits
        Effort of all of them together; with two workers two searches run at once.
    change_cost : float
        Price of moving a block of today [money].
    move_cost : float
        What a job that leaves its day or its people has to save [money].
    but : collection of Block
        What the news touches: it costs no more than a change does.
    """
    rounds = PRICES if side_by_side(limits) else PRICES_ALONE
    pool: list[tuple[float, int, CorePlan]] = []

    def take(plans: Sequence[CorePlan]) -> None:
        for core in plans:
            value = all_in(compiled, core, change_cost)
            if value is not None:
                pool.append((value, moved(compiled, core, but), core))

    take(known)
    if not pool:
        return []
    found: list[CorePlan] = []
    for k, row in enumerate(rounds):
        searches = []
        for j, share in enumerate(row):
            price = max(1, round(share * move_cost * CENTS))
            start = min(pool, key=lambda plan, price=price: plan[0] + price * plan[1])[2]  # type: ignore[misc]
            part = replace(limits, seconds=limits.seconds / len(rounds), seed=limits.seed + 97 * j + k)
            searches.append((_dear(compiled, price, but), part, start))
        new = at_once(searches)
        take(new)
        found += new
    return found


def at_once(searches: Sequence[tuple[Problem, Limits, CorePlan | None]]) -> list[CorePlan]:
    """Return what several searches find, each with one worker; together where the limits have workers to share."""
    if len(searches) < 2 or not side_by_side(searches[0][1]):
        return [solve(problem, limits, start=start).plan for problem, limits, start in searches]
    with ThreadPoolExecutor(len(searches)) as pool:
        waiting = [
            pool.submit(solve, problem, replace(limits, workers=1), None, start)
            for problem, limits, start in searches
        ]
        return [search.result().plan for search in waiting]


def side_by_side(limits: Limits) -> bool:
    """Tell whether two searches may run at once: not where the same input must give the same plan."""
    return limits.workers > 1 and not limits.deterministic


def _dear(compiled: Compiled, price: int, but: Collection[Block]) -> Problem:
    """Return the problem in which a job that leaves its day or its people costs at least `price`, those `but` left aside."""
    known = compiled.problem.before
    free = {block.task for block in but}
    prices = {
        pin.task: max(0 if pin.task in free else price, known.price.get(pin.task, 0)) for pin in known.blocks
    }
    return replace(compiled.problem, before=Before(known.blocks, prices))


def _where(problem: Problem, block: Block) -> tuple[int, int, frozenset[int]]:
    day = next((d for d, (a, b) in enumerate(problem.days) if a <= block.start < b), -1)
    return block.task, day, frozenset(block.resources)
