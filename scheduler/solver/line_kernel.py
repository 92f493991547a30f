"""Compiled steps of the bound for one machine: the cheapest walk along its time, prices, and sets of tasks.

Question answered: *what is the least that a machine's time can cost, when a task may come twice, or never, at a price?*

A walk fills the time of the machine with tasks one behind the other, never the same twice running; a task done earns its
price, whatever number of times. Every true order is a walk that has each task once, so the cheapest walk and the sum of
the prices together are a lower bound at any prices (Lagrange). `climb` looks for the prices with the highest bound;
`ahead` and `expand` use the best ones to leave out of all sets of tasks those that no better plan can begin with.

Arrays: `task` (tasks, 3) holds the minutes that a task takes of the machine, the earliest end, and the due time; `slope`
(tasks,) the cost of a minute late; lists along the time have one place for each minute from 0 to the last.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from scheduler.solver.insertion_moves import CASE, Floats, Ints

NEVER = 1e300
STEP, SINCE, BEST = 0, 1, 2
PATIENCE, FALL, KEPT = 40.0, 0.8, 0.7
"""Of six settings tried on seven drawn problems of 40 and 50 tasks, the one that came close on all of them."""


@njit(**CASE)
def _late(task: Ints, slope: Floats, j: int, end: int) -> float:
    return slope[j] * max(0, end - task[j, 2])


@njit(**CASE)
def _walk(
    task: Ints, slope: Floats, waits: bool, price: Floats, cost: Floats, last: Ints, back: Ints
) -> float:
    """Fill, for each time, the two cheapest walks that end with different tasks; return what the cheapest of all costs."""
    n, times = len(task), cost.shape[1]
    cost[:, 0], last[:, 0], back[:, 0] = NEVER, -1, -1
    cost[0, 0] = 0.0
    for t in range(1, times):
        a, b, ja, jb, ba, bb = NEVER, NEVER, -1, -1, -1, -1
        if waits:
            a, b, ja, jb = cost[0, t - 1], cost[1, t - 1], last[0, t - 1], last[1, t - 1]
        for j in range(n):
            s = t - task[j, 0]
            if s < 0 or t < task[j, 1]:
                continue
            k = 1 if last[0, s] == j else 0
            before = cost[k, s]
            if before >= NEVER:
                continue
            value = before + _late(task, slope, j, t) - price[j]
            if j == ja:
                if value < a:
                    a, ba = value, 2 * j + k
            elif value < a:
                b, jb, bb = a, ja, ba
                a, ja, ba = value, j, 2 * j + k
            elif value < b:
                b, jb, bb = value, j, 2 * j + k
        cost[0, t], last[0, t], back[0, t] = a, ja, ba
        cost[1, t], last[1, t], back[1, t] = b, jb, bb
    return cost[0, times - 1]


@njit(**CASE)
def _times_done(task: Ints, back: Ints, times: int, done: Ints) -> None:
    """Count how often each task is in the cheapest walk."""
    done[:] = 0
    t, k = times - 1, 0
    while t > 0:
        step = back[k, t]
        if step < 0:
            t -= 1
            continue
        done[step // 2] += 1
        t -= task[step // 2, 0]
        k = step % 2


@njit(**CASE)
def uphill(
    bound: float,
    done: Ints,
    price: Floats,
    best_price: Floats,
    push: Floats,
    pace: Floats,
    odd: Ints,
    known: float,
) -> bool:
    """Move the prices: dearer what is left out, cheaper what comes too often, by a share of what a known plan is above.

    `push` keeps most of the way gone before; `pace` the share, the rounds since it last got better, and the best bound; `odd`
    counts how often each task was not there just once. Returns whether there is a way on.
    """
    if bound > pace[BEST] + 1e-6 * abs(pace[BEST]):
        pace[BEST], pace[SINCE] = bound, 0.0
        best_price[:] = price
    else:
        pace[SINCE] += 1.0
        if pace[SINCE] >= PATIENCE:
            pace[STEP] *= FALL
            pace[SINCE] = 0.0
            push[:] = 0.0
    length = 0.0
    for j in range(len(done)):
        odd[j] += abs(1 - done[j])
        push[j] = (1 - done[j]) + KEPT * push[j]
        length += push[j] * push[j]
    if length == 0.0 or pace[BEST] >= known:
        return False
    for j in range(len(done)):
        price[j] += pace[STEP] * (known - bound) / length * push[j]
    return True


@njit(**CASE)
def climb(
    task: Ints, slope: Floats, waits: bool, times: int, price: Floats, best_price: Floats, push: Floats, pace: Floats,
    odd: Ints, rounds: int, known: float,
) -> None:  # fmt: skip
    """Look for the prices with the highest bound, some rounds long."""
    cost, last, back = np.empty((2, times)), np.empty((2, times), np.int64), np.empty((2, times), np.int64)
    done = np.empty(len(task), np.int64)
    for _ in range(rounds):
        bound = _walk(task, slope, waits, price, cost, last, back) + price.sum()
        _times_done(task, back, times, done)
        if not uphill(bound, done, price, best_price, push, pace, odd, known):
            return
