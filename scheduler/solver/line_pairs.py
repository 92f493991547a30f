"""Compiled steps of the bound for one machine that look at two tasks running: no two that were better the other way round.

Question answered: *what is left of the walks and the sets of tasks when neighbours must be in their better order?* Where no
task is waited for and none needs a set-up, two neighbours can change places without anything else moving. So some best
order has no two neighbours that are cheaper the other way round, nor, of equals, a later one of the list before an earlier
one; walks need not have them either. That brings bounds close where many tasks are in time whatever their order.

Arrays: `minutes` (tasks,), `late` (times, tasks) the cost of each end, `place` (tasks,) the place of a task among those that
are watched (-1: none), `rest` (times, sets of watched tasks to be done, last task) the cheapest walk to the end.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from scheduler.solver.insertion_moves import CASE, Floats, Ints
from scheduler.solver.line_kernel import NEVER, uphill

WORD = 62
"""Tasks in one whole number of a set."""


@njit(**CASE)
def _in_order(minutes: Ints, late: Floats, i: int, j: int, middle: int) -> bool:
    """Tell whether task i, over at `middle`, and task j behind it are in the better order."""
    end = middle + minutes[j]
    now, other = late[middle, i] + late[end, j], late[end - minutes[i], j] + late[end, i]
    return now < other or (now == other and i < j)


@njit(**CASE)
def _walk(minutes: Ints, late: Floats, price: Floats, cost: Floats, back: Ints) -> float:
    """Fill the cheapest walk to each time that ends with each task; return the cheapest whole one."""
    times, n = late.shape
    cost[:], back[:] = NEVER, -1
    for t in range(1, times):
        for j in range(n):
            middle = t - minutes[j]
            if middle < 0:
                continue
            best, by = NEVER, -1
            if middle == 0:
                best = 0.0
            else:
                for i in range(n):
                    if cost[middle, i] < best and i != j and _in_order(minutes, late, i, j, middle):
                        best, by = cost[middle, i], i
            if best < NEVER:
                cost[t, j], back[t, j] = best + late[t, j] - price[j], by
    return float(cost[times - 1].min())


@njit(**CASE)
def climb_in_order(
    minutes: Ints, late: Floats, price: Floats, best_price: Floats, push: Floats, pace: Floats, odd: Ints, rounds: int,
    known: float,
) -> None:  # fmt: skip
    """Look for the prices with the highest bound of walks whose neighbours are in order, some rounds long."""
    times, n = late.shape
    cost, back, done = np.empty((times, n)), np.empty((times, n), np.int64), np.empty(n, np.int64)
    for _ in range(rounds):
        bound = _walk(minutes, late, price, cost, back) + price.sum()
        done[:] = 0
        t, j = times - 1, int(np.argmin(cost[times - 1]))
        while t > 0:
            done[j] += 1
            t, j = t - minutes[j], back[t, j]
        if not uphill(bound, done, price, best_price, push, pace, odd, known):
            return


@njit(**CASE)
def ahead(minutes: Ints, late: Floats, price: Floats, place: Ints, rest: Floats) -> None:
    """Fill the cheapest walk from each time to the end, for each set of watched tasks to be done, behind each last task.

    Such a walk has each task of the set once and no other watched one.
    """
    times, n = late.shape
    rest[:] = NEVER
    rest[times - 1, 0] = 0.0
    for t in range(times - 2, -1, -1):
        for left in range(rest.shape[1]):
            for j in range(n):
                end = t + minutes[j]
                if end >= times:
                    continue
                then = left
                if place[j] >= 0:
                    if not (left >> place[j]) & 1:
                        continue
                    then = left ^ (1 << place[j])
                value = rest[end, then, j]
                if value >= NEVER:
                    continue
                value += late[end, j] - price[j]
                for i in range(n):
                    if value < rest[t, left, i] and i != j and _in_order(minutes, late, i, j, t):
                        rest[t, left, i] = value


@njit(**CASE)
def expand(
    minutes: Ints, late: Floats, price: Floats, place: Ints, rest: Floats, most: float, sets: Ints, value: Floats,
    paid: Floats, last: Ints, end: Ints, new_sets: Ints, new_value: Floats, new_paid: Floats, new_last: Ints, new_end: Ints,
    new_from: Ints,
) -> int:  # fmt: skip
    """Add one task to each set in every way that may still come to less than `most`; return how many, -1: too many.

    `sets` (sets, words) has a bit for each task, `value` is what the order costs, without prices; `paid` the prices of its tasks.
    """
    n, count = len(minutes), 0
    for s in range(len(sets)):
        left = 0
        for j in range(n):
            if place[j] >= 0 and not (sets[s, j // WORD] >> (j % WORD)) & 1:
                left |= 1 << place[j]
        for j in range(n):
            if (sets[s, j // WORD] >> (j % WORD)) & 1:
                continue
            until = end[s] + minutes[j]
            worth = value[s] + late[until, j]
            then = left if place[j] < 0 else left ^ (1 << place[j])
            if worth - paid[s] - price[j] + rest[until, then, j] > most:
                continue
            if last[s] >= 0 and not _in_order(minutes, late, last[s], j, end[s]):
                continue
            if count == len(new_sets):
                return -1
            new_sets[count] = sets[s]
            new_sets[count, j // WORD] |= 1 << (j % WORD)
            new_value[count], new_paid[count] = worth, paid[s] + price[j]
            new_last[count], new_end[count], new_from[count] = j, until, s
            count += 1
    return count
