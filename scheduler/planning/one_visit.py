"""Work in a field that goes on with the same people and machines is one block.

The engine counts what is done in a block from the block's end, so it may part a field into two blocks one behind the other:
the first then counts earlier, though the rig drives on as before, and a second start is paid for that nobody makes. People
read one block, which ends no later.
"""

from __future__ import annotations

from dataclasses import replace

from scheduler.planning.compiled import Compiled
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


def running_on(compiled: Compiled, core: CorePlan) -> CorePlan:
    """Return a plan in which work under way and what goes on behind it are one block, for people to read.

    The engine holds what is under way where it is, up to the end that people know; what is left by then comes behind it.
    """
    pins = zip(compiled.problem.pins, compiled.pin_ids, strict=True)
    held = {(pin.task, pin.start, pin.end) for pin, name in pins if not name}
    blocks: list[Block] = []
    for block in sorted(core.blocks):
        first = next((one for one in blocks if _goes_on(one, block)), None)
        if first is None or (first.task, first.start, first.end) not in held:
            blocks.append(block)
        else:
            both = replace(first, end=block.end, amount=first.amount + block.amount)
            blocks[blocks.index(first)] = both
            held.add((both.task, both.start, both.end))
    return replace(core, blocks=tuple(sorted(blocks)))


def _goes_on(first: Block, second: Block) -> bool:
    same = (first.task, first.mode, first.end) == (second.task, second.mode, second.start)
    return same and frozenset(first.resources) == frozenset(second.resources)


def _joined(problem: Problem, core: CorePlan) -> list[CorePlan]:
    """Return the plans with one pair of blocks made one."""
    begins: dict[tuple[int, int], list[Block]] = {(b.task, b.start): [] for b in core.blocks}
    for block in core.blocks:
        begins[block.task, block.start].append(block)
    out = []
    for first in core.blocks:
        behind = begins.get((first.task, first.end), [])
        second = next((one for one in behind if one is not first and _goes_on(first, one)), None)
        if second is not None:
            rest = tuple(b for b in core.blocks if b not in (first, second))
            out.append(replace(core, blocks=tuple(sorted((*rest, _one(problem, first, second))))))
    return out


def _one(problem: Problem, first: Block, second: Block) -> Block:
    task, amount = problem.tasks[first.task], first.amount + second.amount
    length = task.modes[first.mode].minutes_for(amount, task.size)
    return replace(first, amount=amount, end=min(second.end, first.start + length))


def _sound(problem: Problem, core: CorePlan) -> bool:
    return not evaluate(problem, core).violations
