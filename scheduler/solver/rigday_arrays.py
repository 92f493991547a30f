"""A problem with `days` as flat arrays, so that compiled code can walk it.

Question answered: *the same problem, in a shape that a tight loop can read.* Lists of varying length
are stored end to end with a pointer array (`x_ptr[i] : x_ptr[i + 1]`). Windows are cut by days. Costs
are floats per whole task; a task that must be done gets a drop cost above everything else.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scheduler.solver import rigday_layout as at
from scheduler.solver.dispatch_order import potentials
from scheduler.solver.problem import Curve, LagKind, Problem
from scheduler.solver.resources import FAR, Moves
from scheduler.solver.rigday_calendar import Calendar
from scheduler.solver.rigday_layout import Floats, Ints
from scheduler.solver.rigday_lists import floats_of, ints_of, land_of, rest_of, rows_of, stacked

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


def compile_arrays(problem: Problem, calendar: Calendar | None = None) -> Farm:
    """Return the flat form of a problem."""
    calendar = calendar or Calendar(problem)
    parts: dict[str, Any] = {}
    parts.update(_tasks(problem))
    parts.update(_curves(problem))
    parts.update(_modes(problem, calendar))
    parts.update(_lags(problem))
    parts.update(_resources(problem, calendar))
    parts.update(land_of(problem))
    parts.update(rest_of(problem, calendar))
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
    own = floats_of(t.drop_cost if t.optional else must for t in tasks)
    size = ints_of(t.size for t in tasks)
    return {
        "t_size": size,
        "t_chunk": ints_of(-1 if t.min_chunk is None else t.min_chunk for t in tasks),
        "t_release": ints_of(t.release for t in tasks),
        "t_start_most": ints_of(t.latest_start for t in tasks),
        "t_end_most": ints_of(t.latest_end for t in tasks),
        "t_own": own,
        "t_drop": own / np.maximum(1, size),
        "t_pot": floats_of(potentials(problem)),
        "t_later": ints_of(int(t.later) for t in tasks),
        "t_price": floats_of(problem.before.price.get(i, 0) for i in range(len(tasks))),
        "t_minutes": ints_of(
            max(1, min((m.minutes_for(t.size, t.size) for m in t.modes), default=1)) for t in tasks
        ),
        "t_site": ints_of(t.modes[0].site if t.modes else -1 for t in tasks),
    }


def _curves(problem: Problem) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for name in ("end", "start"):
        curves: list[Curve | None] = [getattr(t, f"{name}_curve") for t in problem.tasks]
        out[f"{name}_ptr"], out[f"{name}_time"] = rows_of(
            [[p[0] for p in c.points] if c else [] for c in curves]
        )
        _, out[f"{name}_cost"] = rows_of([[p[1] for p in c.points] if c else [] for c in curves], np.float64)
        slopes = [(c.slope_before, c.slope_after) if c else (0.0, 0.0) for c in curves]
        out[f"{name}_slopes"] = np.array(slopes, np.float64).reshape(-1, 2)
    return out


def _modes(problem: Problem, calendar: Calendar) -> dict[str, Any]:
    modes = [m for t in problem.tasks for m in t.modes]
    m_ptr, _ = rows_of([t.modes for t in problem.tasks], object)
    cuts = [cut for t in range(len(problem.tasks)) for cut in calendar.windows[t]]
    risks = [_risks(m.windows, cut) for m, cut in zip(modes, cuts, strict=True)]
    w_ptr, w_day = rows_of([[c[0] for c in cut] for cut in cuts])
    n_ptr, needs = rows_of([m.needs for m in modes], object)
    o_ptr, option = rows_of([n.any_of for n in needs])
    u_ptr, u_stock = rows_of([[s for s, q in m.consumes.items() if q > 0] for m in modes])
    return {
        "m_ptr": m_ptr,
        "m_minutes": ints_of(m.minutes for m in modes),
        "m_fixed": ints_of(m.fixed_minutes for m in modes),
        "m_site": ints_of(m.site for m in modes),
        "m_family": ints_of(m.family for m in modes),
        "m_lead": ints_of(m.lead if m.led >= 0 else -1 for m in modes),
        "m_led": ints_of(m.led for m in modes),
        "m_cost": floats_of(m.cost for m in modes),
        "w_ptr": w_ptr,
        "w_day": w_day,
        "w_start": rows_of([[c[1] for c in cut] for cut in cuts])[1],
        "w_end": rows_of([[c[2] for c in cut] for cut in cuts])[1],
        "w_risk": rows_of(risks, np.float64)[1],
        "n_ptr": n_ptr,
        "n_amount": ints_of(n.amount for n in needs),
        "o_ptr": o_ptr,
        "option": option,
        "u_ptr": u_ptr,
        "u_stock": u_stock,
        "u_take": rows_of([[q for q in m.consumes.values() if q > 0] for m in modes], np.float64)[1],
    }


def _risks(windows: Any, cut: list[tuple[int, int, int]]) -> list[float]:
    if windows is None:
        return [0.0] * len(cut)
    plain = [(w.start, w.end, w.risk_per_minute) for w in windows]
    if all(before[1] <= after[0] for before, after in pairwise(plain)):
        # In order and apart: the only window that a cut can lie in is the last that has begun.
        begun = [start for start, _, _ in plain]
        own = [plain[bisect_right(begun, a) - 1] for _, a, _ in cut]
        return [
            risk if start <= a and b <= end else 0.0
            for (start, end, risk), (_, a, b) in zip(own, cut, strict=True)
        ]
    return [next((risk for start, end, risk in plain if start <= a and b <= end), 0.0) for _, a, b in cut]


def _lags(problem: Problem) -> dict[str, Any]:
    before: list[list[tuple[int, int]]] = [[] for _ in problem.tasks]
    after: list[list[tuple[int, int]]] = [[] for _ in problem.tasks]
    for i, lag in enumerate(problem.lags):
        before[lag.after].append((lag.before, i))
        after[lag.before].append((lag.after, i))
    before_ptr, _ = rows_of(before, object)
    after_ptr, _ = rows_of(after, object)
    return {
        "before_ptr": before_ptr,
        "before": np.array([x for row in before for x in row], np.int64).reshape(-1, 2),
        "after_ptr": after_ptr,
        "after": np.array([x for row in after for x in row], np.int64).reshape(-1, 2),
        "l_least": ints_of(-FAR if lag.least is None else lag.least for lag in problem.lags),
        "l_most": ints_of(FAR if lag.most is None else lag.most for lag in problem.lags),
        "l_kind": ints_of(KINDS[lag.kind] for lag in problem.lags),
        "l_loose": ints_of(int(lag.loose) for lag in problem.lags),
    }


def _coded_changes(moves: Sequence[Moves | None]) -> dict[int, NDArray[np.int64] | None]:
    """Return, by identity of moves, their changes; of one on the way the minutes below 0, and one less (see `rigday_cost.gap`)."""
    coded: dict[tuple[int, int], NDArray[np.int64]] = {}
    out: dict[int, NDArray[np.int64] | None] = {id(None): None}
    for one in moves:
        if one is None or one.change is None or one.on_the_way is None:
            out[id(one)] = None if one is None else one.change
            continue
        pair = id(one.change), id(one.on_the_way)
        if pair not in coded:
            coded[pair] = np.where(one.on_the_way, -1 - one.change, one.change)
        out[id(one)] = coded[pair]
    return out


def _resources(problem: Problem, calendar: Calendar) -> dict[str, Any]:
    days, resources = len(problem.days), problem.resources
    matrices: list[Any] = []
    changes: list[Any] = []
    coded = _coded_changes([r.moves for r in resources])

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
    open_ptr, _ = rows_of(opened, object)
    initial = [m.initial for m in moves if m is not None and m.initial is not None]
    sites = max((m.minutes.shape[0] for m in moves if m is not None), default=1)
    ranks = iter(range(len(initial)))
    out: dict[str, Any] = {
        "r_cumulative": ints_of(int(r.cumulative) for r in resources),
        "r_capacity": ints_of(r.capacity for r in resources),
        "r_matrix": ints_of(index(matrices, m.minutes if m else None) for m in moves),
        "r_change": ints_of(index(changes, coded[id(m)]) for m in moves),
        "r_depot": ints_of(-1 if m is None or m.depot is None else m.depot for m in moves),
        "r_home": ints_of(int(m is not None and m.home_daily and m.depot is not None) for m in moves),
        "r_all_pairs": ints_of(int(m is not None and m.all_pairs) for m in moves),
        "r_initial": ints_of(next(ranks) if m is not None and m.initial is not None else -1 for m in moves),
        "r_move_cost": floats_of(m.cost_per_minute if m else 0.0 for m in moves),
        "r_handover": floats_of(r.handover for r in resources),
        "r_hours": np.array(
            [(h.normal_per_day, h.most_per_day) if h else (FAR, FAR) for h in hours], np.int64
        ).reshape(-1, 2),
        "r_pay": np.array(
            [(h.cost_per_minute, h.overtime_per_minute) if h else (0.0, 0.0) for h in hours], np.float64
        ).reshape(-1, 2),
        "r_week": r_week,
        "week_most": ints_of(week_most) if week_most else np.zeros(1, np.int64),
        "open_ptr": open_ptr,
        "open_start": ints_of(a for row in opened for a, _ in row),
        "open_end": ints_of(b for row in opened for _, b in row),
        "initial": np.array(initial, np.int64).reshape(len(initial), -1)
        if initial
        else np.zeros((1, 1), np.int64),
    }
    out["matrix"] = stacked(matrices, sites)
    out["change"] = stacked(changes, max((c.shape[0] for c in changes), default=1))
    return out
