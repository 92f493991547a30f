"""How good an order of one machine can be, where tasks only cost what they are late: a bound, and often the proof.

Question answered: *how much better could any order be, and is the known one the best of all?* An interval model
sees next to nothing here (a bound of 5 % of the best value, where this one has 99 %). Three steps:

1. Prices for being done (`line_kernel`): the cheapest walk along the machine's time, in which a task may come more
   than once or never, plus the sum of the prices is a bound. With set-ups the true one of every two neighbours counts
   (`line_setups`); where that is too much, the least before each task.
2. Without set-ups and release times: the same with walks whose neighbours are in their better order (`line_pairs`).
3. There, all sets of tasks that a better plan may begin with, one task larger each time. A set is left out where its cheapest order
   and the cheapest walk from there come to no less than the known plan. If none is left, the plan is best; what is
   left at the end is a better one.

The ideas are known for one machine without idle time (Ibaraki & Nakamura 1994; Tanaka, Fujikuma & Araki 2009; from memory).
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from scheduler.solver.insertion import Orders, Shop, shop_of
from scheduler.solver.insertion_line import Line
from scheduler.solver.insertion_moves import Floats, Ints
from scheduler.solver.keeper import Keeper
from scheduler.solver.line_kernel import BEST, STEP, climb
from scheduler.solver.line_pairs import WORD, ahead, climb_in_order, expand
from scheduler.solver.line_setups import climb_with_setups
from scheduler.solver.problem import Curve, Mode, Need, Problem, Task
from scheduler.solver.resources import Moves, Resource
from scheduler.solver.result import Limits

MOST_CELLS, MOST_PAIRS = 20_000_000, 60_000_000
"""Of one walk: times and tasks, and where neighbours are looked at, times and pairs of tasks."""
MOST_SETS = 500_000
WATCHED = (0, 3, 6, 8)
"""So many tasks are followed by name in what is still to come, more where too many sets are left otherwise."""
MOST_AHEAD = 20_000_000
ROUNDS_S, MOST_ROUNDS = 0.03, 8_000
"""Rounds between two looks at the clock [s], and in all."""
LEAST_STEP, STEP_IN_ORDER = 1e-4, 0.05
SAFE = 1e-7
MARGIN_S = 0.15
CELLS_A_SECOND, PAIRS_A_SECOND, STRIPS_A_SECOND = 2.5e8, 5e8, 3e9
"""What the three kinds of walks go through in a second, for a guess of how long a round takes."""
COUNTED_SHARE = 0.3


@dataclass(frozen=True)
class Layer:
    """Sets of as many tasks as layers came before, with the cheapest order of each: first of the list among equals."""

    sets: Ints
    value: Floats
    paid: Floats
    last: Ints
    end: Ints
    before: Ints


class LineBound:
    """Raises the keeper's bound for a single machine, and offers a better plan where it meets one."""

    def __init__(self, shop: Shop, line: Line, keeper: Keeper, limits: Limits) -> None:
        self.shop, self.keeper = shop, keeper
        self.counted_s = COUNTED_SHARE * limits.seconds if limits.deterministic else math.inf
        n = len(line.task)
        self.gap = line.gap.astype(np.int64).copy()
        self.gap[np.arange(n), np.arange(n)] = self.gap.max()
        least = self.gap.min(axis=0)
        self.release, self.length, self.due = line.task.T.copy()
        self.setups, self.waits = bool(self.gap.any()), bool(self.release.any())
        ready = np.maximum(self.release, least) + self.length
        self.task = np.stack([self.length + least, ready, self.due], axis=1)
        self.slope = line.slope
        # Pushed together, work is over by then: nothing that costs by its end gets dearer.
        self.times = int(self.task[:, 0].sum() + (ready.max() if self.waits else 0)) + 1
        # Whole costs can be compared for equals without a doubt.
        self.plain = keeper.whole and not (self.setups or self.waits) and bool((self.length > 0).all())
        self.price, self.best_price = np.zeros(n), np.zeros(n)
        self.push, self.pace = np.zeros(n), np.array([1.0, 0.0, 0.0])
        self.odd = np.zeros(n, np.int64)

    @staticmethod
    def for_shop(shop: Shop, keeper: Keeper, limits: Limits) -> LineBound | None:
        """Return the bound where the problem is one machine and tasks that cost what they are late, not too long."""
        if shop.line is None or not (shop.line.slope >= 0.0).all():
            return None
        made = LineBound(shop, shop.line, keeper, limits)
        return made if len(made.task) * made.times <= MOST_CELLS else None

    def run(self, share: float = 1.0) -> None:
        """Work for a share of the time left, or until nothing is left to prove."""
        until = time.monotonic() + share * (self.keeper.left() - MARGIN_S)
        if self.setups and self._with_setups(until):
            return
        alike, n = (self.task, self.slope, self.waits, self.times), len(self.task)
        self._climb(lambda *prices: climb(*alike, *prices), n * self.times / CELLS_A_SECOND, until)
        if self._over(until):
            return
        if self.plain and n * n * self.times <= MOST_PAIRS:
            self._in_order(until)

    def _climb(self, rounds_of: Callable[..., None], round_s: float, until: float) -> None:
        """Move the prices until nothing more is to be had; a round is thought to take `round_s`."""
        prices = (self.price, self.best_price, self.push, self.pace, self.odd)
        rounds = max(1, min(50, int(ROUNDS_S / round_s)))
        for _ in range(int(min(MOST_ROUNDS, self.counted_s / round_s) / rounds)):
            if self._over(until) or self.pace[STEP] < LEAST_STEP or not math.isfinite(self.keeper.value):
                return
            rounds_of(*prices, rounds, self.keeper.value)
            self._raise(float(self.pace[BEST]))

    def _with_setups(self, until: float) -> bool:
        """Use the true set-up of every two neighbours up to the end of the known plan; False where that is too much."""
        n, plan = len(self.task), self.keeper.plan
        whole = self.length + self.gap
        # Any order that waits for nothing but releases is over by then.
        times = int(self.release.max() + whole.max(axis=0).sum()) + 1
        known_end = min(times - 1, max((b.end for b in plan.blocks), default=0) if plan else 0)
        whole[np.arange(n), np.arange(n)] = whole.max()
        strip = int(whole.min())
        if strip < 1 or n * n * known_end > MOST_PAIRS:
            return False
        least, ready = self.task[:, 0].copy(), self.task[:, 1].copy()
        own = (self.length, ready, self.due, least, self.slope, self.gap, known_end, times, strip)
        round_s = n * n * known_end / STRIPS_A_SECOND
        self._climb(lambda *prices: climb_with_setups(*own, *prices), round_s, until)
        return True

    def _in_order(self, until: float) -> None:
        """Look at neighbours, and go through the sets of tasks."""
        minutes, ends, n = self.length, np.arange(self.times)[:, None], len(self.task)
        late = self.slope * np.maximum(0, ends - self.due)
        if self._close(minutes, late, 0, until):
            return
        # Go on from the best prices with the other kind of walk.
        self.price[:], self.push[:], self.odd[:] = self.best_price, 0.0, 0
        self.pace[:] = STEP_IN_ORDER, 0.0, 0.0
        round_s = n * n * self.times / PAIRS_A_SECOND
        self._climb(lambda *prices: climb_in_order(minutes, late, *prices), round_s, until)
        for watched in WATCHED:
            few = watched <= n and (self.times * n << watched) <= MOST_AHEAD
            left_s = min(self.counted_s, until - time.monotonic())
            soon = (n * n * self.times << watched) / PAIRS_A_SECOND < left_s
            if self._over(until) or (few and soon and self._close(minutes, late, watched, until)):
                return

    def _over(self, until: float) -> bool:
        return time.monotonic() > until or self.keeper.proven()

    def _raise(self, bound: float) -> None:
        self.keeper.raise_bound(bound - SAFE * max(1.0, abs(bound)), "one machine")

    def _close(self, minutes: Ints, late: Floats, watched: int, until: float) -> bool:
        """Go through the sets that a plan below the known one may begin with; True when nothing is left open."""
        known, n = self.keeper.value, len(minutes)
        place = np.full(n, -1, np.int64)
        place[np.argsort(-self.odd, kind="stable")[:watched]] = np.arange(watched)
        rest = np.empty((self.times, 1 << watched, n))
        ahead(minutes, late, self.best_price, place, rest)
        # Costs are whole, so a better plan is better by 1 at least.
        most = known - 1.0 + 1e-3 - float(self.best_price.sum())
        layers = self._layers((minutes, late, self.best_price, place, rest, most), until)
        if layers is None:
            return False
        if len(layers) <= n:
            self.keeper.raise_bound(known, "one machine")
            return True
        order, at = [], int(np.argmin(layers[-1].value))
        for layer in reversed(layers[1:]):
            order.append(int(layer.last[at]))
            at = int(layer.before[at])
        orders = Orders(self.shop, 0)
        orders.best_orders[0], orders.best_counts[0] = order[::-1], n
        self.keeper.offer(orders.plan(), "one machine")
        self._raise(float(layers[-1].value.min()))
        return True

    def _layers(
        self, own: tuple[Ints, Floats, Floats, Ints, Floats, float], until: float
    ) -> list[Layer] | None:
        """Return the sets by size, until none is left or all tasks are in; None when there are too many or time is up."""
        zero, none, words = np.zeros(1, np.int64), np.zeros(1), -(-len(own[0]) // WORD)
        layers = [Layer(np.zeros((1, words), np.int64), none, none, zero - 1, zero, zero)]
        new_sets = np.empty((MOST_SETS, words), np.int64)
        room = [
            new_sets,
            *(np.empty(MOST_SETS, kind) for kind in (float, float, np.int64, np.int64, np.int64)),
        ]
        for _ in range(len(own[0])):
            now = layers[-1]
            count = expand(*own, now.sets, now.value, now.paid, now.last, now.end, *room)
            if count < 0 or self._over(until):
                return None
            if count == 0:
                break
            # Of equals the first stays, and the order of the list is kept: sets come in the order of their first tasks.
            by_set = np.lexsort((np.arange(count), room[1][:count], *new_sets[:count].T))
            others = np.append(True, (np.diff(new_sets[by_set], axis=0) != 0).any(axis=1))
            keep = np.sort(by_set[others])
            layers.append(Layer(*(row[keep] for row in room)))
        return layers


def warm_up() -> None:
    """Build the compiled steps on two tiny problems, with set-ups and without, whose first plan is not the best."""
    for gap in (0, 1):
        moves = Moves(np.full((3, 3), gap, np.int64))
        tasks = tuple(
            Task(f"task {i}", (Mode(3 - i, (Need((0,)),), site=i),), end_curve=Curve(((2, 0),), 0.0, 1.0))
            for i in range(3)
        )
        tiny = Problem(tasks, (Resource("machine", moves=moves),), 99)
        now = time.monotonic()
        keeper, shop = Keeper(tiny, now, now + 600, None), shop_of(tiny)
        orders = Orders(shop, 0)
        orders.best_orders[0] = [0, 1, 2]
        keeper.offer(orders.plan(), "given")
        bound = LineBound.for_shop(shop, keeper, Limits())
        assert bound is not None
        bound.run()
        prices = (bound.price, bound.best_price, bound.push, bound.pace, bound.odd)
        climb_in_order(bound.length, np.zeros((bound.times, 3)), *prices, 1, 1.0)
