"""A problem with `days` as flat arrays, so that compiled code can walk it.

Question answered: *the same problem, in a shape that a tight loop can read.* Lists of varying length
are stored end to end with a pointer array (`x_ptr[i] : x_ptr[i + 1]`). Windows are cut by days. Costs
are floats per whole task; a task that must be done gets a drop cost above everything else.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scheduler.solver import rigday_layout as at
from scheduler.solver.dispatch import potentials
from scheduler.solver.problem import FAR, Curve, LagKind, Problem
from scheduler.solver.rigday_calendar import Calendar
from scheduler.solver.rigday_layout import NEAR_SITES, Floats, Ints

KINDS = {LagKind.END_START: 0, LagKind.START_START: 1, LagKind.START_END: 2, LagKind.END_END: 3}


@dataclass(frozen=True)
class Farm:
    """A problem in flat form: whole numbers, floats, and the counts a caller wants to see."""

    ints: Ints
    floats: Floats
    tasks: int
    days: int
    needs: int
    m_ptr: Ints
    n_ptr: Ints
    week_most: Ints


def _rows(lists: Sequence[Sequence[Any]], kind: type = np.int64) -> tuple[Ints, NDArray[Any]]:
    """Return pointers and the lists end to end."""
    ptr = np.zeros(len(lists) + 1, np.int64)
    ptr[1:] = np.cumsum([len(x) for x in lists])
    flat = [x for row in lists for x in row]
    return ptr, np.array(flat, kind)


def _ints(values: Iterable[Any]) -> Ints:
    return np.array(list(values), np.int64)


def _floats(values: Iterable[Any]) -> Floats:
    return np.array(list(values), np.float64)


def compile_arrays(problem: Problem, calendar: Calendar | None = None) -> Farm:
    """Return the flat form of a problem."""
    calendar = calendar or Calendar(problem)
    parts: dict[str, Any] = {}
    parts.update(_tasks(problem))
    parts.update(_curves(problem))
    parts.update(_modes(problem, calendar))
    parts.update(_lags(problem))
    parts.update(_resources(problem, calendar))
    parts.update(_land(problem))
    parts.update(_rest(problem, calendar))
    needs = max((len(m.needs) for t in problem.tasks for m in t.modes), default=1)
    counts = [
        len(problem.tasks),
        len(problem.resources),
        len(problem.days),
        max(1, needs),
        len(problem.buckets),
    ]
    counts += [parts["matrix"].shape[1], parts["change"].shape[1], parts["near"].shape[1]]
    counts.append(max((end - start for start, end in problem.days), default=1440))
    ints, floats = _pack(counts, parts)
    return Farm(
        ints, floats, counts[0], counts[2], counts[3], parts["m_ptr"], parts["n_ptr"], parts["week_most"]
    )


def _pack(counts: list[int], parts: dict[str, Any]) -> tuple[Ints, Floats]:
    """Lay all lists end to end behind a head that says where each begins."""
    head = np.zeros(at.FARM_HEAD, np.int64)
    head[: len(counts)] = counts
    where = at.FARM_HEAD
    for k, name in enumerate(at.FARM_INTS):
        head[len(counts) + k] = where
        where += parts[name].size
    ints = np.concatenate([head] + [parts[name].astype(np.int64).ravel() for name in at.FARM_INTS])
    where = 0
    for k, name in enumerate(at.FARM_FLOATS):
        ints[len(counts) + len(at.FARM_INTS) + k] = where
        where += parts[name].size
    floats = np.concatenate(
        [parts[name].astype(np.float64).ravel() for name in at.FARM_FLOATS] + [np.zeros(1)]
    )
    return ints, floats


def _tasks(problem: Problem) -> dict[str, Any]:
    tasks = problem.tasks
    must = 4.0 * sum(t.drop_cost for t in tasks if t.optional) + 1e6
    own = _floats(t.drop_cost if t.optional else must for t in tasks)
    size = _ints(t.size for t in tasks)
    return {
        "t_size": size,
        "t_chunk": _ints(-1 if t.min_chunk is None else t.min_chunk for t in tasks),
        "t_release": _ints(t.release for t in tasks),
        "t_start_most": _ints(t.latest_start for t in tasks),
        "t_end_most": _ints(t.latest_end for t in tasks),
        "t_own": own,
        "t_drop": own / np.maximum(1, size),
        "t_pot": _floats(potentials(problem)),
        "t_later": _ints(int(t.later) for t in tasks),
        "t_price": _floats(problem.before.price.get(i, 0) for i in range(len(tasks))),
        "t_minutes": _ints(
            max(1, min((m.minutes_for(t.size, t.size) for m in t.modes), default=1)) for t in tasks
        ),
        "t_site": _ints(t.modes[0].site if t.modes else -1 for t in tasks),
    }


def _curves(problem: Problem) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for name in ("end", "start"):
        curves: list[Curve | None] = [getattr(t, f"{name}_curve") for t in problem.tasks]
        out[f"{name}_ptr"], out[f"{name}_time"] = _rows(
            [[p[0] for p in c.points] if c else [] for c in curves]
        )
        _, out[f"{name}_cost"] = _rows([[p[1] for p in c.points] if c else [] for c in curves], np.float64)
        slopes = [(c.slope_before, c.slope_after) if c else (0.0, 0.0) for c in curves]
        out[f"{name}_slopes"] = np.array(slopes, np.float64).reshape(-1, 2)
    return out


def _modes(problem: Problem, calendar: Calendar) -> dict[str, Any]:
    modes = [m for t in problem.tasks for m in t.modes]
    m_ptr, _ = _rows([t.modes for t in problem.tasks], object)
    cuts = [cut for t in range(len(problem.tasks)) for cut in calendar.windows[t]]
    risks = [_risks(m.windows, cut) for m, cut in zip(modes, cuts, strict=True)]
    w_ptr, w_day = _rows([[c[0] for c in cut] for cut in cuts])
    n_ptr, needs = _rows([m.needs for m in modes], object)
    o_ptr, option = _rows([n.any_of for n in needs])
    u_ptr, u_stock = _rows([[s for s, q in m.consumes.items() if q > 0] for m in modes])
    return {
        "m_ptr": m_ptr,
        "m_minutes": _ints(m.minutes for m in modes),
        "m_fixed": _ints(m.fixed_minutes for m in modes),
        "m_site": _ints(m.site for m in modes),
        "m_family": _ints(m.family for m in modes),
        "m_cost": _floats(m.cost for m in modes),
        "w_ptr": w_ptr,
        "w_day": w_day,
        "w_start": _rows([[c[1] for c in cut] for cut in cuts])[1],
        "w_end": _rows([[c[2] for c in cut] for cut in cuts])[1],
        "w_risk": _rows(risks, np.float64)[1],
        "n_ptr": n_ptr,
        "n_amount": _ints(n.amount for n in needs),
        "o_ptr": o_ptr,
        "option": option,
        "u_ptr": u_ptr,
        "u_stock": u_stock,
        "u_take": _rows([[q for q in m.consumes.values() if q > 0] for m in modes], np.float64)[1],
    }


def _risks(windows: Any, cut: list[tuple[int, int, int]]) -> list[float]:
    if windows is None:
        return [0.0] * len(cut)
    return [next((w.risk_per_minute for w in windows if w.start <= a and b <= w.end), 0.0) for _, a, b in cut]


def _lags(problem: Problem) -> dict[str, Any]:
    before: list[list[tuple[int, int]]] = [[] for _ in problem.tasks]
    after: list[list[tuple[int, int]]] = [[] for _ in problem.tasks]
    for i, lag in enumerate(problem.lags):
        before[lag.after].append((lag.before, i))
        after[lag.before].append((lag.after, i))
    before_ptr, _ = _rows(before, object)
    after_ptr, _ = _rows(after, object)
    return {
        "before_ptr": before_ptr,
        "before": np.array([x for row in before for x in row], np.int64).reshape(-1, 2),
        "after_ptr": after_ptr,
        "after": np.array([x for row in after for x in row], np.int64).reshape(-1, 2),
        "l_least": _ints(-FAR if lag.least is None else lag.least for lag in problem.lags),
        "l_most": _ints(FAR if lag.most is None else lag.most for lag in problem.lags),
        "l_kind": _ints(KINDS[lag.kind] for lag in problem.lags),
        "l_loose": _ints(int(lag.loose) for lag in problem.lags),
    }


def _resources(problem: Problem, calendar: Calendar) -> dict[str, Any]:
    days, resources = len(problem.days), problem.resources
    matrices: list[Any] = []
    changes: list[Any] = []

    def index(store: list[Any], array: Any) -> int:
        if array is None:
            return -1
        for k, known in enumerate(store):
            if known is array:
                return k
        store.append(array)
        return len(store) - 1

    moves = [r.moves for r in resources]
    hours = [r.hours for r in resources]
    week_most: list[int] = []
    r_week = np.full((max(1, len(resources)), max(1, days)), -1, np.int64)
    for r, limit in enumerate(hours):
        if limit is None or limit.most_per_week >= FAR:
            continue
        for w, week in enumerate(limit.weeks):
            used = limit.used_before[w] if w < len(limit.used_before) else 0
            for d in week:
                if 0 <= d < days:
                    r_week[r, d] = len(week_most)
            week_most.append(limit.most_per_week - used)
    opened = [calendar.open[r][d] for r in range(len(resources)) for d in range(days)]
    open_ptr, _ = _rows(opened, object)
    initial = [m.initial for m in moves if m is not None and m.initial is not None]
    sites = max((m.minutes.shape[0] for m in moves if m is not None), default=1)
    ranks = iter(range(len(initial)))
    out: dict[str, Any] = {
        "r_cumulative": _ints(int(r.cumulative) for r in resources),
        "r_capacity": _ints(r.capacity for r in resources),
        "r_matrix": _ints(index(matrices, m.minutes if m else None) for m in moves),
        "r_change": _ints(index(changes, m.change if m else None) for m in moves),
        "r_depot": _ints(-1 if m is None or m.depot is None else m.depot for m in moves),
        "r_home": _ints(int(m is not None and m.home_daily and m.depot is not None) for m in moves),
        "r_all_pairs": _ints(int(m is not None and m.all_pairs) for m in moves),
        "r_initial": _ints(next(ranks) if m is not None and m.initial is not None else -1 for m in moves),
        "r_move_cost": _floats(m.cost_per_minute if m else 0.0 for m in moves),
        "r_hours": np.array(
            [(h.normal_per_day, h.most_per_day) if h else (FAR, FAR) for h in hours], np.int64
        ).reshape(-1, 2),
        "r_pay": np.array(
            [(h.cost_per_minute, h.overtime_per_minute) if h else (0.0, 0.0) for h in hours], np.float64
        ).reshape(-1, 2),
        "r_week": r_week,
        "week_most": _ints(week_most) if week_most else np.zeros(1, np.int64),
        "open_ptr": open_ptr,
        "open_start": _ints(a for row in opened for a, _ in row),
        "open_end": _ints(b for row in opened for _, b in row),
        "initial": np.array(initial, np.int64).reshape(len(initial), -1)
        if initial
        else np.zeros((1, 1), np.int64),
    }
    out["matrix"] = _stack(matrices, sites)
    out["change"] = _stack(changes, max((c.shape[0] for c in changes), default=1))
    return out


def _stack(arrays: list[Any], side: int) -> Ints:
    out = np.zeros((max(1, len(arrays)), side, side), np.int64)
    for k, array in enumerate(arrays):
        out[k, : array.shape[0], : array.shape[1]] = array
    return out


def _land(problem: Problem) -> dict[str, Any]:
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
    site_ptr, site_task = _rows(by_site)
    return {"near": near, "site_ptr": site_ptr, "site_task": site_task}


def _rest(problem: Problem, calendar: Calendar) -> dict[str, Any]:
    """Stocks by the stretch between deliveries, buckets, and the plan that people know."""
    cells, have = [], []
    for stock in problem.stocks:
        deliveries = sorted(stock.deliveries)
        cells.append([0] + [at for at, _ in deliveries])
        have.append(list(stock.initial + np.concatenate([[0], np.cumsum([q for _, q in deliveries])])))
    cell_ptr, cell_time = _rows(cells)
    needs = max((len(m.needs) for t in problem.tasks for m in t.modes), default=1)
    known: list[list[tuple[int, tuple[int, ...]]]] = [[] for _ in problem.tasks]
    for pin in problem.before.blocks:
        known[pin.task].append((calendar.day_of(pin.start), tuple(sorted(pin.resources))))
    p_ptr, _ = _rows(known, object)
    p_res = np.full((sum(len(k) for k in known), max(1, needs)), -1, np.int64)
    for i, (_, res) in enumerate(x for row in known for x in row):
        p_res[i, : len(res)] = res[: max(1, needs)]
    return {
        "cell_ptr": cell_ptr,
        "cell_time": cell_time,
        "cell_have": _rows(have, np.float64)[1],
        "bucket_start": _ints(b.start for b in problem.buckets),
        "bucket_end": _ints(b.end for b in problem.buckets),
        "p_ptr": p_ptr,
        "p_day": _ints(d for row in known for d, _ in row),
        "p_res": p_res,
    }
