"""What holds for every small problem: sound plans, proofs that are true, order under more means."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import HealthCheck, assume, given, settings

from scheduler.solver.evaluate import evaluate
from scheduler.solver.interval_bounds import reach_of, simple_bound
from scheduler.solver.interval_dispatch import dispatch
from scheduler.solver.problem import Curve, Mode, Need, Problem, Task, Window
from scheduler.solver.resources import Moves, Resource
from scheduler.solver.result import Limits, Status
from scheduler.solver.solve import solve
from tests.solver.random_problems import best_by_trying_all, problems

QUICK = Limits(seconds=3.0, workers=1)
SLOW_TO_DRAW = [HealthCheck.too_slow, HealthCheck.filter_too_much]


@settings(max_examples=30, deadline=None, suppress_health_check=SLOW_TO_DRAW)
@given(problems())
def test_plans_are_sound_and_values_are_the_judges(problem: Problem) -> None:
    result = solve(problem, QUICK)
    assert result.status != Status.UNKNOWN
    if result.status != Status.INFEASIBLE:
        found = evaluate(problem, result.plan)
        assert not found.violations
        assert abs(found.value - result.value) < 1e-6
        assert result.bound <= result.value + 1e-6


@settings(max_examples=15, deadline=None, suppress_health_check=SLOW_TO_DRAW)
@given(problems(most_tasks=2))
def test_a_proof_is_true_when_every_plan_is_tried(problem: Problem) -> None:
    best = best_by_trying_all(problem)
    reach = reach_of(problem, problem.horizon)
    assert best is None or simple_bound(problem, reach) <= best + 1e-6
    result = solve(problem, QUICK)
    if best is None:
        assert result.status == Status.INFEASIBLE
    else:
        assert result.status == Status.OPTIMAL
        assert abs(result.value - best) < 1e-6


def test_two_of_no_length_are_in_one_order_for_the_way_there_and_for_the_way_between() -> None:
    """By hand: at place 2 nothing can begin before 3, on the way there or behind the other task; dearer elsewhere: 3 costs least.

    The task that may be left out stood first for the way there and second for the way between, and 2 was thought possible.
    """
    ways = np.array([[0, 0, 3], [0, 0, 0], [0, 0, 0]])
    moves = Moves(ways, initial=np.array([0, 0, 3]), all_pairs=True)

    def mode(site: int, cost: int) -> Mode:
        return Mode(0, (Need((0,)),), windows=(Window(2, 9),), site=site, cost=cost)

    late = Curve(((0, 0),), slope_after=1.0)
    tasks = (
        Task("may be left out", (mode(0, 0),), optional=True),
        Task("wanted", (mode(0, 1), mode(2, 0)), end_curve=late),
    )
    problem = Problem(tasks, (Resource("machine", moves=moves),), horizon=24)
    result = solve(problem, QUICK)
    assert (result.status, result.value, best_by_trying_all(problem)) == (Status.OPTIMAL, 3, 3)


@settings(max_examples=15, deadline=None, suppress_health_check=SLOW_TO_DRAW)
@given(problems(most_tasks=4))
def test_less_of_a_resource_never_makes_the_best_plan_cheaper(problem: Problem) -> None:
    loose = solve(problem, QUICK)
    less = replace(problem.resources[2], capacity=1)
    tight = solve(replace(problem, resources=(*problem.resources[:2], less)), QUICK)
    assume(loose.status in (Status.OPTIMAL, Status.INFEASIBLE))
    assert tight.value >= loose.value - 1e-6
    if loose.status == Status.INFEASIBLE:
        assert tight.status == Status.INFEASIBLE


@settings(max_examples=30, deadline=None, suppress_health_check=SLOW_TO_DRAW)
@given(problems(most_tasks=6))
def test_the_rule_makes_sound_plans_or_none(problem: Problem) -> None:
    reach = reach_of(problem, problem.horizon)
    assume(not reach.clash)
    for plan in dispatch(problem, reach, 0, lambda: False):
        wrong = {v.rule for v in evaluate(problem, plan).violations}
        assert not wrong


@settings(max_examples=6, deadline=None, suppress_health_check=SLOW_TO_DRAW)
@given(problems())
def test_same_input_same_plan(problem: Problem) -> None:
    limits = Limits(seconds=3.0, workers=2, seed=7, deterministic=True)
    assert solve(problem, limits).plan == solve(problem, limits).plan


def test_blocks_of_no_length_pay_the_first_way_too() -> None:
    """Drawn once by the test above: two on the machine with a way to pay (1), or both on the other (0)."""
    way = Moves(np.array([[0, 0, 1], [0, 0, 0], [0, 0, 0]]), initial=np.array([0, 0, 1]), cost_per_minute=1.0)
    looks = tuple(Task(name, (Mode(0, (Need((0, 1)),), (Window(2, 9),), 0, 2),)) for name in ("a", "b"))
    problem = Problem(looks, (Resource("machine", moves=way), Resource("other")), 24)
    result = solve(problem, QUICK)
    assert (result.status, result.value) == (Status.OPTIMAL, 0.0)
    alone = replace(problem, resources=problem.resources[:1], tasks=tuple(only(t, 0) for t in looks))
    assert solve(alone, QUICK).value == 1.0


def only(task: Task, resource: int) -> Task:
    return replace(task, modes=tuple(replace(m, needs=(Need((resource,)),)) for m in task.modes))
