"""The compiled core of the search on orders: what an order costs, and annealing by rotations and swaps of it."""

from __future__ import annotations

import numpy as np
from numba import njit

LATE = 1e7


@njit(cache=True, nogil=True)
def end_cost(t, end, curve_ptr, curve_time, curve_cost, slopes):  # type: ignore[no-untyped-def]
    """Return the cost of task t ending at `end`: piecewise linear."""
    a, b = curve_ptr[t], curve_ptr[t + 1]
    if end <= curve_time[a]:
        return max(0.0, curve_cost[a] + slopes[t, 0] * (end - curve_time[a]))
    if end >= curve_time[b - 1]:
        return curve_cost[b - 1] + slopes[t, 1] * (end - curve_time[b - 1])
    while curve_time[a + 1] < end:
        a += 1
    share = (end - curve_time[a]) / (curve_time[a + 1] - curve_time[a])
    return curve_cost[a] + share * (curve_cost[a + 1] - curve_cost[a])


@njit(cache=True, nogil=True)
def step(  # type: ignore[no-untyped-def]
    k, before, t, at, minutes, mode_cost, gap, first, last, last_by, rate, release, start_most, end_most, curve_ptr,
    curve_time, curve_cost, slopes, open_ptr, open_from, open_to,
):  # fmt: skip
    """Return end and cost of task t on machine k after task `before` (or -1) that ended at `at`."""
    move = first[k, t] if before < 0 else gap[k, before, t]
    start = max(at + move, release[t])
    length = minutes[k, t]
    lo, hi = open_ptr[k], open_ptr[k + 1]
    if hi - lo > 1 or open_from[lo] > start or open_to[lo] < start + length:
        while hi - lo > 0:
            mid = (lo + hi) // 2
            if open_to[mid] < start + length:
                lo = mid + 1
            else:
                hi = mid
        while lo < open_ptr[k + 1] and max(start, open_from[lo]) + length > open_to[lo]:
            lo += 1
        if lo < open_ptr[k + 1]:
            start = max(start, open_from[lo])
        else:
            return start + length, LATE * 10.0
    end = start + length
    cost = mode_cost[k, t] + rate[k] * move + end_cost(t, end, curve_ptr, curve_time, curve_cost, slopes)
    if start > start_most[t]:
        cost += LATE + LATE * 1e-3 * (start - start_most[t])
    if end > end_most[t]:
        cost += LATE + LATE * 1e-3 * (end - end_most[t])
    return end, cost


@njit(cache=True, nogil=True)
def home(k, t, end, last, last_by, rate):  # type: ignore[no-untyped-def]
    """Return the cost of coming home after task t."""
    cost = rate[k] * last[k, t]
    if end + last[k, t] > last_by[k]:
        cost += LATE + LATE * 1e-3 * (end + last[k, t] - last_by[k])
    return cost


@njit(cache=True, nogil=True)
def price_machine(  # type: ignore[no-untyped-def]
    k, order, count, ends, minutes, mode_cost, gap, first, last, last_by, rate, release, start_most, end_most,
    curve_ptr, curve_time, curve_cost, slopes, open_ptr, open_from, open_to,
):  # fmt: skip
    """Return cost and end of one machine's order, and write the ends of its tasks."""
    at, before, total = 0, -1, 0.0
    for p in range(count):
        t = order[p]
        at, cost = step(
            k, before, t, at, minutes, mode_cost, gap, first, last, last_by, rate, release, start_most, end_most,
            curve_ptr, curve_time, curve_cost, slopes, open_ptr, open_from, open_to,
        )  # fmt: skip
        ends[p] = at
        total += cost
        before = t
    if before >= 0:
        total += home(k, before, at, last, last_by, rate)
    return total, at


@njit(cache=True, nogil=True)
def _rank(seed):  # type: ignore[no-untyped-def]
    x = np.uint64(seed[0])
    x ^= x << np.uint64(13)
    x ^= x >> np.uint64(7)
    x ^= x << np.uint64(17)
    seed[0] = np.int64(x)
    return np.float64(x >> np.uint64(11)) / 9007199254740992.0


@njit(cache=True, nogil=True)
def _below(seed, n):  # type: ignore[no-untyped-def]
    return min(n - 1, int(_rank(seed) * n))


@njit(cache=True, nogil=True)
def _change(order, count, trial, seed):  # type: ignore[no-untyped-def]
    """Write a changed stretch of an order into `trial`; return its first and last position."""
    n = count
    kind = _rank(seed)
    i = _below(seed, n)
    if _rank(seed) < 0.5:
        j = (
            i + 1 + _below(seed, min(10, n - 1))
            if _rank(seed) < 0.5
            else i - 1 - _below(seed, min(10, n - 1))
        )
        j = min(n - 1, max(0, j))
    else:
        j = _below(seed, n)
    lo, hi = min(i, j), max(i, j)
    if lo == hi:
        hi = min(n - 1, lo + 1)
        lo = hi - 1
    size = hi - lo + 1
    if kind < 0.3:
        for p in range(size):
            trial[p] = order[lo + p]
        trial[0], trial[size - 1] = order[hi], order[lo]
    elif kind < 0.92 or size < 4:
        shift = 1
        if kind > 0.7 and size > 3:
            shift = 1 + _below(seed, min(size - 2, 8))
        if _rank(seed) < 0.5:
            shift = size - shift
        for p in range(size):
            q = p + shift
            trial[p] = order[lo + (q if q < size else q - size)]
    else:
        for p in range(size):
            trial[p] = order[hi - p]
    return lo, hi


@njit(cache=True, nogil=True)
def _try(  # type: ignore[no-untyped-def]
    k, order, count, ends, paid, trial, lo, hi, limit, new_ends, new_paid, minutes, mode_cost, gap, first, last,
    last_by, rate, release, start_most, end_most, curve_ptr, curve_time, curve_cost, slopes, open_ptr, open_from,
    open_to,
):  # fmt: skip
    """Price an order whose stretch lo..hi is `trial`.

    Stops when it is dearer than `limit` or when the rest runs as before. Returns the cost and the position from
    which on nothing changes.
    """
    at = ends[lo - 1] if lo > 0 else 0
    before = order[lo - 1] if lo > 0 else -1
    total = paid[lo - 1] if lo > 0 else 0.0
    for p in range(lo, count):
        t = trial[p - lo] if p <= hi else order[p]
        at, cost = step(
            k, before, t, at, minutes, mode_cost, gap, first, last, last_by, rate, release, start_most, end_most,
            curve_ptr, curve_time, curve_cost, slopes, open_ptr, open_from, open_to,
        )  # fmt: skip
        total += cost
        if total > limit:
            return total, count
        new_ends[p] = at
        new_paid[p] = total
        before = t
        if p > hi and at == ends[p]:
            return total + paid[count] - paid[p], p + 1
    return total + home(k, before, at, last, last_by, rate), count


@njit(cache=True, nogil=True)
def _book(  # type: ignore[no-untyped-def]
    k, order, count, ends, paid, minutes, mode_cost, gap, first, last, last_by, rate, release, start_most, end_most,
    curve_ptr, curve_time, curve_cost, slopes, open_ptr, open_from, open_to,
):  # fmt: skip
    """Write ends and running costs of one machine; paid[count] is its whole cost."""
    at, before, total = 0, -1, 0.0
    for p in range(count):
        t = order[p]
        at, cost = step(
            k, before, t, at, minutes, mode_cost, gap, first, last, last_by, rate, release, start_most, end_most,
            curve_ptr, curve_time, curve_cost, slopes, open_ptr, open_from, open_to,
        )  # fmt: skip
        total += cost
        ends[p], paid[p] = at, total
        before = t
    paid[count] = total + (home(k, before, at, last, last_by, rate) if before >= 0 else 0.0)


@njit(cache=True, nogil=True)
def _worth(counts, ends, paid, weight):  # type: ignore[no-untyped-def]
    """Return the cost of all machines."""
    total, latest = 0.0, 0
    for k in range(len(counts)):
        total += paid[k, counts[k]]
        if counts[k] > 0:
            latest = max(latest, ends[k, counts[k] - 1])
    return total + weight * latest


@njit(cache=True, nogil=True)
def anneal(  # type: ignore[no-untyped-def]
    orders, counts, best_orders, best_counts, best, seed, steps, hot, cold, weight, minutes, mode_cost, gap, first,
    last, last_by, rate, release, start_most, end_most, curve_ptr, curve_time, curve_cost, slopes, open_ptr,
    open_from, open_to,
):  # fmt: skip
    """Anneal from heat `hot` to `cold` in `steps` moves; keep the best orders; return the best cost."""
    machines, n = minutes.shape
    ends, paid = np.zeros((machines, n + 1), np.int64), np.zeros((machines, n + 2))
    trial, new_ends, new_paid = np.zeros(n + 1, np.int64), np.zeros(n + 1, np.int64), np.zeros(n + 2)
    for k in range(machines):
        _book(
            k, orders[k], counts[k], ends[k], paid[k], minutes, mode_cost, gap, first, last, last_by, rate, release,
            start_most, end_most, curve_ptr, curve_time, curve_cost, slopes, open_ptr, open_from, open_to,
        )  # fmt: skip
    now = _worth(counts, ends, paid, weight)
    heat = hot
    fall = (cold / hot) ** (1.0 / max(1, steps))
    for _ in range(steps):
        heat *= fall
        allowed = now - heat * np.log(max(1e-12, _rank(seed)))
        if machines > 1 and _rank(seed) < 0.4:
            found = _hand_over(
                orders, counts, ends, paid, now, allowed, weight, trial, seed, minutes, mode_cost, gap, first, last,
                last_by, rate, release, start_most, end_most, curve_ptr, curve_time, curve_cost, slopes, open_ptr,
                open_from, open_to,
            )  # fmt: skip
        else:
            k = _below(seed, machines) if machines > 1 else 0
            count = counts[k]
            if count < 2:
                continue
            lo, hi = _change(orders[k], count, trial, seed)
            limit = allowed - now + paid[k, count] if weight == 0.0 else 1e300
            cost, upto = _try(
                k, orders[k], count, ends[k], paid[k], trial, lo, hi, limit, new_ends, new_paid, minutes, mode_cost,
                gap, first, last, last_by, rate, release, start_most, end_most, curve_ptr, curve_time, curve_cost,
                slopes, open_ptr, open_from, open_to,
            )  # fmt: skip
            if cost > limit:
                continue
            found = now - paid[k, count] + cost
            if weight != 0.0:
                old = ends[k, count - 1]
                ends[k, count - 1] = new_ends[count - 1] if upto == count else old
                found = _worth(counts, ends, paid, weight) - paid[k, count] + cost
                ends[k, count - 1] = old
            if found > allowed:
                continue
            for p in range(hi - lo + 1):
                orders[k, lo + p] = trial[p]
            rise = cost - paid[k, count]
            for p in range(lo, upto):
                ends[k, p], paid[k, p] = new_ends[p], new_paid[p]
            for p in range(upto, count):
                paid[k, p] += rise
            paid[k, count] = cost
        now = found
        if now < best - 1e-9:
            best = now
            best_orders[:] = orders
            best_counts[:] = counts
            if best <= 0.0:
                return best
    return best


@njit(cache=True, nogil=True)
def _hand_over(  # type: ignore[no-untyped-def]
    orders, counts, ends, paid, now, allowed, weight, trial, seed, minutes, mode_cost, gap, first, last, last_by,
    rate, release, start_most, end_most, curve_ptr, curve_time, curve_cost, slopes, open_ptr, open_from, open_to,
):  # fmt: skip
    """Move one task to another machine; return the new cost, or the old one when it was refused."""
    machines = len(counts)
    a, b = _below(seed, machines), _below(seed, machines)
    if a == b or counts[a] == 0:
        return now
    i = _below(seed, counts[a])
    t = orders[a, i]
    if minutes[b, t] < 0:
        return now
    j = _below(seed, counts[b] + 1)
    _cut(orders[a], counts, a, i)
    _put(orders[b], counts, b, j, t)
    for k in (a, b):
        _book(
            k, orders[k], counts[k], ends[k], paid[k], minutes, mode_cost, gap, first, last, last_by, rate, release,
            start_most, end_most, curve_ptr, curve_time, curve_cost, slopes, open_ptr, open_from, open_to,
        )  # fmt: skip
    found = _worth(counts, ends, paid, weight)
    if found <= allowed:
        return found
    _cut(orders[b], counts, b, j)
    _put(orders[a], counts, a, i, t)
    for k in (a, b):
        _book(
            k, orders[k], counts[k], ends[k], paid[k], minutes, mode_cost, gap, first, last, last_by, rate, release,
            start_most, end_most, curve_ptr, curve_time, curve_cost, slopes, open_ptr, open_from, open_to,
        )  # fmt: skip
    return now


@njit(cache=True, nogil=True)
def _cut(order, counts, k, i):  # type: ignore[no-untyped-def]
    for p in range(i, counts[k] - 1):
        order[p] = order[p + 1]
    counts[k] -= 1


@njit(cache=True, nogil=True)
def _put(order, counts, k, j, t):  # type: ignore[no-untyped-def]
    for p in range(counts[k], j, -1):
        order[p] = order[p - 1]
    order[j] = t
    counts[k] += 1
