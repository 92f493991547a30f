"""What the bound knows of the weeks behind the horizon: dates, stocks, minutes of groups, waits. Each case by hand.

No source: plain arithmetic on problems so small that their best plan can be seen; the evaluator holds each such plan to
be sound and as dear as said.
"""

from __future__ import annotations

import pytest

from scheduler.solver.bound_model import RelaxedFarm
from scheduler.solver.bound_solve import solve_rows
from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Curve, Lag, Mode, Need, Problem, Task
from scheduler.solver.resources import Bucket, Resource, Stock
from scheduler.solver.result import CorePlan, Later
from scheduler.solver.rigday_calendar import Calendar

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
