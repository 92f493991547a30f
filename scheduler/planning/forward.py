"""Work brought forward into hours that the news has left empty.

Question answered: *who lost their work of today: is there something planned for later that they can do now?* A plan
made after news keeps still what the news does not touch, and would leave people in the yard whose field is not fit, though
another one is. Later work done sooner by them calls nobody off today.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from scheduler.planning.compiled import Compiled
from scheduler.planning.replan import all_in
from scheduler.solver.result import Block, CorePlan

LEAST_GAIN_CENTS = 100.0
LATER = 8
"""Quarter hours after the first free one in which a block may begin: whether the road fits in is left to the evaluation."""
TRIES = 6000
"""Plans judged at most, by the number of tasks."""


def brought_forward(compiled: Compiled, core: CorePlan, change_cost: float) -> CorePlan:
    """Return a plan that breaks no rule and costs no more, with later work done today by those who lost their work of today."""
    price = all_in(compiled, core, change_cost)
    if price is None or not compiled.problem.days:
        return core
    tries = max(20, TRIES // max(1, len(compiled.problem.tasks)))
    day_end = compiled.problem.days[0][1]
    for begin, people in _idle(compiled, core, day_end):
        since: int | None = begin
        while since is not None:
            place, since = since, None
            for block, moved in _moves(compiled, core, place, people, day_end):
                tries -= 1
                found = all_in(compiled, moved, change_cost)
                if found is not None and found <= price - LEAST_GAIN_CENTS:
                    core, price, since = moved, found, block.end
                    break
                if tries <= 0:
                    return core
    return core


def _idle(compiled: Compiled, core: CorePlan, day_end: int) -> list[tuple[int, set[int]]]:
    """Return since when today who has lost a block of the earlier plan and does nothing in its place."""
    index = {name: r for r, name in enumerate(compiled.names)}
    out = []
    for since, people in sorted(compiled.lost, key=lambda one: one[0]):
        crew = {index[name] for name in people if name in index}
        busy = {r for b in core.blocks if b.end > since and b.start < day_end for r in b.resources}
        if since < day_end and crew - busy:
            out.append((since, crew - busy))
    return out


def _moves(
    compiled: Compiled, core: CorePlan, since: int, people: set[int], day_end: int
) -> Iterator[tuple[Block, CorePlan]]:
    """Yield blocks of later days as the people who are free can work them today, and the plan then, the earliest planned first."""
    for block in sorted(core.blocks):
        if block.start < day_end:
            continue
        crew = _crew(compiled, block, people)
        if crew is None:
            continue
        length = block.end - block.start
        for window in compiled.problem.tasks[block.task].modes[block.mode].windows or ():
            first, last = max(window.start, since), min(window.end, day_end) - length
            for start in range(first, min(first + LATER, last) + 1):
                moved = replace(block, start=start, end=start + length, resources=crew)
                rest = [moved if one == block else one for one in core.blocks]
                yield moved, replace(core, blocks=tuple(sorted(rest)))


def _crew(compiled: Compiled, block: Block, free: set[int]) -> tuple[int, ...] | None:
    """Return the machines of a block with people who are free, its own where they are; None where they do not suffice."""
    roles = compiled.modes[block.task][block.mode].roles
    needs = compiled.problem.tasks[block.task].modes[block.mode].needs
    left = set(free)
    crew = []
    for role, need, own in zip(roles, needs, block.resources, strict=True):
        if role not in ("operator", "support"):
            crew.append(own)
            continue
        able = [r for r in need.any_of if r in left]
        if not able:
            return None
        crew.append(own if own in able else able[0])
        left.remove(crew[-1])
    return tuple(crew)
