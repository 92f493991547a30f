"""Clashes of work with days: proofs worked out by hand, true plans that are never refuted, nothing needless named.

No source: a clash is what its definition says. Minutes by hand stand beside each case.
"""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scheduler.solver.clash import explain
from scheduler.solver.clash_needed import needed
from scheduler.solver.clash_proof import all_free, refuted
from scheduler.solver.clash_rules import Rule, relaxed, rules_of
from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Lag, Mode, Need, Pin, Problem, Task, Window
from scheduler.solver.resources import HoursLimit, Moves, Resource, Stock
from scheduler.solver.result import Limits, Status
from scheduler.solver.rigday import search
from scheduler.solver.solve import solve
from tests.benchmarks.farms import make_farm
from tests.solver.test_bound import torn
from tests.solver.test_bound_later import made_scarce

DAYS = ((0, 1440), (1440, 2880))
SECONDS = 5.0


def work(name: str, minutes: int, *windows: tuple[int, int], **more) -> Task:  # type: ignore[no-untyped-def]
    """Return work on the planter (0) by ann (1), in parts of a tenth."""
    spans = tuple(Window(a, b) for a, b in windows) or None
    mode = Mode(minutes, (Need((0,)), Need((1,))), spans, site=0, family=0, consumes={0: 10})
    return Task(name, (mode,), **{"size": 10, "min_chunk": 1} | more)


def farm(*tasks: Task, **more) -> Problem:  # type: ignore[no-untyped-def]
    day = tuple((a + 360, a + 1200) for a, _ in DAYS)
    things = (Resource("planter", open=day), Resource("ann", open=day))
    return Problem(
        tasks, **{"resources": things, "horizon": 2880, "days": DAYS, "stocks": (Stock("seed", 100),)} | more
    )


def named(problem: Problem) -> set[Rule]:
    clash = explain(problem, SECONDS)
    assert clash.proved and clash.smallest
    # A clash is what it is called: with its rules there is no plan, without any one of them there is.
    free = all_free(needed(relaxed(problem, clash.rules)).problem)
    assert refuted(free, 2.0)
    for rule in clash.rules:
        rest = all_free(needed(relaxed(problem, [one for one in clash.rules if one != rule])).problem)
        plan = search(rest, time.monotonic() + 60, Limits(0.02, 1, 1, True)).plan
        judged = evaluate(rest, plan)
        assert not judged.violations and judged.value == 0.0, rule
    return set(clash.rules)


def test_two_fields_of_five_hours_in_eight() -> None:
    """300 + 300 minutes in 480 fit ones; either alone has room, and so have both with a second planter and a second ann."""
    problem = farm(work("a", 300, (600, 1080)), work("b", 300, (600, 1080)), work("c", 300, optional=True))
    rules = named(problem)
    expected = {Rule("must", 0), Rule("windows", 0), Rule("must", 1), Rule("windows", 1)}
    # One of them is enough: whichever stays keeps both fields from running side by side.
    assert rules - expected in ({Rule("capacity", 0)}, {Rule("capacity", 1)})


def test_a_field_that_only_the_road_puts_out_of_reach() -> None:
    """840 minutes of work in a day of 840, and half an hour there and back."""
    moves = Moves(np.array([[0, 30], [30, 0]]), depot=1, home_daily=True)
    day = ((360, 1200),)
    things = (Resource("planter", open=day), Resource("ann", open=day, moves=moves))
    problem = farm(work("a", 840), resources=things, horizon=1440, days=DAYS[:1])
    rules = named(problem)
    assert Rule("moves", 1) in rules and Rule("must", 0) in rules
    assert not {rule for rule in rules if rule.kind in ("stock", "lag", "dates")}


def test_hours_of_a_person() -> None:
    """Ten hours of work, eight hours a day, one day: without the limit there are fourteen."""
    hours = HoursLimit(480, 480)
    day = ((360, 1200),)
    things = (Resource("planter", open=day), Resource("ann", open=day, hours=hours))
    assert named(farm(work("a", 600), resources=things, horizon=1440, days=DAYS[:1])) == {
        Rule("must", 0), Rule("hours", 1), Rule("capacity", 1),
    }  # fmt: skip


def test_waits_and_what_is_waited_for() -> None:
    """Spray, wait a day, plant, all within 20 fit hours of two days: the spraying is named by its hours, not as a demand."""
    spray = work("spray", 120, (600, 720), (2000, 2120), optional=True)
    plant = work("plant", 120, (600, 900), (1800, 1950))
    problem = farm(plant, spray, work("other", 60, optional=True), lags=(Lag(2, 0), Lag(1, 0, least=1440)))
    problem = replace(problem, lags=(Lag(0, 2), Lag(1, 0, least=1440)))
    # Sprayed at 720 at the earliest, planted from 2160 on: after the last fit minute.
    assert named(problem) == {Rule("must", 0), Rule("windows", 0), Rule("windows", 1), Rule("lag", 1)}


def test_stock_and_what_is_pinned() -> None:
    """Ten of seed each, fifteen there; a pin elsewhere takes the planter all day."""
    problem = farm(work("a", 60), work("b", 60), stocks=(Stock("seed", 15),))
    assert named(problem) == {Rule("must", 0), Rule("must", 1), Rule("stock", 0)}
    stands = Pin(1, 0, 360, 1200, 10, (0, 1))
    problem = farm(
        work("a", 60, (400, 1100)), work("b", 840, optional=True), pins=(stands,), horizon=1440, days=DAYS[:1]
    )
    rules = named(problem)
    assert {Rule("must", 0), Rule("windows", 0), Rule("pin", 0)} < rules


def test_what_nobody_asks_for_costs_no_time() -> None:
    """Among 200 fields, one demand: the part that decides is one task, and rules keep the numbers of the whole."""
    problem = make_farm(70, 0, 14)
    assert len(problem.tasks) > 190
    late = len(problem.tasks) - 1
    tasks = list(problem.tasks)
    closed = tuple(replace(mode, windows=(Window(5, 5),)) for mode in tasks[late].modes)
    tasks[late] = replace(tasks[late], modes=closed, optional=False, later=False)
    part = needed(replace(problem, tasks=tuple(tasks)))
    assert len(part.problem.tasks) <= 4
    clash = explain(replace(problem, tasks=tuple(tasks)), SECONDS)
    assert clash.proved and {Rule("must", late), Rule("windows", late)} == set(clash.rules)


@pytest.mark.clock
def test_a_farm_of_200_fields_is_explained_in_time() -> None:
    """All plantings by the fifth day: a few rules of one field are found among 1300, within the time, and proved."""
    problem = make_farm(200, 0)
    tasks = tuple(
        replace(task, optional=False, later=False, latest_end=5 * 1440)
        if task.name.startswith("plant")
        else task
        for task in problem.tasks
    )
    began = time.monotonic()
    clash = explain(replace(problem, tasks=tasks), SECONDS)
    assert time.monotonic() - began < SECONDS + 0.5
    assert clash.proved and 0 < len(clash.rules) < 40


def test_solve_says_that_not_all_can_be_done() -> None:
    """Three fields of 480 minutes, one planter, and 480 fit minutes on each of two days: proved, not just not found."""
    three = [work(name, 480, (360, 840), (1800, 2280)) for name in "abc"]
    assert solve(farm(*three), Limits(1.0, 1)).status is Status.INFEASIBLE
    assert solve(farm(*three[:2]), Limits(1.0, 1)).status in (Status.OPTIMAL, Status.FEASIBLE)


def test_no_clash_is_told_where_there_is_a_plan() -> None:
    clash = explain(farm(work("a", 300, (600, 1080)), work("b", 180, (600, 1080))), SECONDS)
    assert clash.rules == () and clash.proved


def test_work_without_days_that_may_be_split_is_explained_too() -> None:
    """No days are given: the whole horizon is one."""
    problem = farm(work("a", 300, (600, 800)), days=(), horizon=1440)
    assert named(problem) >= {Rule("must", 0), Rule("windows", 0)}


@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
@given(
    st.integers(3, 8),
    st.integers(0, 10_000),
    st.integers(3, 6),
    st.booleans(),
    st.floats(0.6, 1.0),
    st.integers(0, 3),
)
def test_what_a_true_plan_does_is_never_refuted(
    fields: int, seed: int, days: int, weeks: bool, kept: float, pins: int
) -> None:
    """All that a plan does wholly, by the time at which it does it, some of it pinned, with all rules and with some."""
    problem = torn(make_farm(fields, seed, days, weeks), seed)
    problem = made_scarce(problem, seed) if weeks else problem
    plan = search(problem, time.monotonic() + 60, Limits(0.05, 1, 1, True)).plan
    done: dict[int, int] = {}
    end: dict[int, int] = {}
    for block in plan.blocks:
        done[block.task] = done.get(block.task, 0) + block.amount
        end[block.task] = max(end.get(block.task, 0), block.end)
    tasks = tuple(
        replace(task, optional=False, later=False, latest_end=min(task.latest_end, end[t]))
        if done.get(t) == task.size
        else task
        for t, task in enumerate(problem.tasks)
    )
    stand = [Pin(b.task, b.mode, b.start, b.end, b.amount, b.resources) for b in plan.blocks[: 3 * pins : 3]]
    part = needed(replace(problem, tasks=tasks, pins=tuple(stand))).problem
    rng = np.random.default_rng(seed)
    rules = rules_of(part)
    for some in (rules, [rule for rule in rules if rng.random() < kept]):
        assert not refuted(all_free(relaxed(part, some)), 0.3)


@pytest.mark.parametrize("seed", [1, 3, 4])
def test_four_days_of_work_before_eight_are_refuted(seed: int) -> None:
    """The check above can fail: what fills four days is not done by eight on the first."""
    problem = make_farm(6, seed, 4)
    plan = search(problem, time.monotonic() + 60, Limits(0.05, 1, 1, True)).plan
    doing = {block.task for block in plan.blocks}
    assert doing
    tasks = tuple(
        replace(task, optional=t not in doing, later=False, latest_end=480)
        for t, task in enumerate(problem.tasks)
    )
    assert refuted(all_free(replace(problem, tasks=tasks)), 1.0)
