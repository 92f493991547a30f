"""Compiled steps of the bound for one machine whose set-ups hang on which task came before.

Question answered: *what is the cheapest walk when every set-up is the true one of its two neighbours?* The last task of a walk
is part of where it stands, so a walk costs times x tasks x tasks. Times are gone through in strips shorter than any work
with its set-up, so that a strip only looks back behind itself and is one loop over neighbouring numbers.

Behind `known_end` (the end of the known plan; few good plans go on longer) a task takes only its least set-up and it does
not matter what came before: cheaper than the truth, so still a bound, and nearly for nothing.

Arrays: `length`, `ready` (earliest end), `due`, `least` (length with the least set-up before it) and `slope` (tasks,); `gap` (tasks + 1, tasks),
the last row for the first task of all; `cost` (tasks, times to the known end) the cheapest walk over by then that ends with
each task; `tail` (times) the same with any, from the known end on.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from scheduler.solver.insertion_moves import CASE, Floats, Ints
from scheduler.solver.line_kernel import NEVER, uphill

STRIPS: dict[str, Any] = {**CASE, "fastmath": {"nnan", "nsz"}}
"""No figure here is undefined; told so, the compiler takes several at a time."""


@njit(**STRIPS)
def _cheaper(row: Floats, other: Floats) -> None:
    """Take the cheaper of two at each place."""
    for k in range(len(row)):
        row[k] = min(row[k], other[k])


@njit(**CASE)
def _walk(
    length: Ints, ready: Ints, due: Ints, least: Ints, slope: Floats, gap: Ints, strip: int, price: Floats, cost: Floats,
    tail: Floats,
) -> None:  # fmt: skip
    """Fill the cheapest walks."""
    n, times = cost.shape
    row = np.empty(strip)
    for start in range(0, times, strip):
        stop = min(times, start + strip)
        for j in range(n):
            own = row[: stop - start]
            first = length[j] + gap[n, j]
            for t in range(start, stop):
                own[t - start] = 0.0 if t >= first else NEVER
            for i in range(n):
                shift = length[j] + gap[i, j]
                if i != j and shift < stop:
                    late = max(0, shift - start)
                    _cheaper(own[late:], cost[i, start + late - shift : stop - shift])
            before = cost[j, start - 1] if start else NEVER
            for t in range(start, stop):
                if t >= ready[j] and own[t - start] < NEVER:
                    before = min(before, own[t - start] + slope[j] * max(0, t - due[j]) - price[j])
                cost[j, t] = before
    for t in range(times):
        tail[t] = 0.0
        for j in range(n):
            tail[t] = min(tail[t], cost[j, t])
    for t in range(times, len(tail)):
        best = tail[t - 1]
        for j in range(n):
            if t >= ready[j]:
                best = min(best, tail[t - least[j]] + slope[j] * max(0, t - due[j]) - price[j])
        tail[t] = best


@njit(**CASE)
def _times_done(
    length: Ints,
    due: Ints,
    least: Ints,
    slope: Floats,
    gap: Ints,
    price: Floats,
    cost: Floats,
    tail: Floats,
    done: Ints,
) -> None:
    """Count how often each task is in the cheapest walk, by looking up again what each step came from."""
    n, times = cost.shape
    done[:] = 0
    t = len(tail) - 1
    while t >= times:
        if tail[t] == tail[t - 1]:
            t -= 1
            continue
        by, off = -1, NEVER
        for j in range(n):
            other = abs(tail[t - least[j]] + slope[j] * max(0, t - due[j]) - price[j] - tail[t])
            if other < off:
                by, off = j, other
        done[by] += 1
        t -= least[by]
    if tail[t] >= 0.0:
        return
    j = 0
    for i in range(n):
        if cost[i, t] < cost[j, t]:
            j = i
    while True:
        while t > 0 and cost[j, t - 1] == cost[j, t]:
            t -= 1
        done[j] += 1
        before = cost[j, t] + price[j] - slope[j] * max(0, t - due[j])
        by, off = -1, NEVER
        if t >= length[j] + gap[n, j]:
            off = abs(before)
        for i in range(n):
            s = t - length[j] - gap[i, j]
            if i != j and s >= 0 and abs(cost[i, s] - before) < off:
                by, off = i, abs(cost[i, s] - before)
        if by < 0:
            return
        t, j = t - length[j] - gap[by, j], by


@njit(**CASE)
def climb_with_setups(
    length: Ints, ready: Ints, due: Ints, least: Ints, slope: Floats, gap: Ints, known_end: int, times: int, strip: int,
    price: Floats, best_price: Floats, push: Floats, pace: Floats, odd: Ints, rounds: int, known: float,
) -> None:  # fmt: skip
    """Look for the prices with the highest bound, some rounds long."""
    n = len(length)
    cost, tail, done = np.empty((n, known_end + 1)), np.empty(times), np.empty(n, np.int64)
    for _ in range(rounds):
        _walk(length, ready, due, least, slope, gap, strip, price, cost, tail)
        _times_done(length, due, least, slope, gap, price, cost, tail, done)
        if not uphill(tail[times - 1] + price.sum(), done, price, best_price, push, pace, odd, known):
            return
