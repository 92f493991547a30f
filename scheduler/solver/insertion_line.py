"""The fast core of the search on orders for one machine whose tasks only cost what they are late.

Question answered: *which order of a single machine is cheapest, where nothing is to be watched but gaps, release
times and one due time per task?* No date can then be missed and no closure be met, so a move costs a fifth of what
it costs in `insertion_moves`; the annealing is the same.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numba import njit

from scheduler.solver.insertion_moves import CASE, HEAT_STEP, Floats, Ints, draw, stretch
from scheduler.solver.pointers import pointer
from scheduler.solver.problem import Problem
from scheduler.solver.resources import FAR


@dataclass
class Line:
    """One machine, in minutes: gap (tasks + 1, tasks), the last row for the first task of all; what each task is.

    A row of `task` (tasks, 3) holds release, length and due time, side by side because they are read together; slope is
    the cost of a minute late.
    """

    gap: Ints
    task: Ints
    slope: Floats


def line_of(problem: Problem, machine: int, gap: Ints, first: Ints, minutes: Ints) -> Line | None:
    """Return the arrays of a problem on a single machine, or None where more has to be watched than due times."""
    tasks, res = problem.tasks, problem.resources[machine]
    moves = res.moves
    if res.open is not None or problem.makespan_weight or len(tasks) < 2:
        return None
    if moves is not None and (moves.cost_per_minute or moves.final is not None or moves.final_latest < FAR):
        return None
    curves = [task.end_curve for task in tasks]
    if any(c is not None and (len(c.points) > 1 or c.points[0][1] or c.slope_before) for c in curves):
        return None
    release = np.array([t.release for t in tasks], np.int64)
    over = int(max(release.max(), first.max()) + minutes.sum() + gap.max(axis=0).sum())
    if over > problem.horizon or any(min(t.latest_start, t.latest_end) < over for t in tasks):
        return None
    if any(mode.cost for task in tasks for mode in task.modes):
        return None
    due = np.array([c.points[0][0] if c is not None else 0 for c in curves], np.int64)
    slope = np.array([c.slope_after if c is not None else 0.0 for c in curves])
    return Line(np.vstack([gap, first]), np.stack([release, minutes, due], axis=1), slope)


@njit(**CASE)
def _run_on(
    n: int, gap: Ints, task: Ints, slope: Floats, order: Ints, trial: Ints, lo: int, hi: int, limit: float, ends: Ints,
    paid: Floats, new_ends: Ints, new_paid: Floats,
) -> tuple[float, int]:  # fmt: skip
    """Price an order whose stretch lo..hi is `trial`: cost, and from which place on nothing changes."""
    at = ends[lo - 1] if lo > 0 else 0
    before = order[lo - 1] if lo > 0 else n
    total = paid[lo - 1] if lo > 0 else 0.0
    for p in range(lo, n):
        t = trial[p - lo] if p <= hi else order[p]
        at = max(at + gap[before * n + t], task[3 * t]) + task[3 * t + 1]
        total += max(0, at - task[3 * t + 2]) * slope[t]
        if total > limit:
            return total, n
        new_ends[p], new_paid[p] = at, total
        before = t
        if p > hi and at >= ends[p]:
            # The rest starts no earlier than before, so it costs no less.
            least = total + paid[n - 1] - paid[p]
            if at == ends[p] or least > limit:
                return least, p + 1
    return total, n


@njit(**CASE)
def anneal_line(
    gaps: Ints, tasks: Ints, slopes: Floats, current: Ints, best_order: Ints, best: float, luck: Ints, steps: int,
    hot: float, cold: float, ends_room: Ints, paid_room: Floats, trial_room: Ints, new_ends_room: Ints,
    new_paid_room: Floats,
) -> float:  # fmt: skip
    """Anneal the order from heat `hot` to `cold`; keep the best; return its cost. With ``hot`` 0: only price it."""
    n = len(current)
    gap, task, slope, order, seed = (
        pointer(gaps),
        pointer(tasks),
        pointer(slopes),
        pointer(current),
        pointer(luck),
    )
    ends, paid, trial = pointer(ends_room), pointer(paid_room), pointer(trial_room)
    new_ends, new_paid = pointer(new_ends_room), pointer(new_paid_room)
    for p in range(n):
        trial[p], ends[p], paid[p] = order[p], 0, 0.0
    whole = (n, gap, task, slope, order, trial)
    now, _ = _run_on(*whole, 0, n - 1, np.inf, ends, paid, new_ends, new_paid)
    for p in range(n):
        ends[p], paid[p] = new_ends[p], new_paid[p]
    if hot <= 0.0:
        return now
    fall, heat = (cold / hot) ** (HEAT_STEP / max(1, steps)), hot
    for s in range(steps):
        if s % HEAT_STEP == 0:
            heat *= fall
        allowed = now - heat * math.log(max(1e-12, draw(seed)))
        lo, hi = stretch(order, n, trial, seed)
        cost, upto = _run_on(*whole, lo, hi, allowed, ends, paid, new_ends, new_paid)
        if cost > allowed:
            continue
        for p in range(hi - lo + 1):
            order[lo + p] = trial[p]
        for p in range(lo, upto):
            ends[p], paid[p] = new_ends[p], new_paid[p]
        for p in range(upto, n):
            paid[p] += cost - now
        now = cost
        if now < best - 1e-9:
            best = now
            best_order[:n] = current
            if best <= 0.0:
                break
    return best
