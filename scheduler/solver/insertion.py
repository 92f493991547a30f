"""Local search on orders: annealing by moving, swapping and turning around blocks of the order of each machine.

Question answered: *in which order, on which machine, is late work and moving cheapest?* It serves problems in
which every task is one block on one unary machine and nothing else ties tasks together: there cost per time late
is where interval models are weak, and a million cheap moves a second find what they miss.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from scheduler.solver.insertion_anneal import anneal_many, anneal_one
from scheduler.solver.insertion_line import Line, anneal_line, line_of
from scheduler.solver.insertion_moves import HEAD, Floats, Ints, step
from scheduler.solver.problem import Curve, Mode, Problem, Task
from scheduler.solver.resources import FAR
from scheduler.solver.result import Block, CorePlan

MOST_CELLS = 4_000_000


def suits(problem: Problem) -> bool:
    """Tell whether a problem is nothing but orders of whole tasks on unary machines."""
    if problem.lags or problem.choices or problem.stocks or problem.pins or problem.before.price:
        return False
    used = {n.any_of for task in problem.tasks for mode in task.modes for n in mode.needs}
    machines = sorted({r for any_of in used for r in any_of})
    if not problem.tasks or len(machines) * len(problem.tasks) ** 2 > MOST_CELLS:
        return False
    for r in machines:
        res = problem.resources[r]
        if res.cumulative or res.capacity != 1 or (res.moves is not None and res.moves.all_pairs):
            return False
    return all(_plain(task) for task in problem.tasks)


def _plain(task: Task) -> bool:
    if task.optional or task.resumable or task.start_curve is not None or not task.modes:
        return False
    if task.end_curve is not None and task.end_curve.slope_before < 0:
        return False
    return all(len(m.needs) == 1 and m.windows is None and not m.consumes for m in task.modes)


@dataclass
class Shop:
    """The problem as flat arrays, and the lists that a plan is read back with (entries -1: cannot run there)."""

    problem: Problem
    machines: list[int]
    minutes: Ints
    mode: Ints
    due: Ints
    heat: float
    whole: Ints
    real: Floats
    line: Line | None = None


def shop_of(problem: Problem) -> Shop:
    """Return the arrays of a problem that `suits`."""
    tasks, n = problem.tasks, len(problem.tasks)
    machines = sorted({r for task in tasks for m in task.modes for r in m.needs[0].any_of})
    k = len(machines)
    minutes, mode = np.full((k, n), -1, np.int64), np.full((k, n), -1, np.int64)
    mode_cost = np.zeros((k, n))
    for t, task in enumerate(tasks):
        for i, r in enumerate(machines):
            ways = [m for m, way in enumerate(task.modes) if r in way.needs[0].any_of]
            if ways:
                best = min(
                    ways, key=lambda m: (task.modes[m].minutes_for(task.size, task.size), task.modes[m].cost)
                )
                mode[i, t] = best
                minutes[i, t] = task.modes[best].minutes_for(task.size, task.size)
                mode_cost[i, t] = task.modes[best].cost
    gap = np.zeros((k, n, n), np.int64)
    first, last = np.zeros((k, n), np.int64), np.zeros((k, n), np.int64)
    for i, r in enumerate(machines):
        _moves_of(problem, r, mode[i], gap[i], first[i], last[i])
    moves = [problem.resources[r].moves for r in machines]
    points = [_points(task.end_curve) for task in tasks]
    spans = [problem.resources[r].open or () for r in machines]
    slopes = np.array([(c.slope_before, c.slope_after) if (c := t.end_curve) else (0.0, 0.0) for t in tasks])
    rate = np.array([0.0 if m is None else m.cost_per_minute for m in moves])
    whole = [
        minutes, gap, first, last,
        [FAR if m is None else m.final_latest for m in moves],
        [t.release for t in tasks],
        [t.latest_start for t in tasks],
        [min(t.latest_end, problem.horizon) for t in tasks],
        _pointers([len(p) for p in points]),
        [p[0] for row in points for p in row],
        _pointers([len(s) for s in spans]),
        [a for row in spans for a, _ in row],
        [b for row in spans for _, b in row],
    ]  # fmt: skip
    real = [mode_cost, rate, [p[1] for row in points for p in row], slopes]
    flat, costs = _pack(n, k, whole, real)
    span = float(minutes.max(axis=0).sum()) / max(1, k)
    heat = span * (float(np.abs(slopes[:, 1]).mean()) + problem.makespan_weight + float(rate.max()))
    due = np.array([row[0][0] for row in points], np.int64)
    line = line_of(problem, machines[0], gap[0], first[0], minutes[0]) if k == 1 else None
    return Shop(problem, machines, minutes, mode, due, heat, flat, costs, line)


def _pack(n: int, k: int, whole: Sequence[Any], real: Sequence[Any]) -> tuple[Ints, Floats]:
    """Lay all lists end to end behind a head that says where each begins."""
    head = [n, k]
    at = len(HEAD)
    for row in whole:
        head.append(at)
        at += np.size(row)
    at = 0
    for row in real:
        head.append(at)
        at += np.size(row)
    flat = np.concatenate([np.array(head), *(np.asarray(row, np.int64).ravel() for row in whole)])
    costs = np.concatenate([np.asarray(row, np.float64).ravel() for row in real])
    return flat.astype(np.int64), costs


def _pointers(lengths: list[int]) -> Ints:
    return np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64)


def _points(curve: Curve | None) -> list[tuple[int, float]]:
    """Return the points of a curve, lifted so that no cost is below 0 from time 0 on."""
    if curve is None:
        return [(0, 0.0)]
    lowest = min(0.0, curve.at(0), *(float(c) for _, c in curve.points))
    return [(t, c - lowest) for t, c in curve.points]


def _moves_of(problem: Problem, r: int, mode: Ints, gap: Ints, first: Ints, last: Ints) -> None:
    moves = problem.resources[r].moves
    if moves is None:
        return
    ways: list[Mode | None] = [problem.tasks[t].modes[int(m)] if m >= 0 else None for t, m in enumerate(mode)]
    for a, one in enumerate(ways):
        if one is None:
            continue
        if one.site >= 0:
            first[a] = 0 if moves.initial is None else moves.initial[one.site]
            last[a] = 0 if moves.final is None else moves.final[one.site]
        for b, two in enumerate(ways):
            if two is not None and a != b:
                gap[a, b] = moves.gap(one.site, one.family, two.site, two.family)


class Orders:
    """The state of the search: the order of each machine, the best orders, and how often it has begun anew."""

    def __init__(self, shop: Shop, seed: int, plan: CorePlan | None = None) -> None:
        k, n = shop.minutes.shape
        self.shop = shop
        self.seed = np.array([seed * 2 + 1], np.int64)
        self.orders, self.counts = np.full((k, n), -1, np.int64), np.zeros(k, np.int64)
        if plan is None:
            self._by_rule()
        else:
            self._from_plan(plan)
        self.best_orders, self.best_counts = self.orders.copy(), self.counts.copy()
        self.best = np.inf
        self.best = self._run(1, 0.0, 0.0)

    def _by_rule(self) -> None:
        """Sort by due time and put each task where fewest minutes stand."""
        shop = self.shop
        load = np.zeros(len(shop.machines))
        for t in np.argsort(shop.due, kind="stable"):
            can = [i for i in range(len(load)) if shop.minutes[i, t] >= 0]
            i = min(can, key=lambda i: load[i] + shop.minutes[i, t])
            self.orders[i, self.counts[i]] = t
            self.counts[i] += 1
            load[i] += shop.minutes[i, t]

    def _from_plan(self, plan: CorePlan) -> None:
        row_of = {r: i for i, r in enumerate(self.shop.machines)}
        self.orders[:], self.counts[:] = -1, 0
        for block in sorted(plan.blocks, key=lambda b: (b.start, b.end)):
            i = row_of[block.resources[0]]
            self.orders[i, self.counts[i]] = block.task
            self.counts[i] += 1

    def _run(self, steps: int, hot: float, cold: float) -> float:
        shop, weight = self.shop, float(self.shop.problem.makespan_weight)
        k, n = shop.minutes.shape
        row = (np.zeros(n + 1, np.int64), np.zeros(n + 1, np.int64), np.zeros(n + 2))
        heat = (self.seed, steps, hot, cold, weight)
        if k == 1:
            own, best = self.orders[0], self.best_orders[0]
            if (line := shop.line) is not None:
                lists = (line.gap, line.task, line.slope)
                room = (np.zeros(n + 1, np.int64), np.zeros(n + 2), *row)
                return float(anneal_line(*lists, own, best, self.best, self.seed, steps, hot, cold, *room))
            room = (np.zeros(n + 1, np.int64), np.zeros(n + 2), *row)
            return float(anneal_one(shop.whole, shop.real, own, best, self.best, *heat, *room))
        orders = (self.orders, self.counts, self.best_orders, self.best_counts)
        room = (np.zeros((k, n + 1), np.int64), np.zeros((k, n + 2)), *row)
        return float(anneal_many(shop.whole, shop.real, *orders, self.best, *heat, *room))

    def improve(self, steps: int, hot: float, cold: float) -> bool:
        """Anneal for a number of moves; True when the best got better."""
        found = self._run(steps, hot, cold)
        better = found < self.best - 1e-9
        self.best = min(self.best, found)
        return better

    def back_to_best(self, other: CorePlan | None = None) -> None:
        """Go on from the best orders, or from those of another plan where they are cheaper."""
        if other is not None:
            self._from_plan(other)
            found = self._run(1, 0.0, 0.0)
            if found < self.best - 1e-9:
                self.best = found
                self.best_orders[:], self.best_counts[:] = self.orders, self.counts
        self.orders[:], self.counts[:] = self.best_orders, self.best_counts

    def plan(self) -> CorePlan:
        """Return the best orders, each block as early as it fits."""
        shop, blocks = self.shop, []
        for i, r in enumerate(shop.machines):
            at, before = 0, -1
            for p in range(int(self.best_counts[i])):
                t = int(self.best_orders[i, p])
                at, _ = step(shop.whole, shop.real, i, before, t, at)
                start = at - int(shop.minutes[i, t])
                blocks.append(
                    Block(start, int(at), t, int(shop.mode[i, t]), shop.problem.tasks[t].size, (r,))
                )
                before = t
        return CorePlan(tuple(sorted(blocks, key=lambda b: (b.start, b.end))))
