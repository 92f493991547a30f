"""A plan from nothing: tasks go in one by one, each where it adds least. Compiled, tried in several orders.

Question answered: *what is a fair plan, in milliseconds?* The same insertion that the search puts torn-out work back with
fills an empty state; which task goes first decides, so several orders are tried (most money at stake, most money a minute,
first window, each also with noise) and the best plan is kept.
"""

from __future__ import annotations

import time

import numpy as np
from numba import njit

from scheduler.solver import rigday_layout as at
from scheduler.solver.annealing import snapshot
from scheduler.solver.pointers import pointer
from scheduler.solver.problem import Problem
from scheduler.solver.result import CorePlan
from scheduler.solver.rigday_arrays import Farm
from scheduler.solver.rigday_insert import insert_task
from scheduler.solver.rigday_layout import CASE, Floats, Ints
from scheduler.solver.rigday_pack import Work, empty_work, load_plan

PASSES = 6
"""Through the order: what waits for a task further down gets its turn in the next."""
NOISE = 0.3
BLINK = 0.02
COUNTED_TRIES = 8
MOST_TRIES = 24


@njit(**CASE)
def fill(
    farm_ints: Ints,
    farm_floats: Floats,
    ints: Ints,
    floats: Floats,
    order: Ints,
    best_rows: Ints,
    best_count: Ints,
    blink: float,
) -> float:
    """Insert the tasks in this order, note the blocks as best rows, and return the value."""
    fi, ff, si, sf = pointer(farm_ints), pointer(farm_floats), pointer(ints), pointer(floats)
    si[at.LOGGING] = 0
    for _ in range(PASSES):
        moved = False
        for t in order:
            left = si[si[at.LEFT] + t]
            if left <= 0:
                continue
            blocked = False
            for j in range(fi[fi[at.BEFORE_PTR] + t], fi[fi[at.BEFORE_PTR] + t + 1]):
                earlier, lag = fi[fi[at.BEFORE] + j * 2 + 0], fi[fi[at.BEFORE] + j * 2 + 1]
                if fi[fi[at.L_LOOSE] + lag] == 0 and si[si[at.LEFT] + earlier] > 0:
                    blocked = True
            if not blocked:
                insert_task(fi, ff, si, sf, t, blink)
                moved = moved or si[si[at.LEFT] + t] < left
        if not moved:
            break
    rows, count = pointer(best_rows), pointer(best_count)
    count[0] = snapshot(fi, ff, si, sf, rows)
    return sf[0]


def build(farm: Farm, problem: Problem, pins: CorePlan, seed: int, until: float | None) -> Work:
    """Return the state of the best plan of several orders.

    Parameters
    ----------
    pins : CorePlan
        What stands already.
    until : float or None
        A value of ``time.monotonic`` after which no further order is begun; None: `COUNTED_TRIES` of them.
    """
    luck = np.random.default_rng(seed)
    keys = _keys(farm)
    best: Work | None = None
    for k in range(COUNTED_TRIES if until is None else MOST_TRIES):
        if best is not None and until is not None and time.monotonic() > until:
            break
        work = empty_work(farm, problem, seed + k)
        load_plan(work, pins, problem)
        noise = 1.0 + NOISE * (luck.random(farm.tasks) - 0.5) if k >= len(keys) else 1.0
        order = np.argsort(keys[k % len(keys)] * noise, kind="stable").astype(np.int64)
        blink = BLINK if k >= len(keys) else 0.0
        value = fill(*work.arrays, order, work.best, work.best_count, blink)
        if best is None or value < best.floats[0]:
            best = work
    assert best is not None
    return best


def _keys(farm: Farm) -> list[Floats]:
    """Return what tasks may be sorted by, smallest first."""
    fi, ff, n = farm.ints, farm.floats, farm.tasks
    own = ff[fi[at.T_OWN] :][:n]
    potential = ff[fi[at.T_POT] :][:n]
    minutes = fi[fi[at.T_MINUTES] :][:n].astype(np.float64)
    m_ptr = fi[fi[at.M_PTR] :][: n + 1]
    w_ptr, w_start = fi[fi[at.W_PTR] :], fi[fi[at.W_START] :]
    opens = np.array(
        [
            min(
                (w_start[w_ptr[m]] for m in range(m_ptr[t], m_ptr[t + 1]) if w_ptr[m] < w_ptr[m + 1]),
                default=0,
            )
            for t in range(n)
        ],
        np.float64,
    )
    return [-own / minutes, -potential, opens, -potential / minutes]
