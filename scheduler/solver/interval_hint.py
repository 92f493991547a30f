"""A plan as a complete hint: every variable of the model gets its value, derived ones too.

A hint that leaves variables open is repaired badly or dropped by the solver; this one is feasible as it stands.
"""

from __future__ import annotations

import math
from typing import Any

from scheduler.solver.interval_model import IntervalModel
from scheduler.solver.result import Block, CorePlan


def give_hint(model: IntervalModel, plan: CorePlan) -> None:
    """Replace the hints of a model by the values that `plan` gives every variable."""
    cp = model.cp
    cp.clear_hints()
    blocks = {b.task: b for b in plan.blocks}
    given: list[tuple[Any, int]] = []
    for t in range(len(model.problem.tasks)):
        given += _task(model, t, blocks.get(t))
    for var, recipe in model.recipes:
        given.append((var, _derived(model, recipe, blocks)))
    for order in model.orders:
        given += [(lit, int(on)) for lit, on in order.hints(plan)]
    for var, value in _once(given):
        cp.add_hint(var, value)


def _once(given: list[tuple[Any, int]]) -> list[tuple[Any, int]]:
    """Keep one value per variable; constants need none."""
    seen: dict[int, tuple[Any, int]] = {}
    for var, value in given:
        if not isinstance(var, int) and var.index >= 0:
            seen.setdefault(var.index, (var, value))
    return list(seen.values())


def _task(model: IntervalModel, t: int, block: Block | None) -> list[tuple[Any, int]]:
    task = model.problem.tasks[t]
    start = block.start if block else max(0, int(model.reach.start_least[t]))
    out = [(model.start[t], start), (model.present[t], int(block is not None))]
    if t not in model.derived:
        end = block.end if block else max(0, int(model.reach.end_least[t]))
        out.append((model.end[t], end))
    for m, mode in enumerate(task.modes):
        chosen = block is not None and block.mode == m
        out.append((model.mode[t, m], int(chosen)))
        for i, need in enumerate(mode.needs):
            for r in need.any_of:
                if (t, m, i, r) in model.crew:
                    mine = chosen and block is not None and block.resources[i] == r
                    out.append((model.crew[t, m, i, r], int(mine)))
    return out


def _derived(model: IntervalModel, recipe: tuple[Any, ...], blocks: dict[int, Block]) -> int:
    """Return the value of a derived variable from its recipe."""
    kind = recipe[0]
    if kind == "last":
        return max((b.end for b in blocks.values()), default=0)
    if kind == "first":
        a, b = blocks.get(recipe[1]), blocks.get(recipe[2])
        return int(a is not None and b is not None and (a.start, a.end) <= (b.start, b.end))
    if kind == "used":
        _, _, r, a, b = recipe
        return int(any(r in x.resources and a <= x.start and x.end <= b for x in blocks.values()))
    block = blocks.get(recipe[1])
    if kind == "size":
        return (block.end - block.start if block else 0) + recipe[2]
    if block is None:
        return 0
    if kind == "curve":
        _, _, curve, is_end = recipe
        return math.ceil(curve.at(block.end if is_end else block.start) * model.scale - 1e-6)
    if kind == "window":
        _, t, mode, window = recipe
        here = model.problem.tasks[t].modes[block.mode] is mode
        return int(here and window.start <= block.start and block.end <= window.end)
    if kind == "piece":
        _, _, _, first, last, length = recipe
        return int(first <= block.start <= last and block.end == block.start + length)
    if kind == "place":
        _, _, m, r, a, b = recipe
        return int(block.mode == m and r in block.resources and a <= block.start and block.end <= b)
    if kind == "soon":
        return int(block.mode == recipe[2] and block.start < recipe[3])
    if kind == "kept":
        _, _, m, pin = recipe
        same = not pin.resources or set(pin.resources) == set(block.resources)
        return int(block.mode == m and block.start == pin.start and same)
    return 0
