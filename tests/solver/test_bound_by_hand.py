"""The bound on farms small enough to be worked out by hand, and what each of its rules brings.

No source: figures by hand are beside each case.
"""

from __future__ import annotations

import time
from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest

from scheduler.solver.bound import Bounder
from scheduler.solver.bound_days import RigDays
from scheduler.solver.bound_merge import NOBODY, merged_ways
from scheduler.solver.bound_solve import Program, solve_rows
from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Curve, Mode, Need, Problem, Task, Window
from scheduler.solver.resources import HoursLimit, Moves, Resource
from scheduler.solver.result import Block, CorePlan, Limits
from scheduler.solver.rigday_calendar import Calendar
from tests.benchmarks.farms import make_farm
from tests.solver.test_bound import costs_in_relaxation, relaxed


def test_merged_ways_are_the_shortest() -> None:
    problem = make_farm(9, 3, 4)
    merged, carriers = merged_ways(problem)
    for before, after in zip(problem.resources, merged.resources, strict=True):
        assert before.moves is not None and after.moves is not None
        least = after.moves.minutes
        for a, b, c in permutations(range(len(least)), 3):
            assert least[a, c] <= least[a, b] + least[b, c]
        assert (least <= before.moves.minutes).all()
    for task, row in zip(merged.tasks, carriers, strict=True):
        for mode, carrier in zip(task.modes, row, strict=True):
            assert carrier == NOBODY or (carrier,) in [need.any_of for need in mode.needs]


def test_of_machines_that_are_equally_fast_the_busier_carries() -> None:
    """Without roads too: one drill does the work that two tractors share."""
    opened = ((0, 480),)
    roads = Moves(np.zeros((2, 2), np.int64), 0, None, True)
    resources = tuple(
        Resource(name, open=opened, moves=roads) for name in ("tractor 0", "tractor 1", "drill")
    )
    modes = tuple(Mode(100, (Need((r,)), Need((2,))), site=1, family=0) for r in (0, 1))
    task = Task("field", modes, 100, optional=True, drop_cost=1000, min_chunk=10)
    merged, carriers = merged_ways(Problem((task,), resources, 480, days=((0, 480),)))
    assert carriers == [[2]]
    assert [n.any_of for n in merged.tasks[0].modes[0].needs] == [(0, 1), (2,)]


def test_a_block_that_just_fills_its_window_is_one_visit() -> None:
    """7 of 14 units take 9 of 18 minutes; divided in floats a window of 9 minutes held 6.99, so the plan was none."""
    machine = Resource("machine", open=((0, 480),), moves=Moves(np.zeros((2, 2), np.int64), 0, None, True))
    mode = Mode(18, (Need((0,)),), (Window(100, 109),), site=1, family=0)
    task = Task("field", (mode,), 14, optional=True, drop_cost=1400, min_chunk=7)
    problem = Problem((task,), (machine,), 480, days=((0, 480),))
    plan = CorePlan((Block(100, 109, 0, 0, 7, (0,)),))
    found = evaluate(problem, plan)
    assert (found.violations, found.value) == ((), 700.0)
    assert costs_in_relaxation(problem, plan, 60, cuts=1, whole=True) <= 700.0 * (1 + 1e-5)


def test_whole_waits_and_pace_lift_the_bound() -> None:
    """Half a field is not done in half the time of both: waits that are whole cost more than waits in parts."""
    problem = make_farm(9, 1, 6)
    farm, _ = relaxed(problem, 120)
    parts = solve_rows(farm.rows, 60.0).bound
    farm.rows.whole = [column in farm.done_by for column in range(len(farm.rows.cost))]
    whole = solve_rows(farm.rows, 60.0).bound
    bounder = Bounder(problem, Calendar(problem), time.monotonic() + 60, Limits(0.1, 1, 0, True))
    assert bounder.simple() < parts < whole


def bound_with_cuts(problem: Problem, stretch: int) -> float:
    farm, _ = relaxed(problem, stretch)
    days, program, best = RigDays(farm), Program(farm.rows), float("-inf")
    for _ in range(6):
        solved = program.solve(60.0)
        best = max(best, solved.bound, program.cut_days(farm.own_rows, days, solved)[0])
    return best


def test_work_waits_for_the_end_of_its_block(monkeypatch: pytest.MonkeyPatch) -> None:
    """One field in one or two parts, each minute of lateness dear: the parts that cost least are known by hand."""
    moves = Moves(np.array([[0, 10], [10, 0]]), 0, None, True)
    machine = Resource("machine", open=((0, 600),), moves=moves)
    mode = Mode(240, (Need((0,)),), fixed_minutes=60, site=1, family=0)
    task = Task(
        "field", (mode,), size=240, min_chunk=80, end_curve=Curve(((0, 0),), 0.0, 10.0), drop_cost=10**6
    )
    problem = Problem((task,), (machine,), 600, days=((0, 600),))

    def value(*parts: int) -> float:
        blocks, at = [], 10
        for part in parts:
            blocks.append(Block(at, at + 60 + part, 0, 0, part, (0,)))
            at += 60 + part
        found = evaluate(problem, CorePlan(tuple(blocks)))
        assert not found.violations
        return found.value

    best = min(value(240), *(value(n, 240 - n) for n in range(1, 240)), value(80, 80, 80))
    bound = bound_with_cuts(problem, 60)
    monkeypatch.setattr("scheduler.solver.bound_pieces.LENGTHS", {3: ()})
    before = bound_with_cuts(problem, 60)
    assert 1.1 * before < bound <= best


def test_the_farthest_field_of_a_day_is_seen() -> None:
    """Fields an hour away next to each other: the way there and home bounds what a day of people and machine can hold."""
    road = np.full((4, 4), 60, np.int64)
    road[1:, 1:] = 0
    np.fill_diagonal(road, 0)
    moves = Moves(road, 0, None, True, cost_per_minute=1.0)
    hours = HoursLimit(600, 600, cost_per_minute=1.0)
    walks = replace(moves, cost_per_minute=0.0)
    people = tuple(Resource(f"driver {k}", open=((0, 600),), moves=walks, hours=hours) for k in range(2))
    machine = Resource("machine", open=((0, 600),), moves=moves)
    tasks = tuple(
        Task(
            f"field {k}",
            (Mode(240, (Need((0, 1)), Need((2,))), site=k, family=0),),
            optional=True,
            drop_cost=9000,
        )
        for k in (1, 2, 3)
    )
    problem = Problem(tasks, (*people, machine), 600, days=((0, 600),))
    farm, _ = relaxed(problem, 600)
    plan = CorePlan(tuple(Block(60 + 240 * k, 300 + 240 * k, k, 0, 1, (0, 2)) for k in range(2)))
    found = evaluate(problem, plan)
    assert (found.violations, found.value) == ((), 9000.0 + 120.0 + 600.0)
    # No machine can do more: the bound sees the ways, and proves this plan.
    assert solve_rows(farm.rows, 60.0).bound == pytest.approx(found.value, abs=0.1)


def test_one_way_home_is_paid_once() -> None:
    """A tractor without choice for one pass and one of two for another drives home once on a day with both."""
    road = np.array([[0, 1, 1], [30, 0, 1], [30, 1, 0]], np.int64)
    moves = Moves(road, 0, None, True, cost_per_minute=10.0)
    apart = np.array([[0, 1, 1], [30, 0, 60], [30, 60, 0]], np.int64)
    tractors = tuple(Resource(f"tractor {k}", open=((0, 170),), moves=moves) for k in range(2))
    slow = tuple(Resource(f"tool {k}", open=((0, 170),), moves=Moves(apart, 0, None, True)) for k in range(2))
    tasks = (
        Task(
            "only big", (Mode(60, (Need((0,)), Need((2,))), site=1, family=0),), optional=True, drop_cost=9000
        ),
        Task(
            "either",
            tuple(Mode(60, (Need((r,)), Need((3,))), site=2, family=0) for r in (0, 1)),
            optional=True,
            drop_cost=9000,
        ),
    )
    problem = Problem(tasks, (*tractors, *slow), 170, days=((0, 170),))
    plan = CorePlan((Block(1, 61, 0, 0, 1, (0, 2)), Block(62, 122, 1, 0, 1, (0, 3))))
    found = evaluate(problem, plan)
    assert not found.violations
    assert found.value == 10.0 * (1 + 1 + 30)
    assert costs_in_relaxation(problem, plan, 170, cuts=0, whole=False) <= found.value + 1e-3


def test_a_road_may_lie_in_a_rest() -> None:
    """Work and roads are more than the open minutes of the day: the machine is on the road while its driver rests."""
    road = np.array([[0, 10, 10], [10, 0, 20], [10, 20, 0]], np.int64)
    moves = Moves(road, 0, None, True)
    opened = ((0, 100), (120, 220))
    drivers = tuple(Resource(f"driver {k}", open=opened, moves=moves) for k in range(2))
    machine = Resource("machine", open=opened, moves=moves)
    tasks = tuple(
        Task(
            name,
            (Mode(90, (Need((0, 1)), Need((2,))), windows=(Window(0, 220),), site=site, family=0),),
            optional=True,
            drop_cost=1000,
        )
        for name, site in (("near", 1), ("far", 2))
    )
    problem = Problem(tasks, (*drivers, machine), 220, days=((0, 220),))
    plan = CorePlan((Block(10, 100, 0, 0, 1, (0, 2)), Block(120, 210, 1, 0, 1, (0, 2))))
    found = evaluate(problem, plan)
    assert (found.violations, found.value) == ((), 0.0)
    for stretch in (20, 220):
        assert costs_in_relaxation(problem, plan, stretch, cuts=1, whole=True) <= 1e-3


def test_two_people_may_do_one_field_side_by_side() -> None:
    """They did more in a stretch than the relaxation let one of them, so its bound was no bound."""
    people = tuple(Resource(f"person {k}", open=((0, 480),)) for k in range(2))
    task = Task(
        "scout", (Mode(200, (Need((0, 1)),)),), 100, end_curve=Curve(((0, 0),), 0.0, 1.0), optional=True,
        drop_cost=5000, min_chunk=20,
    )  # fmt: skip
    problem = Problem((task,), people, 480, days=((0, 480),))
    plan = CorePlan((Block(0, 100, 0, 0, 50, (0,)), Block(0, 100, 0, 0, 50, (1,))))
    assert not evaluate(problem, plan).violations
    for stretch in (60, 480):
        assert costs_in_relaxation(problem, plan, stretch, cuts=0, whole=False) <= 100.0
