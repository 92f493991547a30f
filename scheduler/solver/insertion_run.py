"""Annealing on orders under a deadline: short coolings first, then one that fills the time."""

from __future__ import annotations

import threading
import time

from scheduler.solver.insertion import Orders, Shop, shop_of, suits
from scheduler.solver.keeper import Keeper
from scheduler.solver.problem import Curve, Mode, Need, Problem, Task
from scheduler.solver.resources import Resource
from scheduler.solver.result import Limits

MARGIN_S = 0.15
SLICE = 20_000
FIRST_STEPS = 60_000
HOT_SHARE, COLD_SHARE = 0.03, 3e-5
# Later coolings start at so many times the mean cost of a task, turn by turn, and end at a share of it: measured
# on random orders with and without gaps, tight and loose due times.
AGAIN_HOT, AGAIN_FALL = (6.0, 2.0, 4.0, 1.0), 0.1
COUNTED_PER_SECOND, COUNTED_ON_A_LINE, COUNTED_TURNS = 200_000, 1_000_000, 4


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
                pace = COUNTED_PER_SECOND if self.shop.line is None else COUNTED_ON_A_LINE
                total = int(self.limits.seconds * pace)
                for turn in range(COUNTED_TURNS):
                    self._cool(orders, total // COUNTED_TURNS, until, turn, True)
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
        opened = time.monotonic()
        speed, turn = self._cool(orders, FIRST_STEPS, until), 0
        self.warm.set()
        while not self._over(until):
            left = until - time.monotonic()
            spent = time.monotonic() - opened
            seconds = left if left < 3.0 * spent or left < 1.0 else max(0.5, left / 4)
            turn += 1
            speed = self._cool(orders, max(5_000, int(speed * seconds * 0.97)), until, turn)

    def _heats(self, orders: Orders, turn: int) -> tuple[float, float]:
        """Return where a cooling begins and ends: the first by the problem's scale, later ones by what is paid."""
        scale = max(1.0, self.shop.heat)
        hot, cold = scale * HOT_SHARE, scale * COLD_SHARE
        if turn == 0:
            return hot, cold
        mean = max(1.0, orders.best / len(self.shop.problem.tasks))
        again = mean * AGAIN_HOT[(turn - 1) % len(AGAIN_HOT)]
        return (again, again * AGAIN_FALL) if again < hot else (hot, cold)

    def _over(self, until: float) -> bool:
        return time.monotonic() > until or self.keeper.proven()

    def _cool(self, orders: Orders, steps: int, until: float, turn: int = 0, counted: bool = False) -> float:
        """Run one cooling from the best orders in slices; return the moves per second."""
        orders.back_to_best(self.keeper.plan)
        hot, cold = self._heats(orders, turn)
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


def warm_up() -> None:
    """Build the compiled searches on tiny problems: one machine with and without hours to watch, and two machines."""
    late = Curve(((0, 0),), 0.0, 1.0)
    for machines, hours in ((1, None), (1, ((0, 99),)), (2, None)):
        mode = Mode(1, (Need(tuple(range(machines))),))
        resources = tuple(Resource(f"machine {i}", open=hours) for i in range(machines))
        tiny = Problem(tuple(Task(f"task {i}", (mode,), end_curve=late) for i in range(3)), resources, 99)
        orders = Orders(shop_of(tiny), 0)
        orders.improve(2, 1.0, 0.5)
        orders.plan()
