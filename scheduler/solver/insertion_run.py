"""Annealing on orders under a deadline: short coolings first, then one that fills the time."""

from __future__ import annotations

import threading
import time

from scheduler.solver.insertion import Orders, Shop, shop_of, suits
from scheduler.solver.keeper import Keeper
from scheduler.solver.problem import Problem
from scheduler.solver.result import Limits

MARGIN_S = 0.15
SLICE = 20_000
FIRST_STEPS = 60_000
HOT_SHARE, COLD_SHARE = 0.03, 3e-5
COUNTED_PER_SECOND = 200_000


class OrderSearch:
    """The search on orders of one problem, feeding a keeper."""

    def __init__(self, shop: Shop, keeper: Keeper, limits: Limits) -> None:
        self.shop, self.keeper, self.limits = shop, keeper, limits
        self.warm = threading.Event()

    @staticmethod
    def for_problem(problem: Problem, keeper: Keeper, limits: Limits) -> OrderSearch | None:
        """Return a search where the problem is one of orders alone."""
        return OrderSearch(shop_of(problem), keeper, limits) if suits(problem) else None

    def run(self, share: float = 1.0, seed: int = 0) -> None:
        """Search for a share of the time left; searches side by side take different seeds."""
        began = time.monotonic()
        until = began + share * (self.keeper.left() - MARGIN_S)
        try:
            orders = Orders(self.shop, self.limits.seed + seed, self.keeper.plan)
            self._offer(orders)
            if self.limits.deterministic:
                total = int(self.limits.seconds * COUNTED_PER_SECOND)
                self._cool(orders, total // 4, until, True)
                self._cool(orders, total - total // 4, until, True)
            else:
                self._by_the_clock(orders, until)
        finally:
            self.warm.set()

    def stop_when_done(self, side: threading.Thread) -> None:
        """Wait for the search beside, at most until the deadline."""
        side.join(max(0.0, self.keeper.left() - MARGIN_S / 2))

    def _offer(self, orders: Orders) -> None:
        self.keeper.offer(orders.plan(), "orders")

    def _by_the_clock(self, orders: Orders, until: float) -> None:
        steps = FIRST_STEPS
        opened = time.monotonic()
        speed = self._cool(orders, steps, until)
        self.warm.set()
        while not self._over(until):
            left = until - time.monotonic()
            spent = time.monotonic() - opened
            seconds = left if left < 3.0 * spent or left < 1.0 else max(0.5, left / 4)
            speed = self._cool(orders, max(5_000, int(speed * seconds * 0.97)), until)

    def _over(self, until: float) -> bool:
        return time.monotonic() > until or self.keeper.proven()

    def _cool(self, orders: Orders, steps: int, until: float, counted: bool = False) -> float:
        """Run one cooling in slices; return the moves per second."""
        orders.back_to_best()
        scale = max(1.0, self.shop.heat)
        hot, cold = scale * HOT_SHARE, scale * COLD_SHARE
        began, done = time.monotonic(), 0
        while done < steps and not self._over(until):
            count = min(SLICE, steps - done)
            a = hot * (cold / hot) ** (done / steps)
            b = hot * (cold / hot) ** ((done + count) / steps)
            if orders.improve(count, a, b) and (counted or done % (5 * SLICE) == 0):
                self._offer(orders)
            done += count
        self._offer(orders)
        return done / max(1e-6, time.monotonic() - began)
