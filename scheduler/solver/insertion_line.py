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
from scheduler.solver.problem import Problem
from scheduler.solver.resources import FAR


@dataclass
class Line:
    """One machine: gap (tasks, tasks), first, release, minutes, due (tasks,) in minutes; slope in cost per minute."""

    gap: Ints
    first: Ints
    release: Ints
    minutes: Ints
    due: Ints
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
    return Line(gap.copy(), first.copy(), release, minutes.copy(), due, slope)


@njit(**CASE)
def _run_on(
    gap: Ints, first: Ints, release: Ints, minutes: Ints, due: Ints, slope: Floats, order: Ints, trial: Ints,
    lo: int, hi: int, limit: float, ends: Ints, paid: Floats, new_ends: Ints, new_paid: Floats,
) -> tuple[float, int]:  # fmt: skip
    """Price an order whose stretch lo..hi is `trial`: cost, and from which place on nothing changes."""
    n = len(order)
    at = ends[lo - 1] if lo > 0 else 0
    before = order[lo - 1] if lo > 0 else -1
    total = paid[lo - 1] if lo > 0 else 0.0
    for p in range(lo, n):
        t = trial[p - lo] if p <= hi else order[p]
        move = first[t] if before < 0 else gap[before, t]
        at = max(at + move, release[t]) + minutes[t]
        total += max(0, at - due[t]) * slope[t]
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
    gap: Ints, first: Ints, release: Ints, minutes: Ints, due: Ints, slope: Floats, order: Ints, best_order: Ints,
    best: float, seed: Ints, steps: int, hot: float, cold: float,
    ends: Ints, paid: Floats, trial: Ints, new_ends: Ints, new_paid: Floats,
) -> float:  # fmt: skip
    """Anneal the order from heat `hot` to `cold`; keep the best; return its cost. With ``hot`` 0: only price it."""
    n = len(order)
    for p in range(n):
        trial[p], ends[p], paid[p] = order[p], 0, 0.0
    now, _ = _run_on(
        gap,
        first,
        release,
        minutes,
        due,
        slope,
        order,
        trial,
        0,
        n - 1,
        np.inf,
        ends,
        paid,
        new_ends,
        new_paid,
    )
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
        cost, upto = _run_on(
            gap,
            first,
            release,
            minutes,
            due,
            slope,
            order,
            trial,
            lo,
            hi,
            allowed,
            ends,
            paid,
            new_ends,
            new_paid,
        )
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
            best_order[:n] = order[:n]
            if best <= 0.0:
                break
    return best
