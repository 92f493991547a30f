"""Tear out a part of the plan and put it back better: the compiled heart of the search.

Question answered: *which blocks should go, and in which order should the torn-out work come back?* Five
ways to tear: the fields around a place, one resource's day, one day of several resources, single tasks,
and room for a task that is left out. What must wait for torn-out work goes with it. Acceptance by
simulated annealing.

References ---------- Christiaens and Vanden Berghe (2020), "Slack induction by string removals for
vehicle routing problems", Transportation Science 54(2): removal of neighbouring strings, greedy
insertion with blinks (from memory).
"""

from __future__ import annotations

from numba import njit

from scheduler.solver import rigday_layout as at
from scheduler.solver.rigday_cost import below, draw, end_cost
from scheduler.solver.rigday_insert import insert_task
from scheduler.solver.rigday_layout import CASE, Floats, Ints
from scheduler.solver.rigday_state import withdraw


@njit(**CASE)
def mark(si: Ints, sf: Floats, t: int, count: int) -> int:
    """Put a task on the list once."""
    if si[si[at.MARKS] + t] == 0 and count < at.MOST_TASKS:
        si[si[at.MARKS] + t] = 1
        si[si[at.TODO] + count] = t
        return count + 1
    return count


@njit(**CASE)
def tear_block(fi: Ints, ff: Floats, si: Ints, sf: Floats, b: int, count: int) -> int:
    """Take out a block, and all work that must wait for its task."""
    if si[si[at.B_ALIVE] + b] != 1 or si[si[at.B_PIN] + b] == 1:
        return count
    t = si[si[at.B_TASK] + b]
    withdraw(fi, ff, si, sf, b)
    for k in range(si[si[at.COUNT] + t] - 1, -1, -1):
        rest = si[si[at.OWN] + t * at.MOST_BLOCKS + k]
        if si[si[at.B_AMOUNT] + rest] < fi[fi[at.T_CHUNK] + t] and si[si[at.B_PIN] + rest] == 0:
            withdraw(fi, ff, si, sf, rest)
    count = mark(si, sf, t, count)
    return tear_followers(fi, ff, si, sf, t, count)


@njit(**CASE)
def tear_followers(fi: Ints, ff: Floats, si: Ints, sf: Floats, t: int, count: int) -> int:
    """Take out what may not run while t is not wholly placed."""
    stack = si[at.TRAIL]
    si[stack] = t
    n = 1
    while n > 0:
        n -= 1
        here = si[stack + n]
        for i in range(fi[fi[at.AFTER_PTR] + here], fi[fi[at.AFTER_PTR] + here + 1]):
            f, lag = fi[fi[at.AFTER] + i * 2 + 0], fi[fi[at.AFTER] + i * 2 + 1]
            if fi[fi[at.L_LOOSE] + lag] or si[si[at.COUNT] + f] == 0:
                continue
            for k in range(si[si[at.COUNT] + f] - 1, -1, -1):
                b = si[si[at.OWN] + f * at.MOST_BLOCKS + k]
                if si[si[at.B_PIN] + b] == 0:
                    withdraw(fi, ff, si, sf, b)
            count = mark(si, sf, f, count)
            if n < at.TRAIL_LENGTH:
                si[stack + n] = f
                n += 1
    return count


@njit(**CASE)
def tear_task(fi: Ints, ff: Floats, si: Ints, sf: Floats, t: int, count: int) -> int:
    """Take out a whole task."""
    for k in range(si[si[at.COUNT] + t] - 1, -1, -1):
        if k < si[si[at.COUNT] + t]:
            count = tear_block(fi, ff, si, sf, si[si[at.OWN] + t * at.MOST_BLOCKS + k], count)
    return mark(si, sf, t, count)


@njit(**CASE)
def tear_row(
    fi: Ints,
    ff: Floats,
    si: Ints,
    sf: Floats,
    r: int,
    d: int,
    lo: int,
    hi: int,
    share: float,
    count: int,
) -> int:
    """Take out blocks of a resource's day that overlap [lo, hi], each with a chance."""
    for i in range(si[si[at.ROW_COUNT] + r * fi[at.DAYS] + d] - 1, -1, -1):
        if i >= si[si[at.ROW_COUNT] + r * fi[at.DAYS] + d]:
            continue
        b = si[si[at.ROWS] + (r * fi[at.DAYS] + d) * at.DAY_LENGTH + i]
        if si[si[at.B_END] + b] > lo and si[si[at.B_START] + b] < hi and draw(si, sf) < share:
            count = tear_block(fi, ff, si, sf, b, count)
    return count


@njit(**CASE)
def tear_around(fi: Ints, ff: Floats, si: Ints, sf: Floats, seed: int, count: int) -> int:
    """Take out tasks of the fields near a place."""
    site = fi[fi[at.T_SITE] + seed]
    if site < 0:
        return tear_task(fi, ff, si, sf, seed, count)
    reach = 1 + below(si, sf, min(4, fi[at.NEAR_COUNT]))
    share = 0.35 + 0.65 * draw(si, sf)
    for k in range(reach):
        near = fi[fi[at.NEAR] + site * fi[at.NEAR_COUNT] + k]
        for i in range(fi[fi[at.SITE_PTR] + near], fi[fi[at.SITE_PTR] + near + 1]):
            if draw(si, sf) < share:
                count = tear_task(fi, ff, si, sf, fi[fi[at.SITE_TASK] + i], count)
    return count


@njit(**CASE)
def tear_days(fi: Ints, ff: Floats, si: Ints, sf: Floats, seed: int, count: int) -> int:
    """Take out a resource's day, or a stretch of days, and now and then that of a second one."""
    resources, days = fi[at.RESOURCES], fi[at.DAYS]
    r, d = below(si, sf, resources), below(si, sf, days)
    if si[si[at.COUNT] + seed] > 0:
        b = si[si[at.OWN] + seed * at.MOST_BLOCKS + below(si, sf, si[si[at.COUNT] + seed])]
        if si[si[at.B_DAY] + b] < days:
            d = si[si[at.B_DAY] + b]
            r = si[
                si[at.B_RES]
                + b * fi[at.NEEDS]
                + below(
                    si,
                    sf,
                    fi[fi[at.N_PTR] + si[si[at.B_MODE] + b] + 1] - fi[fi[at.N_PTR] + si[si[at.B_MODE] + b]],
                )
            ]
    length = 1 + below(si, sf, 3) if draw(si, sf) < 0.5 else 1
    share = 1.0 if draw(si, sf) < 0.6 else 0.6
    for e in range(d, min(days, d + length)):
        count = tear_row(fi, ff, si, sf, r, e, -1, 1 << 40, share, count)
    if draw(si, sf) < 0.4:
        other = below(si, sf, resources)
        e = min(days - 1, max(0, d + below(si, sf, 3) - 1))
        count = tear_row(fi, ff, si, sf, other, e, -1, 1 << 40, share, count)
    return count


@njit(**CASE)
def tear_slice(fi: Ints, ff: Floats, si: Ints, sf: Floats, count: int) -> int:
    """Take out a stretch of hours of one day across several resources."""
    resources, days = fi[at.RESOURCES], fi[at.DAYS]
    d = below(si, sf, days)
    tries = 2 + below(si, sf, 6)
    for _ in range(tries):
        r = below(si, sf, resources)
        count = tear_row(fi, ff, si, sf, r, d, -1, 1 << 40, 0.7, count)
        if count > 24:
            break
    return count


@njit(**CASE)
def tear_for(fi: Ints, ff: Floats, si: Ints, sf: Floats, t: int, count: int) -> int:
    """Make room for a task that is left out, in one of its windows."""
    count = mark(si, sf, t, count)
    for i in range(fi[fi[at.BEFORE_PTR] + t], fi[fi[at.BEFORE_PTR] + t + 1]):
        o = fi[fi[at.BEFORE] + i * 2 + 0]
        if si[si[at.LEFT] + o] > 0:
            count = mark(si, sf, o, count)
            if draw(si, sf) < 0.7:
                t = o
    m = fi[fi[at.M_PTR] + t] + below(si, sf, fi[fi[at.M_PTR] + t + 1] - fi[fi[at.M_PTR] + t])
    n_windows = fi[fi[at.W_PTR] + m + 1] - fi[fi[at.W_PTR] + m]
    if n_windows == 0:
        return count
    w = fi[fi[at.W_PTR] + m] + below(si, sf, n_windows)
    d = fi[fi[at.W_DAY] + w]
    lo = fi[fi[at.W_START] + w] + int(
        draw(si, sf) * max(1, fi[fi[at.W_END] + w] - fi[fi[at.W_START] + w] - fi[at.DAY_SPAN] // 24)
    )
    length = int(fi[fi[at.T_MINUTES] + t] * (0.8 + draw(si, sf)))
    for i in range(fi[fi[at.N_PTR] + m], fi[fi[at.N_PTR] + m + 1]):
        a, b = fi[fi[at.O_PTR] + i], fi[fi[at.O_PTR] + i + 1]
        r = fi[fi[at.OPTION] + a + below(si, sf, b - a)]
        count = tear_row(fi, ff, si, sf, r, d, lo, lo + length, 1.0, count)
    return count


@njit(**CASE)
def tear(fi: Ints, ff: Floats, si: Ints, sf: Floats, waiting: int) -> int:
    """Choose a way to tear and do it; return how many tasks are on the list."""
    tasks, pool = fi[at.TASKS], si[at.POOL]
    seed = below(si, sf, tasks)
    kind = draw(si, sf)
    if kind < 0.30:
        count = tear_around(fi, ff, si, sf, seed, 0)
    elif kind < 0.60:
        count = tear_days(fi, ff, si, sf, seed, 0)
    elif kind < 0.70:
        count = tear_slice(fi, ff, si, sf, 0)
    elif kind < 0.80 or waiting == 0:
        count = 0
        for _ in range(1 + below(si, sf, 5)):
            count = tear_task(fi, ff, si, sf, below(si, sf, tasks), count)
    else:
        seed = si[pool + below(si, sf, waiting)]
        count = tear_for(fi, ff, si, sf, seed, 0)
    site = fi[fi[at.T_SITE] + seed]
    if waiting > 0:
        extra = waiting if waiting <= 8 else 1 + below(si, sf, 4)
        for i in range(extra):
            t = si[pool + i] if waiting <= 8 else si[pool + below(si, sf, waiting)]
            if draw(si, sf) < 0.7:
                count = mark(si, sf, t, count)
        if site >= 0 and waiting > 8:
            for k in range(min(fi[at.NEAR_COUNT], 5)):
                near = fi[fi[at.NEAR] + site * fi[at.NEAR_COUNT] + k]
                for i in range(fi[fi[at.SITE_PTR] + near], fi[fi[at.SITE_PTR] + near + 1]):
                    if si[si[at.LEFT] + fi[fi[at.SITE_TASK] + i]] > 0:
                        count = mark(si, sf, fi[fi[at.SITE_TASK] + i], count)
    return count


@njit(**CASE)
def rank(fi: Ints, ff: Floats, si: Ints, sf: Floats, count: int) -> None:
    """Sort the torn-out tasks by one of several ideas, with noise."""
    idea = below(si, sf, 7)
    noise = 0.5 * draw(si, sf)
    todo, keys = si[at.TODO], si[at.KEYS]
    for i in range(count):
        t = si[todo + i]
        u = draw(si, sf)
        minutes = fi[fi[at.T_MINUTES] + t] * si[si[at.LEFT] + t] / fi[fi[at.T_SIZE] + t] + 1.0
        if idea == 0:
            key = u
        elif idea <= 2:
            key = -ff[fi[at.T_POT] + t] / minutes
        elif idea == 3:
            now = fi[fi[at.T_RELEASE] + t]
            ten, two = now + 10 * fi[at.DAY_SPAN], now + 2 * fi[at.DAY_SPAN]
            key = -(end_cost(fi, ff, t, ten) - end_cost(fi, ff, t, two)) / minutes
        elif idea == 4:
            m = fi[fi[at.M_PTR] + t]
            k = fi[fi[at.W_PTR] + m + 1] - fi[fi[at.W_PTR] + m]
            key = 1.0 * k
        elif idea == 5:
            key = -minutes
        else:
            key = -ff[fi[at.T_OWN] + t] / minutes
        key *= 1.0 - noise + 2.0 * noise * u
        k = i
        while k > 0 and sf[keys + k - 1] > key:
            sf[keys + k], si[todo + k] = sf[keys + k - 1], si[todo + k - 1]
            k -= 1
        sf[keys + k], si[todo + k] = key, t


@njit(**CASE)
def put_back(fi: Ints, ff: Floats, si: Ints, sf: Floats, count: int, blink: float) -> None:
    """Insert the torn-out tasks; those that must wait come when what they wait for is in."""
    rank(fi, ff, si, sf, count)
    todo = si[at.TODO]
    for _ in range(5):
        waiting = 0
        for k in range(count):
            t = si[todo + k]
            if si[si[at.MARKS] + t] != 1:
                continue
            blocked = False
            for j in range(fi[fi[at.BEFORE_PTR] + t], fi[fi[at.BEFORE_PTR] + t + 1]):
                o = fi[fi[at.BEFORE] + j * 2 + 0]
                if si[si[at.LEFT] + o] > 0 and (
                    fi[fi[at.L_LOOSE] + fi[fi[at.BEFORE] + j * 2 + 1]] == 0 or si[si[at.MARKS] + o] == 1
                ):
                    blocked = True
            if blocked:
                waiting += 1
                continue
            insert_task(fi, ff, si, sf, t, blink)
            si[si[at.MARKS] + t] = 2
        if waiting == 0:
            break
    for i in range(count):
        si[si[at.MARKS] + si[todo + i]] = 0
