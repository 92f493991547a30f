"""What a plan leaves of a stock, at every quarter hour.

Question answered: *how much could one more block take here without starving what is planned later?* Input: a core problem and
plan; later are also the weeks behind the horizon, which take at their beginning.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scheduler.solver.problem import Problem
from scheduler.solver.result import Block, CorePlan


def stock_room(problem: Problem, core: CorePlan, s: int, without: Block | None = None) -> NDArray[np.float64]:
    """Return what can still be taken of stock `s` at each quarter of the horizon.

    Parameters
    ----------
    without : Block, optional
        A block of the plan that is thought away.
    """
    stock, length = problem.stocks[s], problem.horizon
    starts = [bucket.start for bucket in problem.buckets]
    # Behind the quarters of the horizon one place for each week, at its beginning.
    times = np.array([*range(length), *sorted(starts)])
    parts = [(b.task, b.mode, b.amount, b.start) for b in core.blocks if b != without]
    parts += [(x.task, x.mode, x.amount, starts[x.bucket]) for x in core.later]
    change = np.zeros(len(times) + 1)
    for at, amount in stock.deliveries:
        change[np.searchsorted(times, at)] += amount
    for t, m, amount, start in parts:
        taken = problem.tasks[t].modes[m].consumes.get(s, 0)
        if taken:
            change[np.searchsorted(times, start)] -= taken * amount / problem.tasks[t].size
    have = stock.initial + np.cumsum(change[:-1])
    return np.minimum.accumulate(have[::-1])[::-1][:length]
