"""The plan being worked on, as flat arrays: placing and removing a block, with cost and undo.

Question answered: *what does the plan cost after this block comes or goes?* All functions are compiled;
they read the farm arrays and change the state arrays in place. A block of day ``>= days`` lies in a
weekly bucket.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from scheduler.solver import rigday_layout as at
from scheduler.solver.problem import FAR
from scheduler.solver.rigday_layout import CASE, Floats, Ints


@njit(**CASE)
def draw(si: Ints, sf: Floats) -> float:
    """Return a random number in [0, 1) (xorshift)."""
    x = np.uint64(si[at.RNG])
    x ^= x << np.uint64(13)
    x ^= x >> np.uint64(7)
    x ^= x << np.uint64(17)
    si[at.RNG] = np.int64(x)
    return np.float64(x >> np.uint64(11)) / 9007199254740992.0


@njit(**CASE)
def below(si: Ints, sf: Floats, n: int) -> int:
    """Return a random whole number below n."""
    return min(n - 1, int(draw(si, sf) * n))


@njit(**CASE)
def curve_at(
    fi: Ints, ff: Floats, times: int, costs: int, lo: int, hi: int, before: float, after: float, x: int
) -> float:
    """Return a piecewise-linear cost at x; `times` and `costs` are where points begin, `lo` to `hi` which."""
    if hi == lo:
        return 0.0
    if x <= fi[times + lo]:
        return ff[costs + lo] + before * (x - fi[times + lo])
    if x >= fi[times + hi - 1]:
        return ff[costs + hi - 1] + after * (x - fi[times + hi - 1])
    k = lo
    while fi[times + k + 1] < x:
        k += 1
    share = (x - fi[times + k]) / (fi[times + k + 1] - fi[times + k])
    return ff[costs + k] + share * (ff[costs + k + 1] - ff[costs + k])


@njit(**CASE)
def end_cost(fi: Ints, ff: Floats, t: int, x: int) -> float:
    """Return the cost of the whole task ending at x."""
    a, b = fi[fi[at.END_PTR] + t], fi[fi[at.END_PTR] + t + 1]
    times, costs = fi[at.END_TIME], fi[at.END_COST]
    return curve_at(
        fi, ff, times, costs, a, b, ff[fi[at.END_SLOPES] + t * 2 + 0], ff[fi[at.END_SLOPES] + t * 2 + 1], x
    )


@njit(**CASE)
def start_cost(fi: Ints, ff: Floats, t: int, x: int) -> float:
    """Return the cost of the whole task starting at x."""
    a, b = fi[fi[at.START_PTR] + t], fi[fi[at.START_PTR] + t + 1]
    times, costs = fi[at.START_TIME], fi[at.START_COST]
    return curve_at(
        fi,
        ff,
        times,
        costs,
        a,
        b,
        ff[fi[at.START_SLOPES] + t * 2 + 0],
        ff[fi[at.START_SLOPES] + t * 2 + 1],
        x,
    )


@njit(**CASE)
def minutes_for(fi: Ints, ff: Floats, m: int, amount: int, size: int) -> int:
    """Return the length of a block."""
    return fi[fi[at.M_FIXED] + m] + (fi[fi[at.M_MINUTES] + m] * amount + size - 1) // size


@njit(**CASE)
def gap(fi: Ints, ff: Floats, r: int, site_a: int, family_a: int, site_b: int, family_b: int) -> int:
    """Return the minutes a resource needs between two blocks."""
    k = fi[fi[at.R_MATRIX] + r]
    if k < 0 or site_a < 0 or site_b < 0:
        return 0
    c = fi[fi[at.R_CHANGE] + r]
    depot = fi[fi[at.R_DEPOT] + r]
    if family_a == family_b or c < 0:
        return fi[fi[at.MATRIX] + (k * fi[at.SITES] + site_a) * fi[at.SITES] + site_b]
    if depot < 0:
        return (
            fi[fi[at.MATRIX] + (k * fi[at.SITES] + site_a) * fi[at.SITES] + site_b]
            + fi[fi[at.CHANGE] + (c * fi[at.FAMILIES] + family_a) * fi[at.FAMILIES] + family_b]
        )
    return (
        fi[fi[at.MATRIX] + (k * fi[at.SITES] + site_a) * fi[at.SITES] + depot]
        + fi[fi[at.MATRIX] + (k * fi[at.SITES] + depot) * fi[at.SITES] + site_b]
        + fi[fi[at.CHANGE] + (c * fi[at.FAMILIES] + family_a) * fi[at.FAMILIES] + family_b]
    )


@njit(**CASE)
def leg_out(fi: Ints, ff: Floats, r: int, site: int) -> int:
    """Return minutes from the yard to a site."""
    if fi[fi[at.R_HOME] + r] == 0 or site < 0:
        return 0
    return fi[
        fi[at.MATRIX]
        + ((fi[fi[at.R_MATRIX] + r]) * fi[at.SITES] + fi[fi[at.R_DEPOT] + r]) * fi[at.SITES]
        + site
    ]


@njit(**CASE)
def leg_back(fi: Ints, ff: Floats, r: int, site: int) -> int:
    """Return minutes from a site back to the yard."""
    if fi[fi[at.R_HOME] + r] == 0 or site < 0:
        return 0
    return fi[
        fi[at.MATRIX]
        + ((fi[fi[at.R_MATRIX] + r]) * fi[at.SITES] + site) * fi[at.SITES]
        + fi[fi[at.R_DEPOT] + r]
    ]


@njit(**CASE)
def span_of(fi: Ints, ff: Floats, si: Ints, sf: Floats, r: int, d: int) -> int:
    """Return minutes away from home of a resource on a day."""
    n = si[si[at.ROW_COUNT] + r * fi[at.DAYS] + d]
    if n == 0:
        return 0
    a, b = (
        si[si[at.ROWS] + (r * fi[at.DAYS] + d) * at.DAY_LENGTH + 0],
        si[si[at.ROWS] + (r * fi[at.DAYS] + d) * at.DAY_LENGTH + n - 1],
    )
    start = si[si[at.B_START] + a] - leg_out(fi, ff, r, fi[fi[at.M_SITE] + si[si[at.B_MODE] + a]])
    return si[si[at.B_END] + b] + leg_back(fi, ff, r, fi[fi[at.M_SITE] + si[si[at.B_MODE] + b]]) - start


@njit(**CASE)
def pay(fi: Ints, ff: Floats, r: int, span: int) -> float:
    """Return the wage for a day of `span` minutes."""
    over = max(0, span - fi[fi[at.R_HOURS] + r * 2 + 0])
    return ff[fi[at.R_PAY] + r * 2 + 0] * (span - over) + ff[fi[at.R_PAY] + r * 2 + 1] * over


@njit(**CASE)
def day_cost(fi: Ints, ff: Floats, si: Ints, sf: Floats, r: int, d: int) -> float:
    """Return wage and road of a resource on a day."""
    n = si[si[at.ROW_COUNT] + r * fi[at.DAYS] + d]
    if n == 0 or fi[fi[at.R_CUMULATIVE] + r]:
        return 0.0
    cost = 0.0
    if ff[fi[at.R_PAY] + r * 2 + 0] != 0.0 or ff[fi[at.R_PAY] + r * 2 + 1] != 0.0:
        cost = pay(fi, ff, r, span_of(fi, ff, si, sf, r, d))
    rate = ff[fi[at.R_MOVE_COST] + r]
    if rate != 0.0:
        m = si[si[at.B_MODE] + si[si[at.ROWS] + (r * fi[at.DAYS] + d) * at.DAY_LENGTH + 0]]
        road = leg_out(fi, ff, r, fi[fi[at.M_SITE] + m])
        for i in range(1, n):
            k = si[si[at.B_MODE] + si[si[at.ROWS] + (r * fi[at.DAYS] + d) * at.DAY_LENGTH + i]]
            road += gap(
                fi,
                ff,
                r,
                fi[fi[at.M_SITE] + m],
                fi[fi[at.M_FAMILY] + m],
                fi[fi[at.M_SITE] + k],
                fi[fi[at.M_FAMILY] + k],
            )
            m = k
        cost += rate * (road + leg_back(fi, ff, r, fi[fi[at.M_SITE] + m]))
    return cost


@njit(**CASE)
def block_cost(
    fi: Ints, ff: Floats, t: int, m: int, w_risk: float, start: int, end: int, amount: int
) -> float:
    """Return the cost of a block less what it saves by not being undone."""
    share = amount / fi[fi[at.T_SIZE] + t]
    cost = share * (end_cost(fi, ff, t, end) + start_cost(fi, ff, t, start) + ff[fi[at.M_COST] + m])
    return cost + w_risk * (end - start) - amount * ff[fi[at.T_DROP] + t]


@njit(**CASE)
def risk_at(fi: Ints, ff: Floats, m: int, start: int, end: int) -> float:
    """Return the risk per minute of the window a block lies in."""
    for w in range(fi[fi[at.W_PTR] + m], fi[fi[at.W_PTR] + m + 1]):
        if fi[fi[at.W_START] + w] <= start and end <= fi[fi[at.W_END] + w]:
            return ff[fi[at.W_RISK] + w]
    return 0.0


@njit(**CASE)
def matches_known(
    fi: Ints, ff: Floats, si: Ints, sf: Floats, t: int, day: int, crew_at: int, needs: int
) -> bool:
    """Tell whether day and resources are those of a block of the plan that people know."""
    for p in range(fi[fi[at.P_PTR] + t], fi[fi[at.P_PTR] + t + 1]):
        if fi[fi[at.P_DAY] + p] != day:
            continue
        same = True
        for i in range(needs):
            found = False
            for j in range(needs):
                if fi[fi[at.P_RES] + p * fi[at.NEEDS] + j] == si[crew_at + i]:
                    found = True
            if not found:
                same = False
                break
        if same:
            return True
    return False


@njit(**CASE)
def cell_of(fi: Ints, ff: Floats, stock: int, time: int) -> int:
    """Return the stretch between deliveries a time lies in."""
    a, b = fi[fi[at.CELL_PTR] + stock], fi[fi[at.CELL_PTR] + stock + 1]
    k = a
    while k + 1 < b and fi[fi[at.CELL_TIME] + k + 1] <= time:
        k += 1
    return k


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
    si[si[at.LEFT] + t] -= si[si[at.B_AMOUNT] + b]
    si[si[at.FIRST] + t] = min(si[si[at.FIRST] + t], begins(fi, si, b))
    si[si[at.LAST] + t] = max(si[si[at.LAST] + t], ends(fi, si, b))
    si[si[at.OWN] + t * at.MOST_BLOCKS + si[si[at.COUNT] + t]] = b
    si[si[at.COUNT] + t] += 1
    _book(fi, ff, si, sf, b, 1)
    _note(si, sf, 1, b)


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
