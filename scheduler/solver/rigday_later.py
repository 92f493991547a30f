"""What remains of a task left to the weeks behind the horizon, the cheapest way first. Compiled.

Question answered: *into which week, which way and with whom does the rest of this task go?* The first week with room takes it:
later costs more. Inputs are the flat arrays; blocks are entered like those of days.
"""

from __future__ import annotations

from numba import njit

from scheduler.solver import rigday_layout as at
from scheduler.solver.resources import FAR
from scheduler.solver.rigday_cost import end_cost
from scheduler.solver.rigday_free import time_bounds
from scheduler.solver.rigday_layout import CASE, Floats, Ints
from scheduler.solver.rigday_state import write_block
from scheduler.solver.rigday_stock import stock_limit


@njit(**CASE)
def next_cheapest(fi: Ints, ff: Floats, t: int, last: int) -> int:
    """Return the mode of a task that comes after `last` when they are sorted by cost (-1: the first; none left)."""
    best = -1
    for m in range(fi[fi[at.M_PTR] + t], fi[fi[at.M_PTR] + t + 1]):
        cost = ff[fi[at.M_COST] + m]
        if last >= 0:
            before = ff[fi[at.M_COST] + last]
            if cost < before or (cost == before and m <= last):
                continue
        if best < 0 or cost < ff[fi[at.M_COST] + best]:
            best = m
    return best


@njit(**CASE)
def into_bucket(fi: Ints, ff: Floats, si: Ints, sf: Floats, t: int) -> bool:
    """Leave what remains of a task to the first weekly bucket with room."""
    lo_s, hi_s, _, hi_e, allowed = time_bounds(fi, ff, si, sf, t)
    needs = fi[at.NEEDS]
    if not allowed:
        return False
    for k in range(fi[at.BUCKETS]):
        start, end = fi[fi[at.BUCKET_START] + k], fi[fi[at.BUCKET_END] + k]
        if end <= lo_s or start > hi_s or start >= hi_e:
            continue
        late = end_cost(fi, ff, t, end)
        m = -1
        while True:
            m = next_cheapest(fi, ff, t, m)
            if m < 0 or late + ff[fi[at.M_COST] + m] >= ff[fi[at.T_OWN] + t]:
                break
            count = fi[fi[at.N_PTR] + m + 1] - fi[fi[at.N_PTR] + m]
            room = FAR
            for i in range(count):
                best, best_r = -1, -1
                for o in range(
                    fi[fi[at.O_PTR] + fi[fi[at.N_PTR] + m] + i],
                    fi[fi[at.O_PTR] + fi[fi[at.N_PTR] + m] + i + 1],
                ):
                    r = fi[fi[at.OPTION] + o]
                    taken = False
                    for j in range(i):
                        if si[si[at.CREW] + needs + j] == r:
                            taken = True
                    if not taken and si[si[at.BUCKET_LEFT] + k * fi[at.RESOURCES] + r] > best:
                        best, best_r = si[si[at.BUCKET_LEFT] + k * fi[at.RESOURCES] + r], r
                if best_r < 0:
                    room = 0
                    break
                si[si[at.CREW] + needs + i] = best_r
                room = min(room, best)
            amount = (
                (room - fi[fi[at.M_FIXED] + m]) * fi[fi[at.T_SIZE] + t] // max(1, fi[fi[at.M_MINUTES] + m])
            )
            amount = stock_limit(fi, ff, si, sf, t, m, start, min(si[si[at.LEFT] + t], amount))
            if fi[fi[at.T_CHUNK] + t] < 0 and amount < fi[fi[at.T_SIZE] + t]:
                continue
            if amount <= 0 or si[si[at.COUNT] + t] >= at.MOST_BLOCKS:
                continue
            si[si[at.PICK] + 0], si[si[at.PICK] + 1], si[si[at.PICK] + 2] = m, fi[at.DAYS] + k, start
            si[si[at.PICK] + 3], si[si[at.PICK] + 4] = end, amount
            if not write_block(fi, ff, si, sf, t):
                return False
            if si[si[at.LEFT] + t] == 0:
                return True
    return False
