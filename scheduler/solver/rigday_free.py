"""When a task may run and when a resource is free, over the flat arrays.

Question answered: *from when to when could this block lie, and what would it add to the resource's day?* Lags to
what stands, calendars, ways from and to the yard, hours of day and week, pools. Compiled, reads only.
"""

from __future__ import annotations

from numba import njit

from scheduler.solver import rigday_layout as at
from scheduler.solver.resources import FAR
from scheduler.solver.rigday_cost import differ, gap, leg_back, leg_out, partner_at, partner_of, pay, span_of
from scheduler.solver.rigday_layout import CASE, Floats, Ints


@njit(**CASE)
def time_bounds(fi: Ints, ff: Floats, si: Ints, sf: Floats, t: int) -> tuple[int, int, int, int, bool]:
    """Return least and most start, least and most end, and whether the task may run at all."""
    lo_s, hi_s, lo_e, hi_e = (
        fi[fi[at.T_RELEASE] + t],
        fi[fi[at.T_START_MOST] + t],
        -FAR,
        fi[fi[at.T_END_MOST] + t],
    )
    for i in range(fi[fi[at.BEFORE_PTR] + t], fi[fi[at.BEFORE_PTR] + t + 1]):
        o, lag = fi[fi[at.BEFORE] + i * 2 + 0], fi[fi[at.BEFORE] + i * 2 + 1]
        loose = fi[fi[at.L_LOOSE] + lag] == 1
        if loose and si[si[at.COUNT] + o] == 0:
            continue
        if si[si[at.LEFT] + o] > 0 and not loose:
            return lo_s, hi_s, lo_e, hi_e, False
        kind = fi[fi[at.L_KIND] + lag]
        base = si[si[at.FIRST] + o] if kind == 1 or kind == 2 else si[si[at.LAST] + o]
        least, most = fi[fi[at.L_LEAST] + lag], fi[fi[at.L_MOST] + lag]
        if kind <= 1:
            if least > -FAR:
                lo_s = max(lo_s, base + least)
            if most < FAR:
                hi_s = min(hi_s, base + most)
        else:
            if least > -FAR:
                lo_e = max(lo_e, base + least)
            if most < FAR:
                hi_e = min(hi_e, base + most)
    for i in range(fi[fi[at.AFTER_PTR] + t], fi[fi[at.AFTER_PTR] + t + 1]):
        o, lag = fi[fi[at.AFTER] + i * 2 + 0], fi[fi[at.AFTER] + i * 2 + 1]
        if si[si[at.COUNT] + o] == 0:
            continue
        kind = fi[fi[at.L_KIND] + lag]
        base = si[si[at.FIRST] + o] if kind <= 1 else si[si[at.LAST] + o]
        least, most = fi[fi[at.L_LEAST] + lag], fi[fi[at.L_MOST] + lag]
        if kind == 0 or kind == 3:
            if least > -FAR:
                hi_e = min(hi_e, base - least)
            if most < FAR:
                lo_e = max(lo_e, base - most)
        else:
            if least > -FAR:
                hi_s = min(hi_s, base - least)
            if most < FAR:
                lo_s = max(lo_s, base - most)
    return lo_s, hi_s, lo_e, hi_e, True


@njit(**CASE)
def never_used(fi: Ints, ff: Floats, si: Ints, sf: Floats, r: int) -> bool:
    """Tell whether a resource has no block at all."""
    for d in range(fi[at.DAYS]):  # noqa: SIM110 (compiled: no generators)
        if si[si[at.ROW_COUNT] + r * fi[at.DAYS] + d] > 0:
            return False
    return True


@njit(**CASE)
def widest(fi: Ints, ff: Floats, si: Ints, sf: Floats, r: int, d: int) -> int:
    """Return the longest idle stretch of a resource's day, roads not counted; kept until the day changes."""
    row = r * fi[at.DAYS] + d
    best = si[si[at.WIDEST] + row]
    if best >= 0:
        return best
    best = 0
    n, blocks = si[si[at.ROW_COUNT] + row], si[at.ROWS] + row * at.DAY_LENGTH
    for o in range(fi[fi[at.OPEN_PTR] + row], fi[fi[at.OPEN_PTR] + row + 1]):
        start, stop = fi[fi[at.OPEN_START] + o], fi[fi[at.OPEN_END] + o]
        for i in range(n):
            b = si[blocks + i]
            best = max(best, min(stop, si[si[at.B_START] + b]) - start)
            start = max(start, si[si[at.B_END] + b])
        best = max(best, stop - start)
    si[si[at.WIDEST] + row] = best
    return best


@njit(**CASE)
def free_stretch(
    fi: Ints,
    ff: Floats,
    si: Ints,
    sf: Floats,
    r: int,
    d: int,
    lo: int,
    hi: int,
    need: int,
    site: int,
    family: int,
    amount: int,
) -> tuple[int, int]:
    """Return the first stretch in [lo, hi] of at least `need` minutes in which r is free, or (-1, -1)."""
    row = r * fi[at.DAYS] + d
    first, final = fi[fi[at.OPEN_PTR] + row], fi[fi[at.OPEN_PTR] + row + 1]
    n, blocks = si[si[at.ROW_COUNT] + row], si[at.ROWS] + row * at.DAY_LENGTH
    pool = fi[fi[at.R_CUMULATIVE] + r] != 0
    if first == final or n >= at.DAY_LENGTH or (not pool and widest(fi, ff, si, sf, r, d) < need):
        return -1, -1
    out, back = leg_out(fi, ff, r, site), leg_back(fi, ff, r, site)
    lo = max(lo, fi[fi[at.OPEN_START] + first] + out)
    hi = min(hi, fi[fi[at.OPEN_END] + final - 1] - back)
    most = FAR
    week = fi[fi[at.R_WEEK] + row]
    day_most = fi[fi[at.R_HOURS] + r * 2 + 1]
    if day_most < FAR or week >= 0:
        begun, ended = 0, 0
        if n > 0:
            a, b = si[blocks], si[blocks + n - 1]
            begun = si[si[at.B_START] + a] - leg_out(fi, ff, r, si[si[at.B_SITE] + a])
            ended = si[si[at.B_END] + b] + leg_back(fi, ff, r, si[si[at.B_SITE] + b])
        if week >= 0:
            day_most = min(day_most, si[si[at.WEEK_LEFT] + week] + ended - begun)
        if n == 0:
            most = day_most - out - back
        else:
            lo = max(lo, ended - day_most + out)
            hi = min(hi, begun + day_most - back)
    if most < need or hi - lo < need:
        return -1, -1
    if fi[fi[at.R_INITIAL] + r] >= 0 and site >= 0 and never_used(fi, ff, si, sf, r):
        lo = max(lo, fi[fi[at.INITIAL] + (fi[fi[at.R_INITIAL] + r]) * fi[at.SITES] + site])
    if fi[fi[at.R_HOME] + r] == 0 and fi[fi[at.R_MATRIX] + r] >= 0:
        for e in range(d - 1, -1, -1):
            if si[si[at.ROW_COUNT] + r * fi[at.DAYS] + e] > 0:
                b = si[blocks - (d - e) * at.DAY_LENGTH + si[si[at.ROW_COUNT] + r * fi[at.DAYS] + e] - 1]
                there, tool = si[si[at.B_SITE] + b], si[si[at.B_FAMILY] + b]
                lo = max(lo, si[si[at.B_END] + b] + gap(fi, ff, r, there, tool, site, family))
                break
        for e in range(d + 1, fi[at.DAYS]):
            if si[si[at.ROW_COUNT] + r * fi[at.DAYS] + e] > 0:
                b = si[blocks + (e - d) * at.DAY_LENGTH]
                there, tool = si[si[at.B_SITE] + b], si[si[at.B_FAMILY] + b]
                hi = min(hi, si[si[at.B_START] + b] - gap(fi, ff, r, site, family, there, tool))
                break
    if pool:
        return pool_stretch(fi, ff, si, sf, r, d, lo, hi, need, amount)
    for o in range(first, final):
        start = max(lo, fi[fi[at.OPEN_START] + o])
        stop = min(hi, fi[fi[at.OPEN_END] + o])
        start, end = gap_between(fi, ff, si, sf, r, blocks, n, start, stop, need, most, site, family)
        if start >= 0:
            return start, end
    return -1, -1


@njit(**CASE)
def gap_between(
    fi: Ints,
    ff: Floats,
    si: Ints,
    sf: Floats,
    r: int,
    blocks: int,
    n: int,
    lo: int,
    stop: int,
    need: int,
    most: int,
    site: int,
    family: int,
) -> tuple[int, int]:
    """Return the first stretch in [lo, stop] between the `n` blocks of a day that leaves room for the roads."""
    pairs = fi[fi[at.R_ALL_PAIRS] + r] != 0
    start, follows = lo, -1
    for i in range(n + 1):
        if stop - start < need:
            break
        b = si[blocks + i] if i < n else -1
        begins = si[si[at.B_START] + b] if i < n else FAR
        # Roads only make a gap shorter, so they are looked up where the gap may do.
        if min(stop, begins) - start >= need:
            if follows >= 0:
                there, tool = si[si[at.B_SITE] + follows], si[si[at.B_FAMILY] + follows]
                start = max(start, si[si[at.B_END] + follows] + gap(fi, ff, r, there, tool, site, family))
            end = stop
            if i < n:
                there, tool = si[si[at.B_SITE] + b], si[si[at.B_FAMILY] + b]
                end = min(end, begins - gap(fi, ff, r, site, family, there, tool))
            end = min(end, start + most)
            if end - start >= need:
                return start, end
        if i == n:
            break
        follows = b
        start = max(lo if not pairs else start, si[si[at.B_END] + b])
        if pairs:
            there, tool = si[si[at.B_SITE] + b], si[si[at.B_FAMILY] + b]
            start = max(start, si[si[at.B_END] + b] + gap(fi, ff, r, there, tool, site, family))
    return -1, -1


@njit(**CASE)
def pool_stretch(
    fi: Ints, ff: Floats, si: Ints, sf: Floats, r: int, d: int, lo: int, hi: int, need: int, amount: int
) -> tuple[int, int]:
    """Return the first stretch in which a pool can spare `amount`, cautiously counted."""
    start = lo
    for _ in range(at.DAY_LENGTH + 1):
        if hi - start < need:
            return -1, -1
        used, soonest, follower = 0, FAR, hi
        for i in range(si[si[at.ROW_COUNT] + r * fi[at.DAYS] + d]):
            b = si[si[at.ROWS] + (r * fi[at.DAYS] + d) * at.DAY_LENGTH + i]
            if si[si[at.B_START] + b] < start + need and si[si[at.B_END] + b] > start:
                k = si[si[at.B_MODE] + b]
                for j in range(fi[fi[at.N_PTR] + k + 1] - fi[fi[at.N_PTR] + k]):
                    if si[si[at.B_RES] + b * fi[at.NEEDS] + j] == r:
                        used += fi[fi[at.N_AMOUNT] + fi[fi[at.N_PTR] + k] + j]
                soonest = min(soonest, si[si[at.B_END] + b])
            elif si[si[at.B_START] + b] >= start + need:
                follower = min(follower, si[si[at.B_START] + b])
        if used + amount <= fi[fi[at.R_CAPACITY] + r]:
            return start, max(start + need, min(hi, follower))
        if soonest == FAR:
            return -1, -1
        start = soonest
    return -1, -1


@njit(**CASE)
def added_handover(fi: Ints, ff: Floats, si: Ints, sf: Floats, r: int, d: int, start: int, m: int) -> float:
    """Return what changes of partner cost more on a resource's day with one more block, in mode m by the crew of the state."""
    price = ff[fi[at.R_HANDOVER] + r]
    if price == 0.0:
        return 0.0
    partner = partner_of(fi, si, m, si[at.CREW], r)
    if partner < 0:
        return 0.0
    n = si[si[at.ROW_COUNT] + r * fi[at.DAYS] + d]
    i = 0
    while i < n and si[si[at.B_START] + si[si[at.ROWS] + (r * fi[at.DAYS] + d) * at.DAY_LENGTH + i]] < start:
        i += 1
    before = partner_at(fi, si, r, d, i - 1) if i > 0 else -1
    after = partner_at(fi, si, r, d, i) if i < n else -1
    return price * (differ(before, partner) + differ(partner, after) - differ(before, after))


@njit(**CASE)
def added_cost(
    fi: Ints, ff: Floats, si: Ints, sf: Floats, r: int, d: int, start: int, end: int, site: int, family: int
) -> float:
    """Return how wage and road of a resource's day change with one more block."""
    rate = ff[fi[at.R_MOVE_COST] + r]
    paid = ff[fi[at.R_PAY] + r * 2 + 0] != 0.0 or ff[fi[at.R_PAY] + r * 2 + 1] != 0.0
    if fi[fi[at.R_CUMULATIVE] + r] or (rate == 0.0 and not paid):
        return 0.0
    n = si[si[at.ROW_COUNT] + r * fi[at.DAYS] + d]
    i = 0
    while i < n and si[si[at.B_START] + si[si[at.ROWS] + (r * fi[at.DAYS] + d) * at.DAY_LENGTH + i]] < start:
        i += 1
    begun, ended = start - leg_out(fi, ff, r, site), end + leg_back(fi, ff, r, site)
    road_in, road_out, road_old = leg_out(fi, ff, r, site), leg_back(fi, ff, r, site), 0
    if i > 0:
        k = si[si[at.B_MODE] + si[si[at.ROWS] + (r * fi[at.DAYS] + d) * at.DAY_LENGTH + i - 1]]
        road_in = gap(fi, ff, r, fi[fi[at.M_SITE] + k], fi[fi[at.M_FAMILY] + k], site, family)
        road_old = leg_back(fi, ff, r, fi[fi[at.M_SITE] + k])
        g = si[si[at.ROWS] + (r * fi[at.DAYS] + d) * at.DAY_LENGTH + 0]
        begun = si[si[at.B_START] + g] - leg_out(fi, ff, r, fi[fi[at.M_SITE] + si[si[at.B_MODE] + g]])
    if i < n:
        k2 = si[si[at.B_MODE] + si[si[at.ROWS] + (r * fi[at.DAYS] + d) * at.DAY_LENGTH + i]]
        road_out = gap(fi, ff, r, site, family, fi[fi[at.M_SITE] + k2], fi[fi[at.M_FAMILY] + k2])
        road_old = leg_out(fi, ff, r, fi[fi[at.M_SITE] + k2])
        g = si[si[at.ROWS] + (r * fi[at.DAYS] + d) * at.DAY_LENGTH + n - 1]
        ended = si[si[at.B_END] + g] + leg_back(fi, ff, r, fi[fi[at.M_SITE] + si[si[at.B_MODE] + g]])
        if i > 0:
            k = si[si[at.B_MODE] + si[si[at.ROWS] + (r * fi[at.DAYS] + d) * at.DAY_LENGTH + i - 1]]
            road_old = gap(
                fi,
                ff,
                r,
                fi[fi[at.M_SITE] + k],
                fi[fi[at.M_FAMILY] + k],
                fi[fi[at.M_SITE] + k2],
                fi[fi[at.M_FAMILY] + k2],
            )
    cost = rate * (road_in + road_out - road_old)
    if paid:
        cost += pay(fi, ff, r, ended - begun) - pay(fi, ff, r, span_of(fi, ff, si, sf, r, d))
    return cost
