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
from scheduler.solver.resources import FAR
from scheduler.solver.rigday_cost import (
    below,
    draw,
    end_cost,
    matches_known,
    minutes_for,
    partner_at,
    start_cost,
)
from scheduler.solver.rigday_free import added_cost, added_handover, free_stretch, time_bounds
from scheduler.solver.rigday_later import into_bucket
from scheduler.solver.rigday_layout import CASE, Floats, Ints
from scheduler.solver.rigday_state import write_block
from scheduler.solver.rigday_stock import next_delivery, rest_cost, stock_limit

MOST_GAPS = 6
MOST_PEOPLE = 7


@njit(**CASE)
def known_leader(
    fi: Ints, ff: Floats, si: Ints, d: int, start: int, led: int, a: int, b: int, otherwise: int
) -> int:
    """Return where among the options a to b the one stands that leads `led` right before or after `start`; else `otherwise`.

    Where there are more people than are looked at, who has the machine anyway is looked at first.
    """
    if ff[fi[at.R_HANDOVER] + led] == 0.0:
        return otherwise
    n = si[si[at.ROW_COUNT] + led * fi[at.DAYS] + d]
    row = si[at.ROWS] + (led * fi[at.DAYS] + d) * at.DAY_LENGTH
    i = 0
    while i < n and si[si[at.B_START] + si[row + i]] < start:
        i += 1
    for k in range(max(0, i - 1), min(n, i + 1)):
        leader = partner_at(fi, si, led, d, k)
        for q in range(a, b):
            if fi[fi[at.OPTION] + q] == leader:
                return q - a
    return otherwise


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
        if b - a > look and i == fi[fi[at.M_LEAD] + m]:
            first = known_leader(fi, ff, si, d, start, si[si[at.CREW] + fi[fi[at.M_LED] + m]], a, b, first)
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
                if i == fi[fi[at.M_LEAD] + m]:
                    si[si[at.CREW] + i] = r
                    led = si[si[at.CREW] + fi[fi[at.M_LED] + m]]
                    score += added_handover(fi, ff, si, sf, led, d, s, m)
                    score += added_handover(fi, ff, si, sf, r, d, s, m)
                score *= 0.9 + 0.2 * draw(si, sf)
            if score < best:
                best, best_start, best_end, best_r = score, s, e, r
        if best_r < 0:
            if later < FAR and later > lo:
                return later, hi, 1
            return -1, -1, 2
        si[si[at.CREW] + i], si[si[at.CREW_END] + i] = best_r, best_end
        start, end = best_start, min(end, best_end)
    for i in range(count):
        if si[si[at.CREW_END] + i] - start >= need:
            # Free from no later than here until long enough: nothing to ask again.
            continue
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
def find_place(fi: Ints, ff: Floats, si: Ints, sf: Floats, t: int, blink: float, whole: bool) -> float:
    """Find the best block for task t, with `whole` for all that is left of it; write it to `pick` and `crew`.

    Returns its score (inf: none).
    """
    needs = fi[at.NEEDS]
    left, size = si[si[at.LEFT] + t], fi[fi[at.T_SIZE] + t]
    lo_s, hi_s, lo_e, hi_e, allowed = time_bounds(fi, ff, si, sf, t)
    best = np.inf
    if not allowed or left <= 0 or si[si[at.COUNT] + t] >= at.MOST_BLOCKS - 1:
        return best
    least = left if whole or fi[fi[at.T_CHUNK] + t] < 0 else min(left, fi[fi[at.T_CHUNK] + t])
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
                    r = si[si[at.CREW] + i]
                    score += added_cost(fi, ff, si, sf, r, d, start, stop, site, family)
                    score += added_handover(fi, ff, si, sf, r, d, start, m)
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
def insert_task(fi: Ints, ff: Floats, si: Ints, sf: Floats, t: int, blink: float) -> None:
    """Place as much of a task as pays: in one block where that is asked for and possible, else in parts.

    What a part leaves over looks cheaper than it comes out, so a search that always may split does so too often.
    """
    while si[si[at.LEFT] + t] > 0:
        whole = draw(si, sf) < sf[at.WHOLE_NOW]
        score = find_place(fi, ff, si, sf, t, blink, whole)
        worth = si[si[at.LEFT] + t] / fi[fi[at.T_SIZE] + t] * ff[fi[at.T_OWN] + t] + (
            ff[fi[at.T_POT] + t] - ff[fi[at.T_OWN] + t]
        )
        if whole and score >= worth:
            score = find_place(fi, ff, si, sf, t, blink, False)
        if score >= worth or not write_block(fi, ff, si, sf, t):
            break
    if si[si[at.LEFT] + t] > 0 and fi[fi[at.T_LATER] + t]:
        into_bucket(fi, ff, si, sf, t)
