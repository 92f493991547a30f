"""Replanning without needless change: what of the plan that people know can stand, and what it costs to leave it.

Question answered: *which blocks stand when the news is heard, and what does moving one cost?* A calm problem lets the blocks
of the next days (or all) stand that are still sound. A plan pays for each earlier block that it moves, fading with the days
ahead. `schedule` searches freely and calmly and chooses; `steadier` looks for plans between the two.
"""

from __future__ import annotations

from dataclasses import replace

from scheduler.planning.before import faded
from scheduler.planning.compiled import Compiled
from scheduler.planning.costs import CENTS
from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Pin, Problem
from scheduler.solver.result import Block, CorePlan

CALM_DAYS = 2
SAME_DAY_SHARE = 0.25
"""Another time on the same day with the same people and rig costs a quarter of a full change (assumption)."""


def calm_problem(compiled: Compiled, mended: CorePlan, days: int = CALM_DAYS) -> Problem | None:
    """Return the problem with the sound blocks of the next days standing; None when there are none.

    Parameters
    ----------
    mended : CorePlan
        What `dispatch` makes of the earlier plan: what it leaves where it is, is sound.
    """
    problem, start = compiled.problem, compiled.start
    if start is None or not problem.days:
        return None
    end = problem.days[min(days, len(problem.days)) - 1][1]
    sound = set(mended.blocks)
    pinned = {(pin.task, pin.start, pin.end) for pin in problem.pins}
    standing = [
        Pin(block.task, block.mode, block.start, block.end, block.amount, block.resources)
        for block in start.blocks
        if block in sound and block.start < end and (block.task, block.start, block.end) not in pinned
    ]
    return replace(problem, pins=(*problem.pins, *standing)) if standing else None


def touched(compiled: Compiled, mended: CorePlan) -> set[Block]:
    """Return the blocks of the earlier plan that cannot stand any more, and what follows them in their field."""
    if compiled.start is None:
        return set()
    sound = set(mended.blocks)
    since: dict[str, int] = {}
    for block in compiled.start.blocks:
        if block not in sound:
            field = compiled.jobs[block.task].field.id
            since[field] = min(block.start, since.get(field, block.start))
    return {
        block
        for block in compiled.start.blocks
        if block.start >= since.get(compiled.jobs[block.task].field.id, block.start + 1)
    }


def unrest(compiled: Compiled, core: CorePlan, change_cost: float) -> float:
    """Return the price of moving away from the earlier plan [cents]: per earlier block that does not stand.

    Parameters
    ----------
    change_cost : float
        Price of moving a block of today [money].
    """
    if compiled.start is None:
        return 0.0
    now = {(b.task, b.start, b.end, frozenset(b.resources)) for b in core.blocks}
    today = {(b.task, _day(compiled, b), frozenset(b.resources)) for b in core.blocks}
    price = 0.0
    for block in compiled.start.blocks:
        crew = frozenset(block.resources)
        if (block.task, block.start, block.end, crew) in now:
            continue
        share = SAME_DAY_SHARE if (block.task, _day(compiled, block), crew) in today else 1.0
        price += share * change_cost * CENTS * faded(_day(compiled, block))
    return price


def all_in(compiled: Compiled, core: CorePlan, change_cost: float) -> float | None:
    """Return the value of a plan with unrest in place of the engine's own price of changes; None when unsound."""
    found = evaluate(compiled.problem, core)
    if found.violations:
        return None
    return found.value - found.parts["change"] + unrest(compiled, core, change_cost)


def _day(compiled: Compiled, block: Block) -> int:
    return next(
        (d for d, (a, b) in enumerate(compiled.problem.days) if a <= block.start < b),
        len(compiled.problem.days),
    )
