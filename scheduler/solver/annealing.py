"""Tearing and putting back while the heat falls, and copies of the best plan. Compiled."""

from __future__ import annotations

import numpy as np
from numba import njit

from scheduler.solver import rigday_layout as at
from scheduler.solver.neighbourhoods import put_back, tear
from scheduler.solver.pointers import pointer
from scheduler.solver.rigday_cost import draw
from scheduler.solver.rigday_layout import CASE, Floats, Ints
from scheduler.solver.rigday_state import settle

ALL_WHOLE = 0.25
"""Share of rounds in which every torn task is first tried in one block: on small farms too, where most rounds split freely,
some of the ridges between plans are crossed only so (12 fields, 4 s, six runs each: 3.99 -> 3.93 million on one farm where
nothing is scarce but people, no change where nitrogen is)."""


@njit(**CASE)
def snapshot(fi: Ints, ff: Floats, si: Ints, sf: Floats, best: Ints) -> int:
    """Copy the standing blocks to rows; return how many."""
    n, needs = 0, fi[at.NEEDS]
    for b in range(si[at.MOST]):
        if si[si[at.B_ALIVE] + b] == 1:
            row = n * (6 + needs)
            best[row], best[row + 1], best[row + 2] = (
                si[si[at.B_TASK] + b],
                si[si[at.B_MODE] + b],
                si[si[at.B_DAY] + b],
            )
            best[row + 3], best[row + 4], best[row + 5] = (
                si[si[at.B_START] + b],
                si[si[at.B_END] + b],
                si[si[at.B_AMOUNT] + b],
            )
            for i in range(needs):
                best[row + 6 + i] = si[si[at.B_RES] + b * needs + i]
            n += 1
    return n


@njit(**CASE)
def changes(farm_ints: Ints, farm_floats: Floats, ints: Ints, floats: Floats, out: Floats) -> None:
    """Tear and put back once for each place of `out`, write there how the value changed, and undo it."""
    fi, ff, si, sf = pointer(farm_ints), pointer(farm_floats), pointer(ints), pointer(floats)
    for k in range(len(out)):
        before = sf[0]
        out[k] = one_round(fi, ff, si, sf)
        settle(fi, ff, si, sf, False)
        sf[0] = before


@njit(**CASE)
def one_round(fi: Ints, ff: Floats, si: Ints, sf: Floats) -> float:
    """Tear and put back; return how the value changed. It is for the caller to settle."""
    waiting = 0
    for t in range(fi[at.TASKS]):
        if si[si[at.LEFT] + t] > 0:
            si[si[at.POOL] + waiting] = t
            waiting += 1
    before = sf[0]
    si[at.N_LOG] = 0
    si[at.LOGGING] = 1
    sf[at.WHOLE_NOW] = 1.0 if draw(si, sf) < ALL_WHOLE else sf[at.WHOLE]
    count = tear(fi, ff, si, sf, waiting)
    put_back(fi, ff, si, sf, count, 0.02 if draw(si, sf) < 0.7 else 0.15)
    return sf[0] - before


@njit(**CASE)
def anneal(
    farm_ints: Ints,
    farm_floats: Floats,
    ints: Ints,
    floats: Floats,
    best_rows: Ints,
    best_count: Ints,
    rounds: int,
    heat: float,
    end_heat: float,
) -> int:
    """Tear and put back `rounds` times while the heat falls; return how often a new best was found."""
    fi, ff, si, sf = pointer(farm_ints), pointer(farm_floats), pointer(ints), pointer(floats)
    best, best_n = pointer(best_rows), pointer(best_count)
    found = 0
    dirty = False
    for step in range(rounds):
        warm = heat + (end_heat - heat) * step / rounds
        before = sf[0]
        change = one_round(fi, ff, si, sf)
        keep = change <= 0.0 or change < -warm * np.log(draw(si, sf) + 1e-12)
        if change > 0.0 and dirty:
            found += 1
        if keep and change > 0.0 and dirty:
            keep_rows = True
        else:
            keep_rows = False
        if keep_rows:
            settle(fi, ff, si, sf, False)
            best_n[0] = snapshot(fi, ff, si, sf, best)
            dirty = False
            continue
        settle(fi, ff, si, sf, keep)
        if not keep:
            sf[0] = before
        if sf[0] < sf[1] - 1e-6:
            sf[1] = sf[0]
            dirty = True
    if dirty and sf[0] <= sf[1] + 1e-6:
        best_n[0] = snapshot(fi, ff, si, sf, best)
        found += 1
    return found
