"""A plan mended by the rule: what is still sound stands, what is a little late moves along, nothing is brought forward alone.

Worked out on paper; the arithmetic stands beside each.
"""

from __future__ import annotations

import numpy as np
import pytest

from scheduler.solver.dispatch import dispatch
from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Lag, Mode, Need, Problem, Task, Window
from scheduler.solver.resources import Bucket, Moves, Resource
from scheduler.solver.result import Block, CorePlan, Later
from scheduler.solver.rigday_walk import HEAT_LEAST, HEAT_NEAR, Walk
from tests.solver.test_rigday_by_hand import DAY, days, open_days


def mended(problem: Problem, start: CorePlan) -> CorePlan:
    plan = dispatch(problem, start=start)
    assert not evaluate(problem, plan).violations
    return plan


def one_rig(name: str, minutes: int, *, windows: tuple[Window, ...], site: int = -1, **more: object) -> Task:
    mode = Mode(minutes, (Need((0,)),), windows, site=site)
    return Task(name, (mode,), optional=True, drop_cost=100, **more)  # type: ignore[arg-type]


def test_who_comes_from_elsewhere_is_later_and_what_follows_moves_along() -> None:
    """An hour's road from the yard, out at 600: the field of 630 begins at 660, the next one, beside it, when that ends."""
    road = np.array([[0, 60, 60], [60, 0, 0], [60, 0, 0]])
    rig = Resource("rig", open=((600, 1200),), moves=Moves(road, 0, None, True))
    windows = (Window(360, 1200),)
    tasks = (one_rig("a", 120, windows=windows, site=1), one_rig("b", 60, windows=windows, site=2))
    start = CorePlan((Block(630, 750, 0, 0, 1, (0,)), Block(750, 810, 1, 0, 1, (0,))))
    plan = mended(Problem(tasks, (rig,), DAY, days=days(1)), start)
    assert [(b.task, b.start, b.resources) for b in plan.blocks] == [(0, 660, (0,)), (1, 780, (0,))]


def test_a_day_too_short_for_it_later_is_left_to_the_rule() -> None:
    """Out at 600 and an hour's road: 500 minutes do not end by 1140, so the rule takes the day after."""
    road = np.array([[0, 60], [60, 0]])
    rig = Resource("rig", open=((600, 1200), (DAY + 360, DAY + 1200)), moves=Moves(road, 0, None, True))
    windows = (Window(360, 1200), Window(DAY + 360, DAY + 1200))
    task = one_rig("a", 500, windows=windows, site=1)
    plan = mended(
        Problem((task,), (rig,), 2 * DAY, days=days(2)), CorePlan((Block(630, 1130, 0, 0, 1, (0,)),))
    )
    assert [b.start for b in plan.blocks] == [DAY + 420]


def test_what_was_left_to_a_week_is_not_brought_forward_alone() -> None:
    """The band may be at most two days old when the corn is planted, which has no day before the week: banded now it is lost."""
    week = Bucket(5 * DAY, 12 * DAY, {0: 700})
    later = {"later": True, "latest_end": 12 * DAY}
    band = one_rig("band", 60, windows=(Window(360, 1200),), **later)
    plant = one_rig("plant", 60, windows=(), **later)
    lags = (Lag(0, 1, most=2 * DAY),)
    problem = Problem(
        (band, plant), (Resource("rig", open=open_days(1)),), DAY, days=days(1), lags=lags, buckets=(week,)
    )
    start = CorePlan((), (Later(0, 0, 0, 1), Later(1, 0, 0, 1)))
    plan = mended(problem, start)
    assert not plan.blocks and sorted(item.task for item in plan.later) == [0, 1]
    assert evaluate(problem, plan).value == 0
    assert evaluate(problem, dispatch(problem)).value == pytest.approx(100), "the rule alone bands at once"


def test_what_is_missing_before_a_block_is_done_in_the_first_gap() -> None:
    """The spraying of yesterday was not done: it goes before the planting that stands, not behind it."""
    windows = (Window(360, 1200), Window(DAY + 360, DAY + 1200))
    spray = one_rig("spray", 120, windows=windows)
    plant = one_rig("plant", 120, windows=windows)
    other = one_rig("other", 700, windows=windows)
    problem = Problem(
        (spray, plant, other), (Resource("rig", open=open_days(2)),), 2 * DAY, days=days(2), lags=(Lag(0, 1),)
    )
    start = CorePlan((Block(DAY + 360, DAY + 480, 1, 0, 1, (0,)),))
    plan = mended(problem, start)
    by_task = {b.task: b.start for b in plan.blocks}
    assert by_task[1] == DAY + 360 and by_task[0] == 360


def test_a_search_from_a_given_plan_begins_cold_and_one_from_nothing_hot(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    import time

    from scheduler.solver import rigday
    from scheduler.solver.result import Limits

    begun: list[float] = []

    class Noted(Walk):
        def __init__(self, work, near=False):
            super().__init__(work, near)
            begun.append(self.least)

    monkeypatch.setattr(rigday, "Walk", Noted)
    rigday.warm_up()
    begun.clear()
    windows = (Window(360, 1200),)
    tasks = tuple(one_rig(name, 300, windows=windows) for name in "abc")
    problem = Problem(tasks, (Resource("rig", open=open_days(1)),), DAY, days=days(1))
    limits = Limits(seconds=0.2, workers=1, seed=1, deterministic=True)
    best = rigday.search(problem, time.monotonic() + 30.0, limits).plan
    rigday.search(problem, time.monotonic() + 30.0, limits, start=best)
    assert begun == [HEAT_LEAST, HEAT_NEAR]
