"""The plan being worked on, as flat arrays: placing and removing a block, with cost and undo.

Question answered: *what does the plan cost after this block comes or goes?* All functions are compiled;
they read the farm arrays and change the state arrays in place. A block of day ``>= days`` lies in a
weekly bucket.
"""

from __future__ import annotations

from numba import njit

from scheduler.solver import rigday_layout as at
from scheduler.solver.pointers import pointer
from scheduler.solver.resources import FAR
from scheduler.solver.rigday_cost import (
    block_cost,
    cell_of,
    day_cost,
    matches_known,
    minutes_for,
    risk_at,
    span_of,
)
from scheduler.solver.rigday_layout import CASE, Floats, Ints


@njit(**CASE)
def row_of(fi: Ints, si: Ints, r: int, d: int) -> int:
    """Return where the blocks of a resource's day begin in `si`."""
    return si[at.ROWS] + (r * fi[at.DAYS] + d) * at.DAY_LENGTH


@njit(**CASE)
def _shift_row(fi: Ints, si: Ints, r: int, d: int, b: int) -> None:
    row = row_of(fi, si, r, d)
    counter = si[at.ROW_COUNT] + r * fi[at.DAYS] + d
    starts = si[at.B_START]
    i = si[counter]
    while i > 0 and si[starts + si[row + i - 1]] > si[starts + b]:
        si[row + i] = si[row + i - 1]
        i -= 1
    si[row + i] = b
    si[counter] += 1
    si[si[at.WIDEST] + r * fi[at.DAYS] + d] = -1


@njit(**CASE)
def _unshift_row(fi: Ints, si: Ints, r: int, d: int, b: int) -> None:
    row = row_of(fi, si, r, d)
    counter = si[at.ROW_COUNT] + r * fi[at.DAYS] + d
    n = si[counter]
    i = 0
    while i < n and si[row + i] != b:
        i += 1
    for j in range(i, n - 1):
        si[row + j] = si[row + j + 1]
    si[counter] = n - 1
    si[si[at.WIDEST] + r * fi[at.DAYS] + d] = -1


@njit(**CASE)
def _note(si: Ints, sf: Floats, kind: int, b: int) -> None:
    n = si[at.N_LOG]
    if si[at.LOGGING] and n < at.LOG_LENGTH:
        si[si[at.LOG] + n * 2 + 0] = kind
        si[si[at.LOG] + n * 2 + 1] = b
        si[at.N_LOG] = n + 1


@njit(**CASE)
def _book(fi: Ints, ff: Floats, si: Ints, sf: Floats, b: int, sign: int) -> None:
    """Write a block into (sign 1) or out of (sign -1) rows, weeks, cells, buckets and value."""
    t, m, d = si[si[at.B_TASK] + b], si[si[at.B_MODE] + b], si[si[at.B_DAY] + b]
    days = fi[at.DAYS]
    needs = fi[fi[at.N_PTR] + m + 1] - fi[fi[at.N_PTR] + m]
    size = fi[fi[at.T_SIZE] + t]
    change = 0.0
    for i in range(needs):
        r = si[si[at.B_RES] + b * fi[at.NEEDS] + i]
        if d >= days:
            si[si[at.BUCKET_LEFT] + (d - days) * fi[at.RESOURCES] + r] -= sign * minutes_for(
                fi, ff, m, si[si[at.B_AMOUNT] + b], size
            )
            continue
        before = day_cost(fi, ff, si, sf, r, d)
        week = fi[fi[at.R_WEEK] + r * fi[at.DAYS] + d]
        worked = span_of(fi, ff, si, sf, r, d) if week >= 0 else 0
        if sign > 0:
            _shift_row(fi, si, r, d, b)
        else:
            _unshift_row(fi, si, r, d, b)
        if week >= 0:
            si[si[at.WEEK_LEFT] + week] -= span_of(fi, ff, si, sf, r, d) - worked
        change += day_cost(fi, ff, si, sf, r, d) - before
    for u in range(fi[fi[at.U_PTR] + m], fi[fi[at.U_PTR] + m + 1]):
        cell = cell_of(fi, ff, fi[fi[at.U_STOCK] + u], si[si[at.B_START] + b])
        sf[si[at.CELL_USED] + cell] += sign * ff[fi[at.U_TAKE] + u] * si[si[at.B_AMOUNT] + b] / size
    risk = risk_at(fi, ff, m, si[si[at.B_START] + b], si[si[at.B_END] + b]) if d < days else 0.0
    change += sign * block_cost(
        fi, ff, t, m, risk, si[si[at.B_START] + b], si[si[at.B_END] + b], si[si[at.B_AMOUNT] + b]
    )
    if ff[fi[at.T_PRICE] + t] > 0 and matches_known(
        fi, ff, si, sf, t, d, si[at.B_RES] + b * fi[at.NEEDS], needs
    ):
        held = si[si[at.KEPT] + t]
        si[si[at.KEPT] + t] = held + sign
        if held == 0 and sign > 0:
            change -= ff[fi[at.T_PRICE] + t]
        if held == 1 and sign < 0:
            change += ff[fi[at.T_PRICE] + t]
    sf[0] += change


@njit(**CASE)
def begins(fi: Ints, si: Ints, b: int) -> int:
    """Return when a block begins for what waits on it; inside a bucket the order is free, so at its end."""
    return si[si[at.B_START] + b] if si[si[at.B_DAY] + b] < fi[at.DAYS] else si[si[at.B_END] + b]


@njit(**CASE)
def ends(fi: Ints, si: Ints, b: int) -> int:
    """Return when a block ends for what waits for it; inside a bucket the order is free, so at its start."""
    return si[si[at.B_END] + b] if si[si[at.B_DAY] + b] < fi[at.DAYS] else si[si[at.B_START] + b]


@njit(**CASE)
def enter(fi: Ints, ff: Floats, si: Ints, sf: Floats, b: int) -> None:
    """Bring a filled block record to life."""
    t = si[si[at.B_TASK] + b]
    si[si[at.B_ALIVE] + b] = 1
    si[si[at.B_SITE] + b] = fi[fi[at.M_SITE] + si[si[at.B_MODE] + b]]
    si[si[at.B_FAMILY] + b] = fi[fi[at.M_FAMILY] + si[si[at.B_MODE] + b]]
    si[si[at.LEFT] + t] -= si[si[at.B_AMOUNT] + b]
    si[si[at.FIRST] + t] = min(si[si[at.FIRST] + t], begins(fi, si, b))
    si[si[at.LAST] + t] = max(si[si[at.LAST] + t], ends(fi, si, b))
    si[si[at.OWN] + t * at.MOST_BLOCKS + si[si[at.COUNT] + t]] = b
    si[si[at.COUNT] + t] += 1
    _book(fi, ff, si, sf, b, 1)
    _note(si, sf, 1, b)


@njit(**CASE)
def enter_first(farm_ints: Ints, farm_floats: Floats, ints: Ints, floats: Floats, b: int) -> None:
    """Bring a filled block record to life; called with arrays, to load a plan."""
    enter(pointer(farm_ints), pointer(farm_floats), pointer(ints), pointer(floats), b)


@njit(**CASE)
def withdraw(fi: Ints, ff: Floats, si: Ints, sf: Floats, b: int) -> None:
    """Take a block out; its record stays until the change is settled."""
    t = si[si[at.B_TASK] + b]
    _book(fi, ff, si, sf, b, -1)
    si[si[at.B_ALIVE] + b] = 0
    si[si[at.LEFT] + t] += si[si[at.B_AMOUNT] + b]
    n = si[si[at.COUNT] + t]
    first, last = FAR, -FAR
    k = 0
    for i in range(n):
        other = si[si[at.OWN] + t * at.MOST_BLOCKS + i]
        if other != b:
            si[si[at.OWN] + t * at.MOST_BLOCKS + k] = other
            k += 1
            first = min(first, begins(fi, si, other))
            last = max(last, ends(fi, si, other))
    si[si[at.COUNT] + t] = k
    si[si[at.FIRST] + t], si[si[at.LAST] + t] = first, last
    _note(si, sf, -1, b)


@njit(**CASE)
def new_block(si: Ints, sf: Floats) -> int:
    """Return a free block record, or -1."""
    n = si[at.N_FREE]
    if n == 0:
        return -1
    si[at.N_FREE] = n - 1
    return si[si[at.STACK] + n - 1]


@njit(**CASE)
def write_block(fi: Ints, ff: Floats, si: Ints, sf: Floats, t: int) -> bool:
    """Enter the block found by `find_place`."""
    b = new_block(si, sf)
    if b < 0:
        return False
    needs = fi[at.NEEDS]
    si[si[at.B_TASK] + b], si[si[at.B_MODE] + b], si[si[at.B_DAY] + b] = (
        t,
        si[si[at.PICK] + 0],
        si[si[at.PICK] + 1],
    )
    si[si[at.B_START] + b], si[si[at.B_END] + b], si[si[at.B_AMOUNT] + b] = (
        si[si[at.PICK] + 2],
        si[si[at.PICK] + 3],
        si[si[at.PICK] + 4],
    )
    si[si[at.B_PIN] + b] = 0
    count = fi[fi[at.N_PTR] + si[si[at.PICK] + 0] + 1] - fi[fi[at.N_PTR] + si[si[at.PICK] + 0]]
    for i in range(needs):
        si[si[at.B_RES] + b * fi[at.NEEDS] + i] = si[si[at.CREW] + needs + i] if i < count else -1
    enter(fi, ff, si, sf, b)
    return True


@njit(**CASE)
def settle(fi: Ints, ff: Floats, si: Ints, sf: Floats, keep: bool) -> None:
    """End a change: keep it, or undo it step by step; free the records of dead blocks."""
    n = si[at.N_LOG]
    si[at.LOGGING] = 0
    if not keep:
        for i in range(n - 1, -1, -1):
            if si[si[at.LOG] + i * 2 + 0] == 1:
                withdraw(fi, ff, si, sf, si[si[at.LOG] + i * 2 + 1])
            else:
                enter(fi, ff, si, sf, si[si[at.LOG] + i * 2 + 1])
    for i in range(n):
        b = si[si[at.LOG] + i * 2 + 1]
        if si[si[at.B_ALIVE] + b] == 0:
            si[si[at.B_ALIVE] + b] = -1
            si[si[at.STACK] + si[at.N_FREE]] = b
            si[at.N_FREE] += 1
    si[at.N_LOG] = 0
