"""Local search on orders: annealing by moving, swapping and turning around blocks of the order of each machine.

Question answered: *in which order, on which machine, is late work and moving cheapest?* It serves problems in
which every task is one block on one unary machine and nothing else ties tasks together: there cost per time late
is where interval models are weak, and a million cheap moves a second find what they miss.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scheduler.solver.insertion_moves import anneal, price_machine
from scheduler.solver.problem import FAR, Curve, Mode, Problem, Task
from scheduler.solver.result import Block, CorePlan

LATE_PENALTY = 1e7
MOST_CELLS = 4_000_000
Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


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
    """The problem as arrays; machine-by-task entries are -1 where a task cannot run."""

    problem: Problem
    machines: list[int]
    minutes: Ints
    mode: Ints
    mode_cost: Floats
    gap: Ints
    first: Ints
    last: Ints
    last_by: Ints
    rate: Floats
    release: Ints
    start_most: Ints
    end_most: Ints
    curve_ptr: Ints
    curve_time: Ints
    curve_cost: Floats
    slopes: Floats
    open_ptr: Ints
    open_from: Ints
    open_to: Ints
    makespan_weight: float

    @property
    def arrays(self) -> tuple[object, ...]:
        """What the compiled code reads, in its order."""
        names = (
            "minutes mode_cost gap first last last_by rate release start_most end_most curve_ptr curve_time"
            " curve_cost slopes open_ptr open_from open_to"
        )
        return tuple(getattr(self, name) for name in names.split())


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
    spans = [problem.resources[r].open or ((0, FAR),) for r in machines]
    return Shop(
        problem, machines, minutes, mode, mode_cost, gap, first, last,
        np.array([FAR if m is None else m.final_latest for m in moves], np.int64),
        np.array([0.0 if m is None else m.cost_per_minute for m in moves]),
        np.array([t.release for t in tasks], np.int64),
        np.array([t.latest_start for t in tasks], np.int64),
        np.array([min(t.latest_end, problem.horizon) for t in tasks], np.int64),
        _pointers([len(p) for p in points]),
        np.array([p[0] for row in points for p in row], np.int64),
        np.array([p[1] for row in points for p in row], np.float64),
        np.array([(c.slope_before, c.slope_after) if (c := t.end_curve) else (0.0, 0.0) for t in tasks]),
        _pointers([len(s) for s in spans]),
        np.array([a for row in spans for a, _ in row], np.int64),
        np.array([b for row in spans for _, b in row], np.int64),
        float(problem.makespan_weight),
    )  # fmt: skip


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
        self.best = self._price(self.orders, self.counts)
        self._scale = self._spread()
        self.rounds = 0

    def _by_rule(self) -> None:
        """Sort by due time and put each task where fewest minutes stand."""
        shop = self.shop
        load = np.zeros(len(shop.machines))
        due = [shop.curve_time[shop.curve_ptr[t]] for t in range(shop.minutes.shape[1])]
        for t in np.argsort(np.array(due), kind="stable"):
            can = [i for i in range(len(load)) if shop.minutes[i, t] >= 0]
            i = min(can, key=lambda i: load[i] + shop.minutes[i, t])
            self.orders[i, self.counts[i]] = t
            self.counts[i] += 1
            load[i] += shop.minutes[i, t]

    def _from_plan(self, plan: CorePlan) -> None:
        row_of = {r: i for i, r in enumerate(self.shop.machines)}
        for block in plan.blocks:
            i = row_of[block.resources[0]]
            self.orders[i, self.counts[i]] = block.task
            self.counts[i] += 1

    def _spread(self) -> float:
        """Return what the dearest single tasks lose when late by a whole order: the heat of the first moves."""
        shop = self.shop
        span = float(shop.minutes.max(axis=0).sum()) / max(1, len(shop.machines))
        slope = float(np.abs(shop.slopes[:, 1]).mean()) + shop.makespan_weight + float(shop.rate.max())
        return span * slope

    def _price(self, orders: Ints, counts: Ints) -> float:
        total, latest = 0.0, 0
        ends = np.zeros(orders.shape[1], np.int64)
        for i in range(len(counts)):
            cost, end = price_machine(i, orders[i], int(counts[i]), ends, *self.shop.arrays)
            total, latest = total + cost, max(latest, end)
        return float(total + self.shop.makespan_weight * latest)

    @property
    def scale(self) -> float:
        """How much a random order costs, roughly: twice what a rule's order does, and never nothing."""
        return self._scale

    def improve(self, steps: int, hot: float, cold: float) -> bool:
        """Anneal for a number of moves; True when the best got better."""
        found = anneal(
            self.orders, self.counts, self.best_orders, self.best_counts, self.best, self.seed, steps, hot, cold,
            self.shop.makespan_weight, *self.shop.arrays,
        )  # fmt: skip
        self.rounds += 1
        better = found < self.best - 1e-9
        self.best = min(self.best, float(found))
        return better

    def back_to_best(self) -> None:
        """Go on from the best orders."""
        self.orders[:], self.counts[:] = self.best_orders, self.best_counts

    def plan(self) -> CorePlan:
        """Return the best orders, each block as early as it fits."""
        shop, blocks = self.shop, []
        ends = np.zeros(shop.minutes.shape[1], np.int64)
        for i, r in enumerate(shop.machines):
            count = int(self.best_counts[i])
            price_machine(i, self.best_orders[i], count, ends, *shop.arrays)
            for p in range(count):
                t, end = int(self.best_orders[i, p]), int(ends[p])
                start = end - int(shop.minutes[i, t])
                blocks.append(Block(start, end, t, int(shop.mode[i, t]), shop.problem.tasks[t].size, (r,)))
        return CorePlan(tuple(sorted(blocks, key=lambda b: (b.start, b.end))))
