"""The search on orders: its own prices are the judge's, on the fast line of one machine and on the general one."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.solver.evaluate import evaluate
from scheduler.solver.insertion import Orders, shop_of, suits
from scheduler.solver.problem import Curve, Mode, Need, Problem, Task
from scheduler.solver.resources import Moves, Resource
from scheduler.solver.result import CorePlan


@st.composite
def one_machine(draw: st.DrawFn, most_tasks: int = 6) -> Problem:
    """Tasks with release and due times on a machine with gaps, set-up before the first included."""
    n = draw(st.integers(2, most_tasks))
    whole = st.integers(0, 9)
    gaps = np.array(draw(st.lists(st.lists(whole, min_size=n, max_size=n), min_size=n, max_size=n)), np.int64)
    np.fill_diagonal(gaps, 0)
    first = np.array(draw(st.lists(whole, min_size=n, max_size=n)), np.int64)
    tasks = []
    for i in range(n):
        curve = Curve(((draw(st.integers(0, 40)), 0),), 0.0, float(draw(whole)))
        mode = Mode(draw(st.integers(1, 12)), (Need((0,)),), site=i)
        tasks.append(Task(f"task {i}", (mode,), release=draw(st.integers(0, 15)), end_curve=curve))
    return Problem(tuple(tasks), (Resource("machine", moves=Moves(gaps, initial=first)),), 1000)


def without_line(problem: Problem) -> Problem:
    """The same problem where an opening of the whole horizon has to be watched."""
    machine = replace(problem.resources[0], open=((0, problem.horizon),))
    return replace(problem, resources=(machine,))


@settings(max_examples=40, deadline=None)
@given(one_machine(), st.integers(0, 1000))
def test_the_price_of_the_best_order_is_the_judges(problem: Problem, seed: int) -> None:
    for case in (problem, without_line(problem)):
        shop = shop_of(case)
        assert suits(case) and (shop.line is not None) == (case is problem)
        orders = Orders(shop, seed)
        orders.improve(300, 20.0, 0.5)
        found = evaluate(case, orders.plan())
        assert not found.violations
        assert found.value == pytest.approx(orders.best)


@settings(max_examples=15, deadline=None)
@given(one_machine(most_tasks=5))
def test_the_best_of_all_orders_is_found(problem: Problem) -> None:
    """Every order tried by the judge alone is no cheaper than what annealing found."""
    shop = shop_of(problem)
    orders = Orders(shop, 1)
    for _ in range(4):
        orders.improve(2_000, 60.0, 0.2)
        orders.back_to_best()
    assert orders.best == pytest.approx(
        min(_cost(problem, row) for row in permutations(range(len(problem.tasks))))
    )


def _cost(problem: Problem, order: tuple[int, ...]) -> float:
    """Price an order by hand: each task as soon as machine, gap and release allow."""
    moves, at, total = problem.resources[0].moves, 0, 0.0
    assert moves is not None and moves.initial is not None
    for place, t in enumerate(order):
        task = problem.tasks[t]
        gap = moves.initial[t] if place == 0 else moves.minutes[order[place - 1], t]
        at = max(at + int(gap), task.release) + task.modes[0].minutes
        assert task.end_curve is not None
        total += task.end_curve.at(at)
    return total


@settings(max_examples=15, deadline=None)
@given(one_machine(), st.integers(0, 1000))
def test_a_cheaper_plan_from_outside_is_taken_and_a_dearer_one_is_not(problem: Problem, seed: int) -> None:
    shop = shop_of(problem)
    good = Orders(shop, seed)
    good.improve(500, 20.0, 0.5)
    plain = Orders(shop, seed)
    before = plain.best
    plain.back_to_best(good.plan())
    assert plain.best == pytest.approx(min(before, good.best))
    kept = plain.best
    plain.back_to_best(CorePlan(Orders(shop, seed).plan().blocks))
    assert plain.best == kept
