"""The judge sees every broken rule, and prices plans as published and as worked by hand."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from scheduler.solver.cases import read_case
from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import (
    Before,
    Choice,
    Curve,
    Lag,
    LagKind,
    Mode,
    Need,
    Pin,
    Problem,
    Task,
    Window,
)
from scheduler.solver.resources import Bucket, HoursLimit, Moves, Resource, Stock
from scheduler.solver.result import Block, CorePlan, Later
from tests.solver.instance_paths import instance_file

# Three sites: 0 is the depot; 10 minutes to site 1, 20 to site 2, 15 between.
ROADS = np.array([[0, 10, 20], [10, 0, 15], [20, 15, 0]], np.int64)


def rules(problem: Problem, *blocks: Block, later: tuple[Later, ...] = ()) -> set[str]:
    return {v.rule for v in evaluate(problem, CorePlan(blocks, later)).violations}


def one_job(**changes: object) -> Problem:
    """One task of 60 minutes on one machine."""
    task = replace(Task("job", (Mode(60, (Need((0,)),)),)), **changes)  # type: ignore[arg-type]
    return Problem((task,), (Resource("machine"),), 1000)


JOB = Block(0, 60, 0, 0, 1, (0,))


def test_a_sound_plan_breaks_nothing() -> None:
    assert rules(one_job(), JOB) == set()


def test_dates_length_resource_and_horizon_are_held() -> None:
    problem = one_job(release=5, latest_start=40, latest_end=90)
    assert rules(problem, JOB) == {"release"}
    assert rules(problem, Block(41, 101, 0, 0, 1, (0,))) == {"latest_start", "latest_end"}
    assert rules(problem, Block(10, 60, 0, 0, 1, (0,))) == {"length"}
    assert rules(one_job(), Block(990, 1050, 0, 0, 1, (0,))) == {"horizon"}
    two = replace(problem, resources=(Resource("machine"), Resource("other")))
    assert rules(two, Block(10, 70, 0, 0, 1, (1,))) == {"resource"}
    assert rules(problem, Block(10, 70, 0, 3, 1, (0,))) == {"unknown", "undone"}


def test_windows_and_hours_hold_whole_blocks() -> None:
    mode = Mode(60, (Need((0,)),), windows=(Window(0, 50), Window(100, 200, risk_per_minute=2.0)))
    problem = replace(one_job(), tasks=(Task("job", (mode,)),))
    assert rules(problem, JOB) == {"window"}
    found = evaluate(problem, CorePlan((Block(110, 170, 0, 0, 1, (0,)),)))
    assert not found.violations and found.parts["risk"] == 120
    shut = replace(one_job(), resources=(Resource("machine", open=((0, 30), (40, 200))),))
    assert rules(shut, JOB) == {"calendar"}
    assert rules(shut, Block(40, 100, 0, 0, 1, (0,))) == set()


def test_resumable_work_ends_later_by_the_closures_it_meets() -> None:
    problem = replace(one_job(resumable=True), resources=(Resource("machine", open=((0, 30), (40, 200))),))
    assert rules(problem, Block(0, 70, 0, 0, 1, (0,))) == set()
    assert rules(problem, JOB) == {"length"}
    assert rules(problem, Block(35, 100, 0, 0, 1, (0,))) == {"calendar"}


def test_overlap_gap_and_all_pairs() -> None:
    def task(site: int, minutes: int) -> Task:
        return Task(f"at {site}", (Mode(minutes, (Need((0,)),), site=site),))

    moves = Moves(ROADS, initial=ROADS[0], final=ROADS[0], final_latest=200, cost_per_minute=3.0)
    problem = Problem((task(1, 30), task(2, 30)), (Resource("machine", moves=moves),), 1000)
    good = (Block(10, 40, 0, 0, 1, (0,)), Block(55, 85, 1, 0, 1, (0,)))
    found = evaluate(problem, CorePlan(good))
    assert not found.violations
    assert found.parts["move"] == 3.0 * (10 + 15 + 20)
    assert rules(problem, good[0], Block(54, 84, 1, 0, 1, (0,))) == {"gap"}
    assert rules(problem, good[0], Block(39, 69, 1, 0, 1, (0,))) == {"overlap"}
    assert rules(problem, Block(9, 39, 0, 0, 1, (0,)), good[1]) == {"depot"}
    assert rules(problem, good[0], Block(155, 185, 1, 0, 1, (0,))) == {"depot"}
    wide = np.array([[0, 1, 50], [1, 0, 1], [50, 1, 0]], np.int64)
    three = tuple(Task(str(s), (Mode(1, (Need((0,)),), site=s),)) for s in range(3))
    row = (Block(0, 1, 0, 0, 1, (0,)), Block(2, 3, 1, 0, 1, (0,)), Block(4, 5, 2, 0, 1, (0,)))
    near = Problem(three, (Resource("m", moves=Moves(wide)),), 100)
    assert rules(near, *row) == set()
    far = Problem(three, (Resource("m", moves=Moves(wide, all_pairs=True)),), 100)
    assert rules(far, *row) == {"gap"}


def test_a_change_of_family_goes_over_the_depot() -> None:
    moves = Moves(ROADS, depot=0, change=np.array([[0, 7], [9, 0]], np.int64))
    tasks = tuple(
        Task(f"family {f}", (Mode(10, (Need((0,)),), site=site, family=f),)) for site, f in ((1, 0), (2, 1))
    )
    problem = Problem(tasks, (Resource("tractor", moves=moves),), 1000)
    need = 10 + 20 + 7
    assert rules(problem, Block(0, 10, 0, 0, 1, (0,)), Block(10 + need, 20 + need, 1, 0, 1, (0,))) == set()
    assert rules(problem, Block(0, 10, 0, 0, 1, (0,)), Block(9 + need, 19 + need, 1, 0, 1, (0,))) == {"gap"}


def test_a_change_on_the_way_needs_no_depot() -> None:
    change, free = np.array([[0, 7], [9, 0]], np.int64), np.array([[True, True], [False, True]])
    moves = Moves(ROADS, depot=0, change=change, on_the_way=free)
    tasks = tuple(
        Task(f"family {f}", (Mode(10, (Need((0,)),), site=site, family=f),)) for site, f in ((1, 0), (2, 1))
    )
    problem = Problem(tasks, (Resource("planter", moves=moves),), 1000)
    need = int(ROADS[1, 2]) + 7
    assert rules(problem, Block(0, 10, 0, 0, 1, (0,)), Block(10 + need, 20 + need, 1, 0, 1, (0,))) == set()
    assert rules(problem, Block(0, 10, 0, 0, 1, (0,)), Block(9 + need, 19 + need, 1, 0, 1, (0,))) == {"gap"}
    back = 20 + 10 + 9
    assert rules(problem, Block(10 + back, 20 + back, 0, 0, 1, (0,)), Block(0, 10, 1, 0, 1, (0,))) == set()
    assert rules(problem, Block(9 + back, 19 + back, 0, 0, 1, (0,)), Block(0, 10, 1, 0, 1, (0,))) == {"gap"}


DAY = ((0, 600), (1440, 2040))


def farm_day(most: int = 600, week: int = 10_000) -> Problem:
    """Two tasks at sites 1 and 2; a machine that goes home daily and a person with hours."""
    moves = Moves(ROADS, depot=0, home_daily=True)
    hours = HoursLimit(100, most, week, 1.0, 3.0, weeks=((0, 1),), used_before=(20,))
    resources = (Resource("rig", moves=moves), Resource("person", moves=moves, hours=hours))
    tasks = tuple(Task(f"site {s}", (Mode(60, (Need((0,)), Need((1,))), site=s),)) for s in (1, 2))
    return Problem(tasks, resources, 2040, days=DAY)


def test_days_begin_and_end_at_the_depot_and_hours_are_paid_from_leaving_to_coming_home() -> None:
    plan = (Block(10, 70, 0, 0, 1, (0, 1)), Block(85, 145, 1, 0, 1, (0, 1)))
    found = evaluate(farm_day(), CorePlan(plan))
    assert not found.violations
    # Away from 0 to 165: 100 minutes at 1, 65 at 3. Worked by hand.
    assert found.parts["hours"] == 100 + 3 * 65
    assert rules(farm_day(most=164), *plan) == {"day_hours"}
    assert rules(farm_day(week=184), *plan) == {"week_hours"}
    assert rules(farm_day(week=185), *plan) == set()
    assert rules(farm_day(), Block(9, 69, 0, 0, 1, (0, 1)), plan[1]) == {"depot"}
    assert rules(farm_day(most=700), plan[0], Block(521, 581, 1, 0, 1, (0, 1))) == {"depot"}
    assert rules(farm_day(), plan[0], Block(1000, 1060, 1, 0, 1, (0, 1))) >= {"day"}


def test_lags_of_every_kind_and_undone_predecessors() -> None:
    tasks = tuple(Task(n, (Mode(10, (Need((i,)),)),), optional=n == "a") for i, n in enumerate("ab"))
    base = Problem(tasks, (Resource("x"), Resource("y")), 100)
    a, b = Block(0, 10, 0, 0, 1, (0,)), Block(15, 25, 1, 0, 1, (1,))
    for kind, apart in (("es", 5), ("ss", 15), ("se", 25), ("ee", 15)):
        exact = Lag(0, 1, LagKind(kind), apart, apart)
        assert rules(replace(base, lags=(exact,)), a, b) == set()
        assert rules(replace(base, lags=(replace(exact, least=apart + 1, most=None),)), a, b) == {"lag"}
        assert rules(replace(base, lags=(replace(exact, least=None, most=apart - 1),)), a, b) == {"lag_most"}
    assert rules(replace(base, lags=(Lag(0, 1),)), b) == {"lag"}
    assert rules(replace(base, lags=(Lag(0, 1, loose=True),)), b) == set()


def test_what_is_placed_of_a_loosely_tied_task_still_comes_first() -> None:
    half = replace(Task("a", (Mode(20, (Need((0,)),)),)), size=2, min_chunk=1, optional=True)
    after = Task("b", (Mode(10, (Need((1,)),)),))
    problem = Problem((half, after), (Resource("x"), Resource("y")), 100, lags=(Lag(0, 1, loose=True),))
    b = Block(15, 25, 1, 0, 1, (1,))
    assert "lag" not in rules(problem, Block(0, 10, 0, 0, 1, (0,)), b)
    assert "lag" in rules(problem, Block(30, 40, 0, 0, 1, (0,)), b)


def test_capacity_stock_choice_and_drop() -> None:
    mode = Mode(10, (Need((0,), 2),), consumes={0: 5})
    tasks = (Task("a", (mode,)), Task("b", (mode,), optional=True, drop_cost=40))
    pool = Resource("pool", capacity=3, cumulative=True)
    problem = Problem(tasks, (pool,), 100, stocks=(Stock("seed", 5, ((30, 5),)),))
    a, b = Block(0, 10, 0, 0, 1, (0,)), Block(30, 40, 1, 0, 1, (0,))
    assert rules(problem, a, b) == set()
    assert rules(problem, a, Block(29, 39, 1, 0, 1, (0,))) == {"stock"}
    assert rules(problem, Block(35, 45, 0, 0, 1, (0,)), b) == {"capacity"}
    assert evaluate(problem, CorePlan((a,))).parts["drop"] == 40
    assert rules(replace(problem, choices=(Choice(0, (1,)),)), a) == {"choice"}
    assert rules(problem, b) == {"undone"}


def test_split_chunks_amounts_and_shares_of_cost() -> None:
    late = Curve(((100, 0),), 0.0, 2.0)
    problem = one_job(size=10, min_chunk=4, end_curve=late)
    parts = (Block(0, 24, 0, 0, 4, (0,)), Block(100, 136, 0, 0, 6, (0,)))
    found = evaluate(problem, CorePlan(parts))
    assert not found.violations
    assert found.parts["end"] == pytest.approx(0.6 * 2 * 36)
    assert rules(problem, Block(30, 48, 0, 0, 3, (0,)), Block(50, 68, 0, 0, 3, (0,)), *parts[:1]) == {"chunk"}
    assert rules(problem, *parts, Block(200, 224, 0, 0, 4, (0,))) == {"amount"}
    assert rules(replace(problem, tasks=(replace(problem.tasks[0], min_chunk=None),)), *parts) == {"split"}


def test_pins_stand_against_windows_and_must_be_there() -> None:
    mode = Mode(60, (Need((0,)),), windows=(Window(100, 200),))
    problem = replace(one_job(), tasks=(Task("job", (mode,)),), pins=(Pin(0, 0, 0, 45, 1, (0,)),))
    assert rules(problem, Block(0, 45, 0, 0, 1, (0,))) == set()
    assert rules(problem, Block(100, 160, 0, 0, 1, (0,))) == {"pin"}


def test_buckets_hold_capacity_over_all_ways_of_choosing() -> None:
    either, second = Mode(60, (Need((0, 1)),)), Mode(60, (Need((1,)),))
    tasks = (Task("either", (either,), later=True), Task("second", (second,), later=True))
    resources = (Resource("a"), Resource("b"))
    later = (Later(0, 0, 0, 1), Later(1, 0, 0, 1))
    for room, expected in (({0: 60, 1: 60}, set()), ({0: 59, 1: 60}, {"bucket"}), ({0: 30, 1: 90}, set())):
        problem = Problem(tasks, resources, 100, buckets=(Bucket(100, 200, room),))
        assert rules(problem, later=later) == expected


def test_the_price_of_a_change_is_saved_by_keeping_start_and_resources() -> None:
    known = Before((Pin(0, 0, 0, 60, 1, (0,)),), {0: 70})
    problem = replace(one_job(), before=known)
    assert evaluate(problem, CorePlan((JOB,))).parts["change"] == 0
    assert evaluate(problem, CorePlan((Block(5, 65, 0, 0, 1, (0,)),))).parts["change"] == 70


@pytest.mark.parametrize("name", ["8", "15"])
def test_published_optimal_orders_cost_what_was_published(name: str) -> None:
    """Orders and values: Tanaka & Araki optima of weighted tardiness with set-ups (wtsds_orders.json)."""
    given = json.loads(instance_file("wtsds_orders.json").read_text())[name]
    problem = read_case(instance_file(f"cases/wtsds_{name}.json"))
    moves = problem.resources[0].moves
    assert moves is not None and moves.initial is not None
    at, before, blocks = 0, -1, []
    for t in given["order"]:
        at += int(moves.initial[t] if before < 0 else moves.minutes[before, t])
        end = at + problem.tasks[t].modes[0].minutes
        blocks.append(Block(at, end, t, 0, 1, (0,)))
        at, before = end, t
    found = evaluate(problem, CorePlan(tuple(blocks)))
    assert not found.violations
    assert found.value == given["value"]
