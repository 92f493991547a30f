"""Who drives and who brings the tender: as people know it, where nothing is gained by changing places.

Two people at the same work cost the search the same either way round, and unrest counts people and not their places; so a
new plan would have them change places for nothing. Here they get the places back that they were told.
"""

from __future__ import annotations

from dataclasses import replace

from scheduler.planning.compiled import Compiled
from scheduler.solver.evaluate import evaluate
from scheduler.solver.result import Block, CorePlan

ENOUGH_CENTS = 1.0
"""More than this is a gain."""
MOST_ALONE = 40
"""So many are tried one by one where all together break a rule or cost something."""


def known_places(compiled: Compiled, core: CorePlan) -> CorePlan:
    """Return a plan in which people stand where they were told to, as far as that costs nothing and breaks no rule."""
    back = _told_otherwise(compiled, core)
    if not back:
        return core
    value = evaluate(compiled.problem, core).value

    def tried(plan: CorePlan, some: dict[Block, Block]) -> CorePlan:
        blocks = tuple(sorted(some.get(block, block) for block in plan.blocks))
        found = replace(plan, blocks=blocks)
        judged = evaluate(compiled.problem, found)
        return plan if judged.violations or judged.value > value + ENOUGH_CENTS else found

    whole = tried(core, back)
    if whole is not core:
        return whole
    for block, told in list(back.items())[:MOST_ALONE]:
        core = tried(core, {block: told})
    return core


def _told_otherwise(compiled: Compiled, core: CorePlan) -> dict[Block, Block]:
    """Return the blocks whose people and machines are as told but for their places -> the block as told."""
    if compiled.start is None:
        return {}
    told: dict[tuple[int, int, int, frozenset[int]], list[Block]] = {}
    for block in compiled.start.blocks:
        told.setdefault(_work(compiled, block), []).append(block)
    out = {}
    for block in core.blocks:
        before = told.get(_work(compiled, block), [])
        if not before or any(one.resources == block.resources for one in before):
            continue
        nearest = min(before, key=lambda one, block=block: abs(one.start - block.start))  # type: ignore[misc]
        out[block] = replace(block, resources=nearest.resources)
    return out


def _work(compiled: Compiled, block: Block) -> tuple[int, int, int, frozenset[int]]:
    day = next((d for d, (a, b) in enumerate(compiled.problem.days) if a <= block.start < b), -1)
    return block.task, block.mode, day, frozenset(block.resources)
