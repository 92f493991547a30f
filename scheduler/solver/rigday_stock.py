"""What stocks allow, and what remains of a task: over the flat arrays.

Question answered: *how much of this task can begin now, when does more come, and what may the rest cost?* Compiled, reads
only.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from scheduler.solver import rigday_layout as at
from scheduler.solver.resources import FAR
from scheduler.solver.rigday_cost import cell_of, end_cost
from scheduler.solver.rigday_layout import CASE, Floats, Ints


@njit(**CASE)
def stock_limit(fi: Ints, ff: Floats, si: Ints, sf: Floats, t: int, m: int, start: int, amount: int) -> int:
    """Return how much of the task the stocks allow at `start`, at most `amount`."""
    for u in range(fi[fi[at.U_PTR] + m], fi[fi[at.U_PTR] + m + 1]):
        stock = fi[fi[at.U_STOCK] + u]
        here = cell_of(fi, ff, stock, start)
        used = 0.0
        for c in range(fi[fi[at.CELL_PTR] + stock], here):
            used += sf[si[at.CELL_USED] + c]
        room = np.inf
        for c in range(here, fi[fi[at.CELL_PTR] + stock + 1]):
            used += sf[si[at.CELL_USED] + c]
            room = min(room, ff[fi[at.CELL_HAVE] + c] - used)
        amount = min(amount, int(room * fi[fi[at.T_SIZE] + t] / ff[fi[at.U_TAKE] + u] + 1e-9))
    return amount


@njit(**CASE)
def next_delivery(fi: Ints, ff: Floats, m: int, time: int) -> int:
    """Return when something that a mode takes is delivered next."""
    soonest = FAR
    for u in range(fi[fi[at.U_PTR] + m], fi[fi[at.U_PTR] + m + 1]):
        stock = fi[fi[at.U_STOCK] + u]
        for c in range(fi[fi[at.CELL_PTR] + stock], fi[fi[at.CELL_PTR] + stock + 1]):
            if fi[fi[at.CELL_TIME] + c] > time:
                soonest = min(soonest, fi[fi[at.CELL_TIME] + c])
    return soonest


@njit(**CASE)
def rest_cost(fi: Ints, ff: Floats, t: int, left: int, end: int) -> float:
    """Return a guess for what remains: done a day later, or undone."""
    if left <= 0:
        return 0.0
    share = left / fi[fi[at.T_SIZE] + t]
    return (
        share * min(ff[fi[at.T_OWN] + t], end_cost(fi, ff, t, end + fi[at.DAY_SPAN]))
        + 0.01 * ff[fi[at.T_OWN] + t]
    )
