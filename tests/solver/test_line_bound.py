"""The bound of one machine: never above the best of all orders, and the proof where it says so.

The best is found here by trying every order, or by going through all sets of tasks one by one (Held & Karp 1962), in plain Python.
"""

from __future__ import annotations

import json
import time
from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.solver.cases import read_case
from scheduler.solver.evaluate import evaluate
from scheduler.solver.insertion import Orders, shop_of
from scheduler.solver.keeper import Keeper
from scheduler.solver.line_bound import LineBound
from scheduler.solver.problem import Curve, Mode, Need, Problem, Task
from scheduler.solver.resources import Moves, Resource
from scheduler.solver.result import CorePlan, Limits, Status
from scheduler.solver.solve import solve
from tests.solver.instance_paths import instance_file

Row = tuple[int, ...]


def problem_of(rows: list[Row], moves: Moves | None = None, releases: list[int] | None = None) -> Problem:
    """Return tasks of (minutes, due, cost of a minute late) on one machine."""
    tasks = tuple(
        Task(
            f"task {i}",
            (Mode(minutes, (Need((0,)),), site=i),),
            release=releases[i] if releases else 0,
            end_curve=Curve(((due, 0),), 0.0, float(cost)),
        )
        for i, (minutes, due, cost) in enumerate(rows)
    )
    return Problem(tasks, (Resource("machine", moves=moves),), 2000)


def bounded(problem: Problem, order: list[int], limits: Limits = Limits()) -> Keeper:  # noqa: B008
    """Return what is known after the bound has run beside a plan of this order."""
    now = time.monotonic()
    keeper, shop = Keeper(problem, now, now + 60.0, None), shop_of(problem)
    orders = Orders(shop, 0)
    orders.best_orders[0] = order
    keeper.offer(orders.plan(), "given")
    bound = LineBound.for_shop(shop, keeper, limits)
    assert bound is not None
    bound.run()
    return keeper


def cheapest_by_sets(rows: list[Row]) -> int:
    """Return the best value without set-ups and releases: the last task of every set in turn."""
    n = len(rows)
    best = [0] * (1 << n)
    for done in range(1, 1 << n):
        members = [j for j in range(n) if done >> j & 1]
        end = sum(rows[j][0] for j in members)
        best[done] = min(best[done ^ (1 << j)] + rows[j][2] * max(0, end - rows[j][1]) for j in members)
    return best[-1]


def cheapest_by_orders(problem: Problem) -> float:
    """Return the best value of all orders, each task as soon as machine, set-up and release allow."""
    moves, best = problem.resources[0].moves, float("inf")
    assert moves is not None and moves.initial is not None
    for order in permutations(range(len(problem.tasks))):
        at, total, before = 0, 0.0, -1
        for t in order:
            task = problem.tasks[t]
            gap = int(moves.initial[t] if before < 0 else moves.minutes[before, t])
            at, before = max(at + gap, task.release) + task.modes[0].minutes, t
            assert task.end_curve is not None
            total += task.end_curve.at(at)
        best = min(best, total)
    return best


# Few different lengths and due dates, so that many orders cost the same.
ROWS = st.lists(
    st.tuples(st.integers(1, 9), st.one_of(st.integers(0, 60), st.sampled_from([10, 20])), st.integers(0, 4)),
    min_size=2,
    max_size=9,
)


@settings(max_examples=60, deadline=None)
@given(ROWS)
def test_without_set_ups_the_best_order_is_found_and_proved(rows: list[Row]) -> None:
    keeper = bounded(problem_of(rows), list(range(len(rows))))
    assert keeper.proven()
    assert keeper.value == cheapest_by_sets(rows)
    assert keeper.plan is not None and not evaluate(keeper.problem, keeper.plan).violations


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_with_set_ups_and_releases_no_order_is_below_the_bound(data: st.DataObject) -> None:
    n = data.draw(st.integers(2, 5))
    whole = st.integers(0, 9)
    gaps = np.array(data.draw(st.lists(st.lists(whole, min_size=n, max_size=n), min_size=n, max_size=n)))
    first = np.array(data.draw(st.lists(whole, min_size=n, max_size=n)))
    rows = data.draw(
        st.lists(st.tuples(st.integers(1, 9), st.integers(0, 40), st.integers(0, 4)), min_size=n, max_size=n)
    )
    releases = data.draw(st.one_of(st.none(), st.lists(st.integers(0, 25), min_size=n, max_size=n)))
    problem = problem_of(rows, Moves(gaps, initial=first), releases)
    keeper = bounded(problem, list(range(n)))
    best = cheapest_by_orders(problem)
    assert keeper.bound <= best <= keeper.value


def test_true_set_ups_are_counted() -> None:
    """Only task 0 needs no set-up before the others; any other two have 10 minutes between them.

    Each task has some task after which it needs none, so the least set-ups are nothing and say 4 x 5 minutes of work:
    5 + 10 + 15 + 20 = 50 in all. In truth only one of three can come right behind task 0: 5 + 10 + 25 + 40 = 80.
    """
    gaps = np.full((4, 4), 10)
    gaps[0] = 0
    problem = problem_of([(5, 0, 1)] * 4, Moves(gaps, initial=np.zeros(4, np.int64)))
    keeper = bounded(problem, [0, 1, 2, 3])
    assert keeper.value == 80.0
    assert 50.0 < keeper.bound <= 80.0


def test_many_equal_tasks_are_no_trouble() -> None:
    """Thirty alike, all late: every order is best; without an order among equals there were a thousand million sets."""
    keeper = bounded(problem_of([(3, 0, 1)] * 30), list(range(30)))
    assert keeper.proven() and keeper.value == 3 * sum(range(1, 31))


def test_costs_that_are_not_whole_get_a_bound_and_no_proof_by_sets() -> None:
    problem = problem_of([(4, 3, 1), (2, 2, 2), (5, 9, 1)])
    curve = Curve(((3, 0),), 0.0, 1.5)
    odd = replace(problem, tasks=(replace(problem.tasks[0], end_curve=curve), *problem.tasks[1:]))
    keeper = bounded(odd, [0, 1, 2])
    # By hand: 1-0-2 costs 0 + 3 * 1.5 + 2 = 6.5; 0-1-2: 1.5 + 8 + 2; 1-2-0: 0 + 0 + 12; the rest more.
    assert 0.0 < keeper.bound <= 6.5 <= keeper.value


def test_counted_effort_gives_the_same_bound_twice() -> None:
    luck = np.random.default_rng(4)
    rows = [tuple(int(luck.integers(a, b)) for a, b in ((1, 60), (0, 400), (1, 9))) for _ in range(16)]
    moves = Moves(luck.integers(0, 30, (16, 16)), initial=luck.integers(0, 30, 16))
    limits = Limits(seconds=1.0, workers=1, deterministic=True)
    once, again = (bounded(problem_of(rows, moves), list(range(16)), limits) for _ in range(2))
    assert once.bound == again.bound > 0.0


@pytest.mark.clock
@pytest.mark.parametrize("name", ["wt40_1", "wt40_6", "wt50_1"])
def test_published_weighted_tardiness_is_proved(name: str) -> None:
    """OR-Library (source of the values: ``instances/README.md`` beside the cases)."""
    path = instance_file(f"cases/{name}.json")
    problem, best = read_case(path), json.loads(path.read_text())["best"]["value"]
    result = solve(problem, Limits(seconds=8.0, workers=2))
    assert (result.status, result.value, result.bound) == (Status.OPTIMAL, best, best)


def test_the_bound_of_a_published_case_with_set_ups_is_below_its_best() -> None:
    """Cicirello's instances; the optimum is Tanaka & Araki's (``instances/README.md``)."""
    path = instance_file("cases/wtsds_8.json")
    problem, best = read_case(path), json.loads(path.read_text())["best"]["value"]
    result = solve(problem, Limits(seconds=2.0, workers=1, deterministic=True))
    assert 0.0 <= result.bound <= best <= result.value
    assert isinstance(result.plan, CorePlan) and not evaluate(problem, result.plan).violations
