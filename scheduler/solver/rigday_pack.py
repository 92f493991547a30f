"""A plan into the flat arrays of the search, and back.

Question answered: *which arrays stand for this plan, and which plan do these arrays stand for?* `Work`
holds the two state arrays for Python; the compiled functions take the arrays themselves.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from scheduler.solver import rigday_layout as at
from scheduler.solver.problem import Problem
from scheduler.solver.resources import FAR
from scheduler.solver.result import Block, CorePlan, Later
from scheduler.solver.rigday_arrays import Farm
from scheduler.solver.rigday_layout import Floats, Ints
from scheduler.solver.rigday_state import enter_first, new_block


@dataclass(frozen=True)
class Work:
    """The state of one search: whole numbers, floats (value now, best value, share of whole insertions, stock cells, sort keys), best rows."""

    farm: Farm
    ints: Ints
    floats: Floats
    best: Ints
    best_count: Ints

    @property
    def arrays(self) -> tuple[Ints, Floats, Ints, Floats]:
        """The four arrays that compiled functions take."""
        return self.farm.ints, self.farm.floats, self.ints, self.floats


def empty_work(farm: Farm, problem: Problem, seed: int) -> Work:
    """Return a state with nothing placed: everything undone is already in its value."""
    fi, ff = farm.ints, farm.floats
    tasks, resources, days = len(problem.tasks), max(1, len(problem.resources)), max(1, len(problem.days))
    most = 4 * tasks + 64
    sizes = fi[fi[at.T_SIZE] :][:tasks]
    bucket_left = np.zeros((max(1, len(problem.buckets)), resources), np.int64)
    for b, bucket in enumerate(problem.buckets):
        for r, minutes in bucket.capacity.items():
            bucket_left[b, r] = minutes
    parts = {
        "left": sizes.copy(),
        "first": np.full(tasks, FAR),
        "last": np.full(tasks, -FAR),
        "count": np.zeros(tasks),
        "own": np.zeros(tasks * at.MOST_BLOCKS),
        "b_res": np.full(most * farm.needs, -1),
        "stack": np.arange(most - 1, -1, -1),
        "rows": np.zeros(resources * days * at.DAY_LENGTH),
        "row_count": np.zeros(resources * days),
        "week_left": np.array(farm.week_most),
        "bucket_left": bucket_left,
        "kept": np.zeros(tasks),
        "log": np.zeros(2 * at.LOG_LENGTH),
        "pick": np.zeros(8),
        "crew": np.zeros(2 * farm.needs),
        "marks": np.zeros(max(1, tasks)),
        "todo": np.zeros(at.MOST_TASKS),
        "pool": np.zeros(max(1, tasks)),
        "trail": np.zeros(at.TRAIL_LENGTH),
        "widest": np.full(resources * days, -1),
        "crew_end": np.zeros(farm.needs),
    }
    head = np.zeros(at.STATE_HEAD, np.int64)
    where = at.STATE_HEAD
    pieces = [head]
    for k, name in enumerate(at.STATE_INTS):
        piece = np.asarray(parts.get(name, np.zeros(most))).astype(np.int64).ravel()
        head[len(at.STATE_COUNTS) + k] = where
        where += piece.size
        pieces.append(piece)
    cells = sum(len(s.deliveries) + 1 for s in problem.stocks) + 1
    head[at.N_FREE], head[at.MOST], head[at.CELL_USED], head[at.KEYS] = (
        most,
        most,
        at.FLOATS_HEAD,
        at.FLOATS_HEAD + cells,
    )
    head[at.RNG] = (seed * 2654435761 + 88172645463325252) % 2**62 + 1
    ints = np.concatenate(pieces)
    known = np.diff(fi[fi[at.P_PTR] :][: tasks + 1]) > 0
    undone = float(ff[fi[at.T_OWN] :][:tasks].sum()) + float(ff[fi[at.T_PRICE] :][:tasks][known].sum())
    floats = np.zeros(at.FLOATS_HEAD + cells + at.MOST_TASKS)
    floats[:3] = undone, np.inf, 1.0
    best = np.zeros((most, 6 + farm.needs), np.int64)
    return Work(farm, ints, floats, best, np.zeros(1, np.int64))


def too_crowded(plan: CorePlan, problem: Problem) -> bool:
    """Tell whether a plan has more blocks per task or per resource and day than the arrays hold."""
    starts = [a for a, _ in problem.days]
    tasks = Counter([b.task for b in plan.blocks] + [x.task for x in plan.later])
    rows = Counter(
        (r, int(np.searchsorted(starts, b.start, side="right"))) for b in plan.blocks for r in b.resources
    )
    most = 4 * len(problem.tasks) + 64
    return (
        max(tasks.values(), default=0) >= at.MOST_BLOCKS
        or max(rows.values(), default=0) >= at.DAY_LENGTH
        or len(plan.blocks) + len(plan.later) >= most
    )


def load_plan(work: Work, plan: CorePlan, problem: Problem) -> None:
    """Put a plan into an empty state; its pins are marked as standing."""
    pins = {(p.task, p.mode, p.start, p.amount) for p in problem.pins}
    starts = [a for a, _ in problem.days]
    for block in sorted(plan.blocks):
        day = int(np.searchsorted(starts, block.start, side="right")) - 1
        pin = (block.task, block.mode, block.start, block.amount) in pins
        head = (block.task, block.mode, day, block.start, block.end, block.amount)
        _load(work, head, block.resources, pin)
    for item in plan.later:
        bucket = problem.buckets[item.bucket]
        head = (item.task, item.mode, work.farm.days + item.bucket, bucket.start, bucket.end, item.amount)
        _load(work, head, _bucket_crew(problem, work, item), False)


def _bucket_crew(problem: Problem, work: Work, item: Later) -> tuple[int, ...]:
    base = int(work.ints[at.BUCKET_LEFT]) + item.bucket * len(problem.resources)
    crew: list[int] = []
    for need in problem.tasks[item.task].modes[item.mode].needs:
        options = [r for r in need.any_of if r not in crew]
        crew.append(max(options, key=lambda r: (int(work.ints[base + r]), -r)))
    return tuple(crew)


def _load(work: Work, head: tuple[int, ...], crew: tuple[int, ...], pin: bool) -> None:
    si = work.ints
    t, m, day, start, end, amount = head
    b = new_block(si, work.floats)
    mode = int(work.farm.m_ptr[t]) + m
    names = (at.B_TASK, at.B_MODE, at.B_DAY, at.B_START, at.B_END, at.B_AMOUNT, at.B_PIN)
    for name, value in zip(names, (t, mode, day, start, end, amount, int(pin)), strict=True):
        si[si[name] + b] = value
    where = int(si[at.B_RES]) + b * work.farm.needs
    si[where : where + work.farm.needs] = -1
    si[where : where + len(crew)] = crew
    enter_first(*work.arrays, b)


def read_plan(work: Work) -> CorePlan:
    """Return the best plan noted so far."""
    farm = work.farm
    placed: list[Block] = []
    later: dict[tuple[int, int, int], int] = {}
    for row in work.best[: int(work.best_count[0])].tolist():
        t, m, day, start, end, amount = row[:6]
        mode = m - int(farm.m_ptr[t])
        if day < farm.days:
            needs = int(farm.n_ptr[m + 1] - farm.n_ptr[m])
            placed.append(Block(start, end, t, mode, amount, tuple(row[6 : 6 + needs])))
        else:
            key = (t, mode, day - farm.days)
            later[key] = later.get(key, 0) + amount
    return CorePlan(tuple(sorted(placed)), tuple(Later(t, m, b, a) for (t, m, b), a in sorted(later.items())))
