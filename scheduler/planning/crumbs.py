"""Rests of a field for which nobody would drive out again: they are done with another block of the same work.

The engine counts tenths of a hectare and quarter hours, and of a task in pieces one may be as small as it likes: it may leave a
tenth of a hectare to another day. Who is in the field does not.
"""

from __future__ import annotations

from dataclasses import replace

from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Problem
from scheduler.solver.result import Block, CorePlan, Later

CRUMB = 4
"""So many tenths of a hectare (an acre) nobody comes back for (common practice, no source)."""
WHOLE_LEAST = 5 * CRUMB
"""Smaller fields are a trip in themselves."""
ENOUGH_CENTS = 100.0
"""What a plan without them may cost more."""


def without_crumbs(problem: Problem, core: CorePlan) -> CorePlan:
    """Return a plan in which such rests are part of another block, wherever that breaks no rule and costs next to nothing."""
    pinned = {(pin.task, pin.start, pin.end) for pin in problem.pins}
    pieces: tuple[Block | Later, ...] = (*core.blocks, *core.later)
    crumbs = [p for p in pieces if p.amount <= CRUMB and problem.tasks[p.task].size >= WHOLE_LEAST]
    for crumb in crumbs:
        if isinstance(crumb, Block) and (crumb.task, crumb.start, crumb.end) in pinned:
            continue
        most = evaluate(problem, core).value + ENOUGH_CENTS
        hosts = [
            b
            for b in core.blocks
            if b.task == crumb.task and b != crumb and (b.task, b.start, b.end) not in pinned
        ]
        for host in sorted(hosts, key=lambda b: -b.amount):
            joined = _joined(problem, core, crumb, host)
            found = evaluate(problem, joined)
            if not found.violations and found.value <= most:
                core = joined
                break
    return core


def _joined(problem: Problem, core: CorePlan, crumb: Block | Later, host: Block) -> CorePlan:
    task, amount = problem.tasks[host.task], host.amount + crumb.amount
    more = replace(host, amount=amount, end=host.start + task.modes[host.mode].minutes_for(amount, task.size))
    blocks = tuple(sorted([b for b in core.blocks if b not in (host, crumb)] + [more]))
    return replace(core, blocks=blocks, later=tuple(item for item in core.later if item is not crumb))
