"""What a block and a resource's day cost, and the minutes of ways and work, over the flat arrays.

Question answered: *what does this cost as it stands?* Compiled functions that only read; random numbers too live
here, because every other compiled module needs them.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from scheduler.solver import rigday_layout as at
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
    extra = fi[fi[at.CHANGE] + (c * fi[at.FAMILIES] + family_a) * fi[at.FAMILIES] + family_b]
    if depot < 0 or extra < 0:
        # A change on the way is written as -1 minus its minutes.
        extra = extra if extra >= 0 else -1 - extra
        return fi[fi[at.MATRIX] + (k * fi[at.SITES] + site_a) * fi[at.SITES] + site_b] + extra
    return (
        fi[fi[at.MATRIX] + (k * fi[at.SITES] + site_a) * fi[at.SITES] + depot]
        + fi[fi[at.MATRIX] + (k * fi[at.SITES] + depot) * fi[at.SITES] + site_b]
        + extra
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
def partner_of(fi: Ints, si: Ints, m: int, crew: int, r: int) -> int:
    """Return what a resource leads in a mode, or what leads it, of the crew that begins at `crew` in `si`; else -1."""
    lead = fi[fi[at.M_LEAD] + m]
    if lead < 0:
        return -1
    leader, led = si[crew + lead], si[crew + fi[fi[at.M_LED] + m]]
    if r == leader:
        return led
    return leader if r == led else -1


@njit(**CASE)
def partner_at(fi: Ints, si: Ints, r: int, d: int, i: int) -> int:
    """Return the partner of a resource in the block at a place of its day; -1 where there is none."""
    b = si[si[at.ROWS] + (r * fi[at.DAYS] + d) * at.DAY_LENGTH + i]
    return partner_of(fi, si, si[si[at.B_MODE] + b], si[at.B_RES] + b * fi[at.NEEDS], r)


@njit(**CASE)
def differ(a: int, b: int) -> int:
    """Return 1 where the partner changes from one block to the next."""
    return 1 if a >= 0 and b >= 0 and a != b else 0


@njit(**CASE)
def day_cost(fi: Ints, ff: Floats, si: Ints, sf: Floats, r: int, d: int) -> float:
    """Return wage, road and changes of partner of a resource on a day."""
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
    handover = ff[fi[at.R_HANDOVER] + r]
    if handover != 0.0:
        for i in range(1, n):
            cost += handover * differ(partner_at(fi, si, r, d, i - 1), partner_at(fi, si, r, d, i))
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
