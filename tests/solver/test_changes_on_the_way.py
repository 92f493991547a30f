"""Changes of family for which nobody goes to the yard, in every room of the farm search; no outside source.

The farms are those of the benchmark; what their planters and sprayers carry is made one of two things, and the other one
needs a clean-out. Every value is the evaluator's, which shares no code with the search.
"""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest

from scheduler.solver.bound import Bounder
from scheduler.solver.dispatch import dispatch
from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Mode, Need, Problem, Task
from scheduler.solver.resources import Moves, Resource
from scheduler.solver.result import Limits
from scheduler.solver.rigday import search
from scheduler.solver.rigday_calendar import Calendar
from tests.benchmarks.farms import make_farm

CLEAN_OUT = 45
LIMITS = Limits(0.15, 1, 3, deterministic=True)


def with_two_products(problem: Problem) -> Problem:
    """Return the farm with every family doubled: the tasks of odd places carry the other product."""
    families = 1 + max(mode.family for task in problem.tasks for mode in task.modes)
    change = np.full((2 * families, 2 * families), 30, np.int64)
    rig = np.arange(2 * families) // 2
    same = rig[:, None] == rig[None, :]
    free, cleaned = np.where(same, 0, change), np.where(same, CLEAN_OUT, change)
    np.fill_diagonal(cleaned, 0)

    def moved(resource: Resource) -> Resource:
        worker = resource.name.startswith(("planter", "sprayer"))
        moves = resource.moves
        if moves is None or (moves.change is None and not worker):
            return resource
        # A planter is not hitched by itself: what its tractor needs at the yard is its tractor's.
        own = np.where(same, cleaned, 0) if worker else free
        way = np.ones_like(same) if worker else same
        return replace(resource, moves=replace(moves, change=own, on_the_way=way))

    tasks = tuple(
        replace(
            task,
            modes=tuple(m if m.family < 0 else replace(m, family=2 * m.family + k % 2) for m in task.modes),
        )
        for k, task in enumerate(problem.tasks)
    )
    return replace(problem, tasks=tasks, resources=tuple(moved(r) for r in problem.resources))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_plan_breaks_the_gap_and_the_bound_holds(seed: int) -> None:
    problem = with_two_products(make_farm(8, seed, days=5, buckets=seed == 2))
    assert not evaluate(problem, dispatch(problem)).violations
    result = search(problem, time.monotonic() + 60, LIMITS, None)
    found = evaluate(problem, result.plan)
    assert not found.violations
    assert result.value == pytest.approx(found.value)
    bounder = Bounder(problem, Calendar(problem), time.monotonic() + 60, Limits(0.1, 1, 0, True))
    bounder.run()
    assert 0 < bounder.bound <= found.value + 1e-6


def test_a_plan_made_without_clean_outs_has_too_little_time_for_them() -> None:
    """So the rule bites on these farms: the tests above could fail."""
    plain = make_farm(8, 1, days=5)
    loose = search(plain, time.monotonic() + 60, LIMITS, None).plan
    assert "gap" in {one.rule for one in evaluate(with_two_products(plain), loose).violations}


def test_what_carries_the_same_goes_together() -> None:
    """Four fields side by side, two products, a day that holds the work and one clean-out: no other order fits."""
    roads = np.zeros((2, 2), np.int64)
    change = np.array([[0, 60], [60, 0]], np.int64)
    planter = Moves(roads, depot=0, change=change, on_the_way=np.ones((2, 2), bool), home_daily=True)
    tasks = tuple(
        Task(f"field {k}", (Mode(60, (Need((0,)),), site=1, family=k % 2),), optional=True, drop_cost=1000)
        for k in range(4)
    )
    problem = Problem(tasks, (Resource("planter", open=((0, 300),), moves=planter),), 300, days=((0, 300),))
    plan = search(problem, time.monotonic() + 60, LIMITS, None).plan
    assert evaluate(problem, plan).value == 0
    order = [b.task % 2 for b in sorted(plan.blocks, key=lambda b: b.start)]
    assert order in ([0, 0, 1, 1], [1, 1, 0, 0])
