"""What the bound knows of the weeks behind the horizon: dates, stocks, minutes of groups, waits. Each case by hand.

No source: plain arithmetic on problems so small that their best plan can be seen; the evaluator holds each such plan to
be sound and as dear as said.
"""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scheduler.solver.bound import WHOLE_A_SECOND, WHOLE_HARDER, Bounder
from scheduler.solver.bound_model import RelaxedFarm
from scheduler.solver.bound_solve import solve_rows
from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Curve, Lag, Mode, Need, Problem, Task
from scheduler.solver.resources import Bucket, Resource, Stock
from scheduler.solver.result import CorePlan, Later, Limits
from scheduler.solver.rigday import search
from scheduler.solver.rigday_calendar import Calendar
from tests.benchmarks.farms import make_farm
from tests.solver.test_bound import costs_in_relaxation, torn

DAY = 1440
DROP = 1000
WEEKS = (Bucket(DAY, 8 * DAY, {0: 600, 1: 600}), Bucket(8 * DAY, 15 * DAY, {0: 600, 1: 600}))
DEARER = Curve(((0, 0), (8 * DAY, 100), (15 * DAY, 300)))
"""100 for what ends with the first week, 300 with the second."""
TWO = (Resource("ann", open=()), Resource("bob", open=()))
"""Both closed within the horizon: all is left to the weeks."""


def later_task(name: str, needs: tuple[Need, ...] = (Need((0,)),), minutes: int = 60, **more) -> Task:
    ways = more.pop("modes", (Mode(minutes, needs, consumes=more.pop("consumes", {})),))
    return Task(
        name, ways, size=10, end_curve=DEARER, optional=True, drop_cost=DROP, min_chunk=1, later=True, **more
    )  # fmt: skip


def bound_of(tasks: tuple[Task, ...], lags: tuple[Lag, ...] = (), **more) -> tuple[Problem, float]:
    parts = {"buckets": WEEKS, **more}
    problem = Problem(tasks, TWO, 15 * DAY, lags=lags, days=((0, DAY),), **parts)
    farm = RelaxedFarm(problem, Calendar(problem), DAY)
    return problem, solve_rows(farm.rows, 60.0).bound


def costs(problem: Problem, *parts: Later) -> float:
    """Return the cost of a plan that leaves this to the weeks; it has to be sound."""
    found = evaluate(problem, CorePlan((), parts))
    assert not found.violations, found.violations
    return found.value


def test_what_is_left_to_a_week_costs_its_end() -> None:
    problem, bound = bound_of((later_task("a"),))
    assert bound == pytest.approx(costs(problem, Later(0, 0, 0, 10)), rel=1e-4)
    assert bound == pytest.approx(100, rel=1e-4)


def test_a_week_outside_the_dates_of_a_task_is_none_of_its_weeks() -> None:
    problem, bound = bound_of((later_task("a", release=8 * DAY),))
    assert bound == pytest.approx(costs(problem, Later(0, 0, 1, 10)), rel=1e-4)
    assert bound == pytest.approx(300, rel=1e-4)
    problem, bound = bound_of((later_task("a", latest_end=DAY),))
    assert bound == pytest.approx(costs(problem), rel=1e-4) == pytest.approx(DROP, rel=1e-4)


def test_later_work_takes_of_the_stock_too() -> None:
    # Enough for half of the field in the first week; the other half comes with the delivery of the second.
    stock = Stock("seed", 50, ((8 * DAY, 50),))
    problem, bound = bound_of((later_task("a", consumes={0: 100}),), stocks=(stock,))
    assert bound == pytest.approx(costs(problem, Later(0, 0, 0, 5), Later(0, 0, 1, 5)), rel=1e-4)
    assert bound == pytest.approx(200, rel=1e-4)
    # With no delivery half stays undone.
    problem, bound = bound_of((later_task("a", consumes={0: 100}),), stocks=(Stock("seed", 50),))
    assert bound == pytest.approx(costs(problem, Later(0, 0, 0, 5)), rel=1e-4)
    assert bound == pytest.approx(50 + DROP / 2, rel=1e-4)


def test_two_jobs_of_all_hours_share_the_group_that_can_do_them() -> None:
    # Each takes 900 of the 1200 minutes that both people have in a week, whoever does it.
    pair = (later_task("a", (Need((0, 1)),), 900), later_task("b", (Need((0, 1)),), 900))
    problem, bound = bound_of(pair)
    sound = costs(problem, Later(0, 0, 0, 10), Later(1, 0, 0, 3), Later(1, 0, 1, 7))
    assert bound <= sound
    assert bound == pytest.approx(100 + 100 / 3 + 300 * 2 / 3, rel=1e-4)


def test_two_ways_that_take_different_people_share_these() -> None:
    ways = (Mode(900, (Need((0,)),)), Mode(900, (Need((1,)),)))
    pair = (later_task("a", modes=ways), later_task("b", modes=ways))
    assert bound_of(pair)[1] == pytest.approx(100 + 100 / 3 + 300 * 2 / 3, rel=1e-4)


def test_what_waits_eight_days_is_not_done_in_the_same_week() -> None:
    # A part counts as begun when its week ends, where it waits, and as ended when its week begins: 7 days at most.
    pair = (later_task("a"), later_task("b"))
    problem, bound = bound_of(pair, (Lag(0, 1, least=8 * DAY),))
    assert bound == pytest.approx(costs(problem, Later(0, 0, 0, 10), Later(1, 0, 1, 10)), rel=1e-4)
    assert bound == pytest.approx(100 + 300, rel=1e-4)
    problem, bound = bound_of(pair, (Lag(0, 1, least=7 * DAY),))
    assert bound == pytest.approx(costs(problem, Later(0, 0, 0, 10), Later(1, 0, 0, 10)), rel=1e-4)
    assert bound == pytest.approx(100 + 100, rel=1e-4)


def test_what_comes_after_if_both_are_done_does_not_come_before() -> None:
    # The first is not to be had in the first week. So the second waits for it, or the first is not done at all.
    pair = (later_task("a", release=8 * DAY), later_task("b"))
    problem, bound = bound_of(pair, (Lag(0, 1, least=60, loose=True),))
    assert bound == pytest.approx(costs(problem, Later(0, 0, 1, 10), Later(1, 0, 1, 10)), rel=1e-4)
    assert bound == pytest.approx(300 + 300, rel=1e-4)
    problem, bound = bound_of(pair, (Lag(1, 0, least=60, loose=True),))
    assert bound == pytest.approx(300 + 100, rel=1e-4)


@pytest.mark.parametrize(
    "left_s, finest_s, tried",
    [
        (100.0, 50, [60]),
        (20.0, 400, [120, 60]),
        (20.0, 50, [60]),
        (6.0, 400, [120, 60]),
        (1.0, 50, [240, 120, 60]),
    ],
    ids=[
        "for the finest",
        "for the middle one",
        "for the first bound of the finest",
        "for that of the middle one",
        "for none",
    ],
)
def test_whole_waits_are_tried_in_the_finest_hours_that_time_allows(
    monkeypatch: pytest.MonkeyPatch, left_s: float, finest_s: float, tried: list[int]
) -> None:
    """Guessed to take 5, 15 and `finest_s` seconds, a first bound a fraction: coarser ones than the finest that fits are skipped."""
    problem = make_farm(3, 0, 3)
    bounder = Bounder(problem, Calendar(problem), time.monotonic() + left_s, Limits(seconds=left_s))
    guesses = ((240, 5.0), (120, 15.0), (60, finest_s))
    took = {s: (guess / WHOLE_A_SECOND) ** (1 / WHOLE_HARDER) for s, guess in guesses}
    found: list[int] = []
    monkeypatch.setattr(bounder, "_relax", lambda stretch, rough=False: None)
    monkeypatch.setattr(bounder, "_wait_whole", found.append)
    monkeypatch.setattr(bounder, "_took_s", took)
    bounder.run()
    assert found == tried


@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
@given(st.integers(3, 8), st.integers(0, 10_000), st.integers(3, 6), st.sampled_from([45, 120, 300]))
def test_any_farm_with_later_weeks_keeps_the_relaxation(
    fields: int, seed: int, days: int, stretch: int
) -> None:
    """Dates that begin or end among the weeks, loose waits, less stock and less time: a true plan costs no less."""
    problem = made_scarce(torn(make_farm(fields, seed, days, buckets=True), seed), seed)
    plan = search(problem, time.monotonic() + 60, Limits(0.05, 1, 1, True)).plan
    found = evaluate(problem, plan)
    assert not found.violations
    most = found.value * (1 + 1e-5) + 1e-3
    assert costs_in_relaxation(problem, plan, stretch, cuts=1, whole=True) <= most
    assert costs_in_relaxation(problem, plan, DAY, cuts=0, whole=False, apart=True) <= most


def made_scarce(problem: Problem, seed: int) -> Problem:
    rng = np.random.default_rng(seed)

    def dated(task: Task) -> Task:
        week = problem.buckets[int(rng.integers(len(problem.buckets)))]
        kind = rng.random()
        if kind < 0.15:
            return replace(task, release=int(week.start + rng.integers(-2000, 2000)))
        return replace(task, latest_end=int(week.start + rng.integers(-500, 3000))) if kind < 0.3 else task

    def less(stock: Stock) -> Stock:
        after = (
            int(problem.days[-1][1] + rng.integers(0, 15_000)),
            int(rng.integers(0, stock.initial + 1000)),
        )
        have = int(stock.initial * rng.uniform(0.2, 1))
        return replace(stock, initial=have, deliveries=(*stock.deliveries, after))

    def shorter(week: Bucket) -> Bucket:
        return replace(week, capacity={r: int(c * rng.uniform(0, 1)) for r, c in week.capacity.items()})

    return replace(
        problem,
        lags=tuple(replace(lag, loose=bool(rng.random() < 0.4)) for lag in problem.lags),
        tasks=tuple(dated(task) for task in problem.tasks),
        stocks=tuple(less(stock) for stock in problem.stocks),
        buckets=tuple(shorter(week) for week in problem.buckets),
    )
