"""One carrier's day, priced exactly: the cheapest way through the fields minute by minute. Compiled.

Question answered: *with this gain for each minute of work in each field, what is the least that any day of this
machine can cost?* Times count from the day's opening. The day leaves the yard, goes from field to field, begins each
visit with its fixed minutes, works on without a break and no longer than the whole field takes, stays inside windows,
may wait between visits, and comes home in time. A field may be visited again: that only makes the bound lower.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from scheduler.solver.rigday_layout import CASE, Floats, Ints


@njit(**CASE)
def cheapest_day(
    gain: Floats,
    since: Ints,
    fixed: Ints,
    most: Ints,
    charge: Floats,
    out: Ints,
    hop: Ints,
    back: Ints,
    rate: float,
) -> float:
    """Return the least cost of a day; 0 is a day at home.

    Parameters
    ----------
    gain : (fields, minutes)
        Cost of a minute of work, from that minute on (negative where it pays).
    since : (fields, minutes + 1)
        How long the window has been open at each time; -1 where it is closed just before.
    fixed, most, charge, out, back : (fields,)
        Fixed minutes and most minutes of work of a visit, its cost (it may pay), minutes from and to the yard.
    hop : (fields, fields)
        Minutes from field to field.
    rate : float
        Cost of a minute on the road.
    """
    fields, minutes = gain.shape
    ended = np.full((minutes + 1, fields), np.inf)
    gone = np.zeros((fields, minutes + 1))
    begun = np.full((fields, minutes + 1), np.inf)
    queue = np.zeros((fields, minutes + 2), np.int64)
    head, tail = np.zeros(fields, np.int64), np.zeros(fields, np.int64)
    best = 0.0
    for t in range(minutes + 1):
        # First all work that goes on, then what begins: a road and fixed minutes of nothing take no time.
        for i in range(fields):
            if since[i, t] < 0:
                head[i] = tail[i]
            if t > 0:
                ended[t, i] = ended[t - 1, i]
                gone[i, t] = gone[i, t - 1]
                if since[i, t] > 0 and gain[i, t - 1] < np.inf:
                    gone[i, t] += gain[i, t - 1]
            while head[i] < tail[i] and queue[i, head[i]] < t - most[i]:
                head[i] += 1
            if head[i] < tail[i]:
                cost = begun[i, queue[i, head[i]]] + gone[i, t]
                if cost < ended[t, i]:
                    ended[t, i] = cost
                    if t + back[i] <= minutes:
                        best = min(best, cost + rate * back[i])
        for i in range(fields):
            start = t - fixed[i]
            if start < 0 or since[i, t] < fixed[i]:
                continue
            came = rate * out[i] if start >= out[i] else np.inf
            for j in range(fields):
                left = start - hop[j, i]
                if left >= 0:
                    came = min(came, ended[left, j] + rate * hop[j, i])
            begun[i, t] = came + charge[i] - gone[i, t]
            while tail[i] > head[i] and begun[i, queue[i, tail[i] - 1]] >= begun[i, t]:
                tail[i] -= 1
            queue[i, tail[i]] = t
            tail[i] += 1
    return best


def warm_up() -> None:
    """Build the compiled function."""
    whole, real = np.zeros(1, np.int64), np.zeros(1)
    cheapest_day(
        np.zeros((1, 1)),
        np.zeros((1, 2), np.int64),
        whole,
        whole,
        real,
        whole,
        np.zeros((1, 1), np.int64),
        whole,
        0.0,
    )
