"""Small lists of a problem in flat form: rows of varying length end to end, land, stocks, buckets, the plan that people know."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scheduler.solver.problem import Problem
from scheduler.solver.rigday_calendar import Calendar
from scheduler.solver.rigday_layout import NEAR_SITES, Floats, Ints


def rows_of(lists: Sequence[Sequence[Any]], kind: type = np.int64) -> tuple[Ints, NDArray[Any]]:
    """Return pointers and the lists end to end."""
    ptr = np.zeros(len(lists) + 1, np.int64)
    ptr[1:] = np.cumsum([len(x) for x in lists])
    flat = [x for row in lists for x in row]
    return ptr, np.array(flat, kind)


def ints_of(values: Iterable[Any]) -> Ints:
    return np.array(list(values), np.int64)


def floats_of(values: Iterable[Any]) -> Floats:
    return np.array(list(values), np.float64)


def stacked(arrays: list[Any], side: int) -> Ints:
    out = np.zeros((max(1, len(arrays)), side, side), np.int64)
    for k, array in enumerate(arrays):
        out[k, : array.shape[0], : array.shape[1]] = array
    return out


def land_of(problem: Problem) -> dict[str, Any]:
    """Neighbouring sites, and the tasks of each site."""
    moves = [r.moves for r in problem.resources if r.moves is not None]
    site_of = [t.modes[0].site if t.modes else -1 for t in problem.tasks]
    sites = max([m.minutes.shape[0] for m in moves] + [max(site_of, default=0) + 1, 1])
    by_site: list[list[int]] = [[] for _ in range(sites)]
    for t, site in enumerate(site_of):
        if site >= 0:
            by_site[site].append(t)
    used = np.array([bool(x) for x in by_site])
    count = min(NEAR_SITES, max(1, int(used.sum())))
    far = moves[0].minutes.astype(float) if moves else np.ones((sites, sites))
    near = np.zeros((sites, count), np.int64)
    for site in range(sites):
        row = np.where(used[: far.shape[0]], far[site] if site < far.shape[0] else 1.0, np.inf)
        row[site] = -1.0 if used[site] else np.inf
        near[site] = np.argsort(row, kind="stable")[:count]
    site_ptr, site_task = rows_of(by_site)
    return {"near": near, "site_ptr": site_ptr, "site_task": site_task}


def rest_of(problem: Problem, calendar: Calendar) -> dict[str, Any]:
    """Stocks by the stretch between deliveries, buckets, and the plan that people know."""
    cells, have = [], []
    for stock in problem.stocks:
        deliveries = sorted(stock.deliveries)
        cells.append([0] + [at for at, _ in deliveries])
        have.append(list(stock.initial + np.concatenate([[0], np.cumsum([q for _, q in deliveries])])))
    cell_ptr, cell_time = rows_of(cells)
    needs = max((len(m.needs) for t in problem.tasks for m in t.modes), default=1)
    known: list[list[tuple[int, tuple[int, ...]]]] = [[] for _ in problem.tasks]
    for pin in problem.before.blocks:
        known[pin.task].append((calendar.day_of(pin.start), tuple(sorted(pin.resources))))
    p_ptr, _ = rows_of(known, object)
    p_res = np.full((sum(len(k) for k in known), max(1, needs)), -1, np.int64)
    for i, (_, res) in enumerate(x for row in known for x in row):
        p_res[i, : len(res)] = res[: max(1, needs)]
    return {
        "cell_ptr": cell_ptr,
        "cell_time": cell_time,
        "cell_have": rows_of(have, np.float64)[1],
        "bucket_start": ints_of(b.start for b in problem.buckets),
        "bucket_end": ints_of(b.end for b in problem.buckets),
        "p_ptr": p_ptr,
        "p_day": ints_of(d for row in known for d, _ in row),
        "p_res": p_res,
    }
