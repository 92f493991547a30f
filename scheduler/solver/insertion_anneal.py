"""Annealing of the orders of one machine or of several, by rotations, swaps and tasks handed over. Compiled.

Question answered: *which orders are cheapest?* The arrays are those of `insertion_moves`.
"""

from __future__ import annotations

import math

from numba import njit

from scheduler.solver.insertion_moves import (
    CASE,
    HEAT_STEP,
    MACHINES,
    MINUTES,
    TASKS,
    Floats,
    Ints,
    below,
    book,
    draw,
    hand_over,
    price,
    stretch,
    take,
    worth,
)  # fmt: skip


@njit(**CASE)
def anneal_one(
    w: Ints, f: Floats, order: Ints, best_order: Ints, best: float, seed: Ints, steps: int, hot: float, cold: float,
    weight: float, ends: Ints, paid: Floats, trial: Ints, new_ends: Ints, new_paid: Floats,
) -> float:  # fmt: skip
    """Anneal the order of a single machine from heat `hot` to `cold`; keep the best; return its cost.

    With ``hot`` 0 the order is only priced.
    """
    n = w[TASKS]
    book(w, f, 0, order, n, ends, paid)
    now = paid[n] + weight * ends[n - 1]
    if hot <= 0.0 or n < 2:
        return now
    fall, heat = (cold / hot) ** (HEAT_STEP / max(1, steps)), hot
    for s in range(steps):
        if s % HEAT_STEP == 0:
            heat *= fall
        allowed = now - heat * math.log(max(1e-12, draw(seed)))
        lo, hi = stretch(order, n, trial, seed)
        cost, upto = price(w, f, 0, order, n, ends, paid, trial, lo, hi, allowed, new_ends, new_paid)
        found = cost
        if weight != 0.0:
            found += weight * (new_ends[n - 1] if upto == n else ends[n - 1])
        if cost > allowed or found > allowed:
            continue
        take(order, ends, paid, n, trial, lo, hi, upto, cost, new_ends, new_paid)
        now = found
        if now < best - 1e-9:
            best = now
            for p in range(n):
                best_order[p] = order[p]
            if best <= 0.0:
                return best
    return best


@njit(**CASE)
def anneal_many(
    w: Ints, f: Floats, orders: Ints, counts: Ints, best_orders: Ints, best_counts: Ints, best: float, seed: Ints,
    steps: int, hot: float, cold: float, weight: float, ends: Ints, paid: Floats, trial: Ints, new_ends: Ints,
    new_paid: Floats,
) -> float:  # fmt: skip
    """The same over several machines, between which tasks are handed over.

    With ``hot`` 0 the orders are only priced.
    """
    machines, n = w[MACHINES], w[TASKS]
    for k in range(machines):
        book(w, f, k, orders[k], counts[k], ends[k], paid[k])
    now = worth(counts, ends, paid, weight)
    if hot <= 0.0:
        return now
    fall = (cold / hot) ** (HEAT_STEP / max(1, steps))
    heat = hot
    for s in range(steps):
        if s % HEAT_STEP == 0:
            heat *= fall
        allowed = now - heat * math.log(max(1e-12, draw(seed)))
        k = below(seed, machines) if machines > 1 else 0
        count = counts[k]
        if machines > 1 and draw(seed) < 0.4:
            b = below(seed, machines)
            if b == k or count == 0:
                continue
            i, j = below(seed, count), below(seed, counts[b] + 1)
            if w[w[MINUTES] + b * n + orders[k, i]] < 0:
                continue
            hand_over(orders, counts, k, i, b, j)
            book(w, f, k, orders[k], counts[k], ends[k], paid[k])
            book(w, f, b, orders[b], counts[b], ends[b], paid[b])
            found = worth(counts, ends, paid, weight)
            if found > allowed:
                hand_over(orders, counts, b, j, k, i)
                book(w, f, k, orders[k], counts[k], ends[k], paid[k])
                book(w, f, b, orders[b], counts[b], ends[b], paid[b])
                continue
        else:
            if count < 2:
                continue
            lo, hi = stretch(orders[k], count, trial, seed)
            limit = allowed - now + paid[k, count] if weight == 0.0 else 1e300
            cost, upto = price(
                w, f, k, orders[k], count, ends[k], paid[k], trial, lo, hi, limit, new_ends, new_paid
            )
            if cost > limit:
                continue
            found = now - paid[k, count] + cost
            if weight != 0.0 and upto == count:
                old = ends[k, count - 1]
                ends[k, count - 1] = new_ends[count - 1]
                found = worth(counts, ends, paid, weight) - paid[k, count] + cost
                ends[k, count - 1] = old
            if found > allowed:
                continue
            take(orders[k], ends[k], paid[k], count, trial, lo, hi, upto, cost, new_ends, new_paid)
        now = found
        if now < best - 1e-9:
            best = now
            for q in range(machines):
                best_counts[q] = counts[q]
                for p in range(n):
                    best_orders[q, p] = orders[q, p]
            if best <= 0.0:
                return best
    return best
