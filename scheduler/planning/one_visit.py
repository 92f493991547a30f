"""Work in a field that goes on with the same people and machines is one block.

The engine counts what is done in a block from the block's end, so it may part a field into two blocks one behind the other:
the first then counts earlier, though the rig drives on as before, and a second start is paid for that nobody makes. People
read one block, which ends no later.
"""

from __future__ import annotations

from dataclasses import replace

from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Problem
from scheduler.solver.result import Block, CorePlan


def in_one_visit(problem: Problem, core: CorePlan) -> CorePlan:
    """Return a plan in which blocks that follow each other without a break are one, wherever that breaks no rule."""
    while True:
        joined = next((found for found in _joined(problem, core) if _sound(problem, found)), None)
        if joined is None:
            return core
        core = joined


def _joined(problem: Problem, core: CorePlan) -> list[CorePlan]:
    """Return the plans with one pair of blocks made one."""
    begins = {(b.task, b.mode, frozenset(b.resources), b.start): b for b in core.blocks}
    out = []
    for first in core.blocks:
        second = begins.get((first.task, first.mode, frozenset(first.resources), first.end))
        if second is not None and second is not first:
            rest = tuple(b for b in core.blocks if b not in (first, second))
            out.append(replace(core, blocks=tuple(sorted((*rest, _one(problem, first, second))))))
    return out


def _one(problem: Problem, first: Block, second: Block) -> Block:
    task, amount = problem.tasks[first.task], first.amount + second.amount
    length = task.modes[first.mode].minutes_for(amount, task.size)
    return replace(first, amount=amount, end=min(second.end, first.start + length))


def _sound(problem: Problem, core: CorePlan) -> bool:
    return not evaluate(problem, core).violations
