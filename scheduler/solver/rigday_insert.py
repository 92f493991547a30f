"""Where one more block fits best: compiled search over modes, windows, gaps and people.

Question answered: *given what stands, which block of this task adds least, seen with what remains of
it?* A candidate's score is its own cost, the change in wages and road, and a guess for the part it
leaves over (done a day later, or undone). Inputs are the flat arrays; the answer is written into `pick`
and `crew` of the state.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from scheduler.solver import rigday_layout as at
from scheduler.solver.problem import FAR
from scheduler.solver.rigday_layout import CASE, Floats, Ints
from scheduler.solver.rigday_state import (
    below,
    cell_of,
    draw,
    end_cost,
    enter,
    gap,
    leg_back,
    leg_out,
    matches_known,
    minutes_for,
    new_block,
    pay,
    span_of,
    start_cost,
)

MOST_GAPS = 6
MOST_PEOPLE = 7


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
        if si[si[at.LEFT] + o] > 0:
            if fi[fi[at.L_LOOSE] + lag]:
                continue
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
    n = si[si[at.ROW_COUNT] + r * fi[at.DAYS] + d]
    if first == final or n >= at.DAY_LENGTH:
        return -1, -1
    out, back = leg_out(fi, ff, r, site), leg_back(fi, ff, r, site)
    lo = max(lo, fi[fi[at.OPEN_START] + first] + out)
    hi = min(hi, fi[fi[at.OPEN_END] + final - 1] - back)
    most = FAR
    if fi[fi[at.R_HOURS] + r * 2 + 1] < FAR or fi[fi[at.R_WEEK] + r * fi[at.DAYS] + d] >= 0:
        day_most = fi[fi[at.R_HOURS] + r * 2 + 1]
        span = span_of(fi, ff, si, sf, r, d)
        if fi[fi[at.R_WEEK] + r * fi[at.DAYS] + d] >= 0:
            day_most = min(day_most, si[si[at.WEEK_LEFT] + fi[fi[at.R_WEEK] + r * fi[at.DAYS] + d]] + span)
        if n == 0:
            most = day_most - out - back
        else:
            a, b = (
                si[si[at.ROWS] + (r * fi[at.DAYS] + d) * at.DAY_LENGTH + 0],
                si[si[at.ROWS] + (r * fi[at.DAYS] + d) * at.DAY_LENGTH + n - 1],
            )
            begun = si[si[at.B_START] + a] - leg_out(fi, ff, r, fi[fi[at.M_SITE] + si[si[at.B_MODE] + a]])
            ended = si[si[at.B_END] + b] + leg_back(fi, ff, r, fi[fi[at.M_SITE] + si[si[at.B_MODE] + b]])
            lo = max(lo, ended - day_most + out)
            hi = min(hi, begun + day_most - back)
    if most < need or hi - lo < need:
        return -1, -1
    if fi[fi[at.R_INITIAL] + r] >= 0 and site >= 0 and never_used(fi, ff, si, sf, r):
        lo = max(lo, fi[fi[at.INITIAL] + (fi[fi[at.R_INITIAL] + r]) * fi[at.SITES] + site])
    if fi[fi[at.R_HOME] + r] == 0 and fi[fi[at.R_MATRIX] + r] >= 0:
        for e in range(d - 1, -1, -1):
            if si[si[at.ROW_COUNT] + r * fi[at.DAYS] + e] > 0:
                b = si[
                    si[at.ROWS]
                    + (r * fi[at.DAYS] + e) * at.DAY_LENGTH
                    + si[si[at.ROW_COUNT] + r * fi[at.DAYS] + e]
                    - 1
                ]
                k = si[si[at.B_MODE] + b]
                lo = max(
                    lo,
                    si[si[at.B_END] + b]
                    + gap(fi, ff, r, fi[fi[at.M_SITE] + k], fi[fi[at.M_FAMILY] + k], site, family),
                )
                break
        for e in range(d + 1, fi[at.DAYS]):
            if si[si[at.ROW_COUNT] + r * fi[at.DAYS] + e] > 0:
                b = si[si[at.ROWS] + (r * fi[at.DAYS] + e) * at.DAY_LENGTH + 0]
                k = si[si[at.B_MODE] + b]
                hi = min(
                    hi,
                    si[si[at.B_START] + b]
                    - gap(fi, ff, r, site, family, fi[fi[at.M_SITE] + k], fi[fi[at.M_FAMILY] + k]),
                )
                break
    if fi[fi[at.R_CUMULATIVE] + r]:
        return pool_stretch(fi, ff, si, sf, r, d, lo, hi, need, amount)
    for o in range(first, final):
        start = max(lo, fi[fi[at.OPEN_START] + o])
        stop = min(hi, fi[fi[at.OPEN_END] + o])
        for i in range(n):
            if stop - start < need:
                break
            b = si[si[at.ROWS] + (r * fi[at.DAYS] + d) * at.DAY_LENGTH + i]
            if si[si[at.B_END] + b] < start - 1440 and fi[fi[at.R_ALL_PAIRS] + r] == 0:
                continue
            k = si[si[at.B_MODE] + b]
            end = min(
                stop,
                si[si[at.B_START] + b]
                - gap(fi, ff, r, site, family, fi[fi[at.M_SITE] + k], fi[fi[at.M_FAMILY] + k]),
            )
            end = min(end, start + most)
            if end - start >= need:
                return start, end
            start = max(
                start,
                si[si[at.B_END] + b]
                + gap(fi, ff, r, fi[fi[at.M_SITE] + k], fi[fi[at.M_FAMILY] + k], site, family),
            )
        end = min(stop, start + most)
        if end - start >= need:
            return start, end
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


@njit(**CASE)
def choose_crew(
    fi: Ints,
    ff: Floats,
    si: Ints,
    sf: Floats,
    t: int,
    m: int,
    d: int,
    lo: int,
    hi: int,
    need: int,
    full: int,
    rate: float,
) -> tuple[int, int, int]:
    """Choose resources for [lo, hi]; return (start, end, what next: 0 found, 1 try from start, 2 give up)."""
    site, family = fi[fi[at.M_SITE] + m], fi[fi[at.M_FAMILY] + m]
    start, end = lo, hi
    base = fi[fi[at.N_PTR] + m]
    count = fi[fi[at.N_PTR] + m + 1] - base
    for i in range(count):
        a, b = fi[fi[at.O_PTR] + base + i], fi[fi[at.O_PTR] + base + i + 1]
        best, best_start, best_end, best_r = np.inf, -1, -1, -1
        later = FAR
        look = min(b - a, MOST_PEOPLE)
        first = below(si, sf, b - a) if b - a > look else 0
        for q in range(look):
            r = fi[fi[at.OPTION] + a + (first + q) % (b - a)]
            taken = False
            for j in range(i):
                if si[si[at.CREW] + j] == r:
                    taken = True
            if taken:
                continue
            s, e = free_stretch(
                fi, ff, si, sf, r, d, start, hi, need, site, family, fi[fi[at.N_AMOUNT] + base + i]
            )
            if s < 0:
                continue
            e = min(e, end)
            if e - s < need:
                later = min(later, s)
                continue
            score = 0.0
            if b - a > 1:
                short = max(0, full - (e - s))
                stop = min(e, s + full)
                score = added_cost(fi, ff, si, sf, r, d, s, stop, site, family) + rate * (s - start + short)
                score *= 0.9 + 0.2 * draw(si, sf)
            if score < best:
                best, best_start, best_end, best_r = score, s, e, r
        if best_r < 0:
            if later < FAR and later > lo:
                return later, hi, 1
            return -1, -1, 2
        si[si[at.CREW] + i] = best_r
        start, end = best_start, min(end, best_end)
    for i in range(count):
        r = si[si[at.CREW] + i]
        s, e = free_stretch(
            fi, ff, si, sf, r, d, start, hi, need, site, family, fi[fi[at.N_AMOUNT] + base + i]
        )
        if s != start:
            if s < 0 or s <= lo:
                return -1, -1, 2
            return s, hi, 1
        end = min(end, e)
    if end - start < need:
        return -1, -1, 2
    return start, end, 0


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
    return share * min(ff[fi[at.T_OWN] + t], end_cost(fi, ff, t, end + 1440)) + 0.01 * ff[fi[at.T_OWN] + t]


@njit(**CASE)
def find_place(fi: Ints, ff: Floats, si: Ints, sf: Floats, t: int, blink: float) -> float:
    """Find the best block for task t; write it to `pick` and `crew`; return its score (inf: none)."""
    needs = fi[at.NEEDS]
    left, size = si[si[at.LEFT] + t], fi[fi[at.T_SIZE] + t]
    lo_s, hi_s, lo_e, hi_e, allowed = time_bounds(fi, ff, si, sf, t)
    best = np.inf
    if not allowed or left <= 0 or si[si[at.COUNT] + t] >= at.MOST_BLOCKS - 1:
        return best
    least = left if fi[fi[at.T_CHUNK] + t] < 0 else min(left, fi[fi[at.T_CHUNK] + t])
    chunk = fi[fi[at.T_CHUNK] + t]
    if left < chunk and si[si[at.COUNT] + t] > 0:
        lo_s = max(lo_s, si[si[at.LAST] + t])
    rate = 0.2 * ff[fi[at.T_POT] + t] / fi[fi[at.T_MINUTES] + t] * draw(si, sf)
    early_cost = fi[fi[at.START_PTR] + t + 1] > fi[fi[at.START_PTR] + t]
    m0 = fi[fi[at.M_PTR] + t]
    n_modes = fi[fi[at.M_PTR] + t + 1] - m0
    turn = below(si, sf, n_modes) if n_modes > 1 else 0
    for q in range(n_modes):
        m = m0 + (q + turn) % n_modes
        need = minutes_for(fi, ff, m, least, size)
        full = minutes_for(fi, ff, m, left, size)
        site, family = fi[fi[at.M_SITE] + m], fi[fi[at.M_FAMILY] + m]
        count = fi[fi[at.N_PTR] + m + 1] - fi[fi[at.N_PTR] + m]
        for w in range(fi[fi[at.W_PTR] + m], fi[fi[at.W_PTR] + m + 1]):
            lo, hi = max(fi[fi[at.W_START] + w], lo_s), min(fi[fi[at.W_END] + w], hi_e)
            if lo > hi_s:
                break
            if hi - lo < need:
                continue
            if not early_cost:
                cheapest = (
                    left / size * (end_cost(fi, ff, t, lo + need) + ff[fi[at.M_COST] + m])
                    - ff[fi[at.T_PRICE] + t]
                )
                if cheapest >= best:
                    break
            if blink > 0.0 and draw(si, sf) < blink:
                continue
            d = fi[fi[at.W_DAY] + w]
            for _ in range(MOST_GAPS):
                if hi - lo < need or lo > hi_s:
                    break
                start, end, then = choose_crew(fi, ff, si, sf, t, m, d, lo, hi, need, full, rate)
                if then == 2:
                    break
                if then == 1:
                    lo = start
                    continue
                if start > hi_s:
                    break
                amount = left
                if end - start < full:
                    amount = (end - start - fi[fi[at.M_FIXED] + m]) * size // max(1, fi[fi[at.M_MINUTES] + m])
                amount = stock_limit(fi, ff, si, sf, t, m, start, min(left, amount))
                if 0 < left - amount < chunk and left >= 2 * chunk:
                    amount = left - chunk
                if amount < least or amount <= 0:
                    lo = min(end + 1, next_delivery(fi, ff, m, start))
                    continue
                stop = start + minutes_for(fi, ff, m, amount, size)
                if stop < lo_e:
                    lo = max(lo + 1, lo_e - (stop - start))
                    continue
                share = amount / size
                score = share * (
                    end_cost(fi, ff, t, stop) + start_cost(fi, ff, t, start) + ff[fi[at.M_COST] + m]
                )
                score += ff[fi[at.W_RISK] + w] * (stop - start) + rest_cost(fi, ff, t, left - amount, stop)
                for i in range(count):
                    score += added_cost(fi, ff, si, sf, si[si[at.CREW] + i], d, start, stop, site, family)
                if (
                    ff[fi[at.T_PRICE] + t] > 0
                    and si[si[at.KEPT] + t] == 0
                    and matches_known(fi, ff, si, sf, t, d, si[at.CREW], count)
                ):
                    score -= ff[fi[at.T_PRICE] + t]
                if score < best:
                    best = score
                    si[si[at.PICK] + 0], si[si[at.PICK] + 1], si[si[at.PICK] + 2] = m, d, start
                    si[si[at.PICK] + 3], si[si[at.PICK] + 4] = stop, amount
                    for i in range(count):
                        si[si[at.CREW] + needs + i] = si[si[at.CREW] + i]
                if amount == left:
                    break
                lo = end + 1
    return best


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
def into_bucket(fi: Ints, ff: Floats, si: Ints, sf: Floats, t: int) -> bool:
    """Leave what remains of a task to the first weekly bucket with room."""
    lo_s, hi_s, _, hi_e, allowed = time_bounds(fi, ff, si, sf, t)
    needs = fi[at.NEEDS]
    if not allowed:
        return False
    for k in range(fi[at.BUCKETS]):
        start, end = fi[fi[at.BUCKET_START] + k], fi[fi[at.BUCKET_END] + k]
        if end < lo_s or start > hi_s or start >= hi_e or end_cost(fi, ff, t, end) >= ff[fi[at.T_OWN] + t]:
            continue
        for m in range(fi[fi[at.M_PTR] + t], fi[fi[at.M_PTR] + t + 1]):
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


@njit(**CASE)
def insert_task(fi: Ints, ff: Floats, si: Ints, sf: Floats, t: int, blink: float) -> None:
    """Place as much of a task as pays."""
    while si[si[at.LEFT] + t] > 0:
        score = find_place(fi, ff, si, sf, t, blink)
        worth = si[si[at.LEFT] + t] / fi[fi[at.T_SIZE] + t] * ff[fi[at.T_OWN] + t] + (
            ff[fi[at.T_POT] + t] - ff[fi[at.T_OWN] + t]
        )
        if score >= worth or not write_block(fi, ff, si, sf, t):
            break
    if si[si[at.LEFT] + t] > 0 and fi[fi[at.T_LATER] + t]:
        into_bucket(fi, ff, si, sf, t)
