"""The compiled parts of the search on orders: what an order costs, and how a stretch of it is changed.

The problem comes as two flat arrays (`whole`, `real`), because few arguments compile fast; the head of `whole`
says where each list begins (`HEAD`). Machine-by-task entries lie at ``machine * tasks + task``.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

LATE = 1e7
CASE: dict[str, Any] = {"cache": True, "nogil": True, "error_model": "numpy"}
# Head of `whole`: counts, then where lists of whole numbers begin, then where lists of costs begin in `real`.
HEAD = (
    "tasks", "machines", "minutes", "gap", "first", "last", "last_by", "release", "start_most", "end_most",
    "curve_ptr", "curve_time", "open_ptr", "open_from", "open_to", "mode_cost", "rate", "curve_cost", "slopes",
)  # fmt: skip
(
    TASKS, MACHINES, MINUTES, GAP, FIRST, LAST, LAST_BY, RELEASE, START_MOST, END_MOST,
    CURVE_PTR, CURVE_TIME, OPEN_PTR, OPEN_FROM, OPEN_TO, MODE_COST, RATE, CURVE_COST, SLOPES,
) = range(len(HEAD))  # fmt: skip
HEAT_STEP = 64


@njit(**CASE)
def end_cost(w: Ints, f: Floats, t: int, end: int) -> float:
    """Return the cost of task t ending at `end`: piecewise linear."""
    a, b = w[w[CURVE_PTR] + t], w[w[CURVE_PTR] + t + 1]
    times, costs = w[CURVE_TIME], w[CURVE_COST]
    if end <= w[times + a]:
        return max(0.0, f[costs + a] + f[w[SLOPES] + 2 * t] * (end - w[times + a]))
    if end >= w[times + b - 1]:
        return f[costs + b - 1] + f[w[SLOPES] + 2 * t + 1] * (end - w[times + b - 1])
    while w[times + a + 1] < end:
        a += 1
    share = (end - w[times + a]) / (w[times + a + 1] - w[times + a])
    return f[costs + a] + share * (f[costs + a + 1] - f[costs + a])


@njit(**CASE)
def _opened(w: Ints, k: int, start: int, length: int) -> int:
    """Return the first start at or after `start` with so much open time in one piece, or -1."""
    lo, hi = w[w[OPEN_PTR] + k], w[w[OPEN_PTR] + k + 1]
    last = hi
    while lo < hi:
        mid = (lo + hi) // 2
        if w[w[OPEN_TO] + mid] < start + length:
            lo = mid + 1
        else:
            hi = mid
    while lo < last:
        begin = max(start, w[w[OPEN_FROM] + lo])
        if begin + length <= w[w[OPEN_TO] + lo]:
            return begin
        lo += 1
    return -1


@njit(**CASE)
def step(w: Ints, f: Floats, k: int, before: int, t: int, at: int) -> tuple[int, float]:
    """Return end and cost of task t on machine k after task `before` (or -1) that ended at `at`."""
    n = w[TASKS]
    move = w[w[FIRST] + k * n + t] if before < 0 else w[w[GAP] + (k * n + before) * n + t]
    start = max(at + move, w[w[RELEASE] + t])
    length = w[w[MINUTES] + k * n + t]
    extra = 0.0
    if w[w[OPEN_PTR] + k + 1] > w[w[OPEN_PTR] + k]:
        begin = _opened(w, k, start, length)
        if begin < 0:
            extra = LATE * 10.0
        else:
            start = begin
    end = start + length
    cost = extra + f[w[MODE_COST] + k * n + t] + f[w[RATE] + k] * move + end_cost(w, f, t, end)
    if start > w[w[START_MOST] + t]:
        cost += LATE + LATE * 1e-3 * (start - w[w[START_MOST] + t])
    if end > w[w[END_MOST] + t]:
        cost += LATE + LATE * 1e-3 * (end - w[w[END_MOST] + t])
    return end, cost


@njit(**CASE)
def home(w: Ints, f: Floats, k: int, t: int, end: int) -> float:
    """Return the cost of coming home after task t."""
    back = w[w[LAST] + k * w[TASKS] + t]
    late = end + back - w[w[LAST_BY] + k]
    return f[w[RATE] + k] * back + (LATE + LATE * 1e-3 * late if late > 0 else 0.0)


@njit(**CASE)
def book(w: Ints, f: Floats, k: int, order: Ints, count: int, ends: Ints, paid: Floats) -> None:
    """Write ends and running costs of one machine; paid[count] is its whole cost."""
    at, before, total = 0, -1, 0.0
    for p in range(count):
        at, cost = step(w, f, k, before, order[p], at)
        total += cost
        ends[p], paid[p] = at, total
        before = order[p]
    paid[count] = total + (home(w, f, k, before, at) if before >= 0 else 0.0)


@njit(**CASE)
def draw(seed: Ints) -> float:
    """Return a random number in [0, 1) (xorshift)."""
    x = np.uint64(seed[0])
    x ^= x << np.uint64(13)
    x ^= x >> np.uint64(7)
    x ^= x << np.uint64(17)
    seed[0] = np.int64(x)
    return np.float64(x >> np.uint64(11)) / 9007199254740992.0


@njit(**CASE)
def below(seed: Ints, n: int) -> int:
    return min(n - 1, int(draw(seed) * n))


@njit(**CASE)
def stretch(order: Ints, n: int, trial: Ints, seed: Ints) -> tuple[int, int]:
    """Write a changed stretch of an order into `trial`; return its first and last position."""
    kind = draw(seed)
    i = below(seed, n)
    if draw(seed) < 0.5:
        reach = 1 + below(seed, min(25, n - 1))
        j = i + reach if draw(seed) < 0.5 else i - reach
        j = min(n - 1, max(0, j))
    else:
        j = below(seed, n)
    lo, hi = min(i, j), max(i, j)
    if lo == hi:
        hi = min(n - 1, lo + 1)
        lo = hi - 1
    size = hi - lo + 1
    shift = 0
    if kind >= 0.15 and (kind < 0.95 or size < 4):
        shift = 1
        if kind > 0.45 and size > 3:
            shift = 1 + below(seed, size - 2)
        if draw(seed) < 0.5:
            shift = size - shift
    if kind < 0.15:
        for p in range(size):
            trial[p] = order[lo + p]
        trial[0], trial[size - 1] = order[hi], order[lo]
    elif shift:
        for p in range(size - shift):
            trial[p] = order[lo + shift + p]
        for p in range(shift):
            trial[size - shift + p] = order[lo + p]
    else:
        for p in range(size):
            trial[p] = order[hi - p]
    return lo, hi


@njit(**CASE)
def price(
    w: Ints, f: Floats, k: int, order: Ints, count: int, ends: Ints, paid: Floats, trial: Ints, lo: int, hi: int,
    limit: float, new_ends: Ints, new_paid: Floats,
) -> tuple[float, int]:  # fmt: skip
    """Price an order whose stretch lo..hi is `trial`.

    Stops when it is surely dearer than `limit` or when the rest runs as before. Returns the cost (or what is above
    the limit already) and the position from which on nothing changes.
    """
    at = ends[lo - 1] if lo > 0 else 0
    before = order[lo - 1] if lo > 0 else -1
    total = paid[lo - 1] if lo > 0 else 0.0
    for p in range(lo, count):
        t = trial[p - lo] if p <= hi else order[p]
        at, cost = step(w, f, k, before, t, at)
        total += cost
        if total > limit:
            return total, count
        new_ends[p] = at
        new_paid[p] = total
        before = t
        if p > hi and at >= ends[p]:
            # The rest starts no earlier than before, so it costs no less.
            least = total + paid[count] - paid[p]
            if at == ends[p] or least > limit:
                return least, p + 1
    return total + home(w, f, k, before, at), count


@njit(**CASE)
def worth(counts: Ints, ends: Ints, paid: Floats, weight: float) -> float:
    """Return the cost of all machines."""
    total, latest = 0.0, 0
    for k in range(len(counts)):
        total += paid[k, counts[k]]
        if counts[k] > 0:
            latest = max(latest, ends[k, counts[k] - 1])
    return total + weight * latest


@njit(**CASE)
def hand_over(orders: Ints, counts: Ints, a: int, i: int, b: int, j: int) -> None:
    """Move the task at place i of machine a to place j of machine b."""
    t = orders[a, i]
    for p in range(i, counts[a] - 1):
        orders[a, p] = orders[a, p + 1]
    counts[a] -= 1
    for p in range(counts[b], j, -1):
        orders[b, p] = orders[b, p - 1]
    orders[b, j] = t
    counts[b] += 1


@njit(**CASE)
def take(
    order: Ints, ends: Ints, paid: Floats, count: int, trial: Ints, lo: int, hi: int, upto: int, cost: float,
    new_ends: Ints, new_paid: Floats,
) -> None:  # fmt: skip
    """Make the tried stretch part of the order."""
    for p in range(hi - lo + 1):
        order[lo + p] = trial[p]
    rise = cost - paid[count]
    for p in range(lo, upto):
        ends[p], paid[p] = new_ends[p], new_paid[p]
    for p in range(upto, count):
        paid[p] += rise
    paid[count] = cost
