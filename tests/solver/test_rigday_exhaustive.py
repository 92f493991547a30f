"""Tiny farms against complete enumeration: every order, every rig, every choice of what to leave out."""

from __future__ import annotations

import time
from dataclasses import replace
from itertools import permutations, product

import numpy as np
import pytest

from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Curve, Mode, Need, Problem, Task
from scheduler.solver.resources import Moves, Resource
from scheduler.solver.result import Limits
from scheduler.solver.rigday import search

OPEN, CLOSE = 360, 960


def tiny(seed: int, rigs: int, jobs: int = 4) -> Problem:
    """One day; each rig has its own yard; jobs whole, late cost from 420 on, worth leaving out when dear."""
    rng = np.random.default_rng(seed)
    xy = rng.uniform(0, 30, (rigs + jobs, 2))
    road = np.ceil(np.linalg.norm(xy[:, None] - xy[None], axis=2)).astype(np.int64)
    machines = tuple(
        Resource(f"rig {r}", open=((OPEN, CLOSE),), moves=Moves(road, r, None, True, cost_per_minute=1.0))
        for r in range(rigs)
    )
    tasks = tuple(
        Task(
            f"job {j}",
            tuple(Mode(int(rng.integers(60, 260)), (Need((r,)),), None, 0, rigs + j, 0) for r in range(rigs)),
            end_curve=Curve(((420, 0),), 0.0, float(rng.uniform(0.2, 2.0))),
            optional=True,
            drop_cost=int(rng.integers(200, 1200)),
        )
        for j in range(jobs)
    )
    return Problem(tasks, machines, 1440, days=((0, 1440),))


def best_by_enumeration(problem: Problem) -> float:
    """Try everything; with costs that only rise, each order is best started as early as can be."""
    jobs, rigs = len(problem.tasks), len(problem.resources)
    cheapest: dict[tuple[int, frozenset[int]], float] = {}
    for r in range(rigs):
        for count in range(jobs + 1):
            for order in permutations(range(jobs), count):
                key = (r, frozenset(order))
                cheapest[key] = min(cheapest.get(key, np.inf), _route_cost(problem, r, order))
    best = np.inf
    for who in product(range(rigs + 1), repeat=jobs):
        undone = sum(problem.tasks[j].drop_cost for j in range(jobs) if who[j] == rigs)
        routes = sum(cheapest[r, frozenset(j for j in range(jobs) if who[j] == r)] for r in range(rigs))
        best = min(best, undone + routes)
    return best


def _route_cost(problem: Problem, r: int, order: tuple[int, ...]) -> float:
    moves = problem.resources[r].moves
    assert moves is not None and moves.depot is not None
    time_now, here, cost = OPEN, moves.depot, 0.0
    for j in order:
        task = problem.tasks[j]
        mode = task.modes[r]
        time_now += int(moves.minutes[here, mode.site]) + mode.minutes
        cost += int(moves.minutes[here, mode.site])
        assert task.end_curve is not None
        cost += task.end_curve.at(time_now)
        here = mode.site
    home = int(moves.minutes[here, moves.depot])
    return cost + home if time_now + home <= CLOSE else np.inf


def found(problem: Problem) -> float:
    limits = Limits(0.5, 1, 2, deterministic=True)
    result = search(problem, time.monotonic() + 60, limits)
    assert not evaluate(problem, result.plan).violations
    assert result.bound <= result.value + 1e-6
    return result.value


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("rigs", [1, 2])
def test_finds_the_best_of_all_plans(seed: int, rigs: int) -> None:
    problem = tiny(seed, rigs)
    assert found(problem) == pytest.approx(best_by_enumeration(problem))


@pytest.mark.parametrize("seed", range(6))
def test_taking_a_rig_away_never_helps(seed: int) -> None:
    problem = tiny(seed, 2)
    without = replace(problem.resources[1], open=())
    lame = replace(problem, resources=(problem.resources[0], without))
    assert found(lame) >= best_by_enumeration(problem) - 1e-6
    only_first = best_by_enumeration(
        replace(problem, resources=problem.resources[:1], tasks=tuple(_first_mode(t) for t in problem.tasks))
    )
    assert found(lame) == pytest.approx(only_first)


def _first_mode(task: Task) -> Task:
    return replace(task, modes=task.modes[:1])
