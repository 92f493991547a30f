"""Small farms whose best plan can be worked out on paper; the arithmetic stands beside each."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest

from scheduler.solver.dispatch import dispatch
from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Before, Curve, Lag, Mode, Need, Pin, Problem, Task, Window
from scheduler.solver.resources import Bucket, HoursLimit, Moves, Resource, Stock
from scheduler.solver.result import Limits, Result, Status
from scheduler.solver.rigday import search

DAY = 1440


def days(count: int) -> tuple[tuple[int, int], ...]:
    return tuple((d * DAY, (d + 1) * DAY) for d in range(count))


def open_days(count: int, start: int = 360, end: int = 1200) -> tuple[tuple[int, int], ...]:
    return tuple((d * DAY + start, d * DAY + end) for d in range(count))


def find(problem: Problem, seconds: float = 0.4, **more: object) -> Result:
    limits = Limits(seconds=seconds, workers=1, seed=1, deterministic=True)
    result = search(problem, time.monotonic() + 60.0, limits, **more)  # type: ignore[arg-type]
    assert not evaluate(problem, result.plan).violations
    return result


def job(
    name: str, minutes: int, drop: int, *, windows: tuple[Window, ...] | None = None, **more: object
) -> Task:
    mode = Mode(minutes, (Need((0,)),), windows)
    return Task(name, (mode,), optional=True, drop_cost=drop, **more)  # type: ignore[arg-type]


def test_takes_the_pair_that_is_worth_most() -> None:
    """10 hours of time; jobs of 6, 5 and 5 hours worth 100, 60 and 55: the pair (115) beats the single (100)."""
    window = (Window(360, 960),)
    tasks = tuple(
        job(n, m, d, windows=window) for n, m, d in [("a", 360, 100), ("b", 300, 60), ("c", 300, 55)]
    )
    result = find(Problem(tasks, (Resource("rig", open=open_days(1)),), DAY, days=days(1)))
    assert result.value == pytest.approx(100)
    assert {b.task for b in result.plan.blocks} == {1, 2}


def test_rig_leaves_and_comes_home_within_its_day() -> None:
    """Open 360 to 660, road 60 each way: 180 minutes in the field, so 3/5 of a 300-minute job, 2/5 undone."""
    road = np.array([[0, 60], [60, 0]])
    rig = Resource("rig", open=((360, 660),), moves=Moves(road, 0, None, True))
    task = Task(
        "plant", (Mode(300, (Need((0,)),), None, 0, 1, 0),), 100, optional=True, drop_cost=1000, min_chunk=10
    )
    result = find(Problem((task,), (rig,), DAY, days=days(1)))
    (block,) = result.plan.blocks
    assert (block.start, block.end, block.amount) == (420, 600, 60)
    assert result.value == pytest.approx(400)


def test_order_follows_loss_per_minute() -> None:
    """Weights 3 and 1 a minute, lengths 200 and 100: ratios 0.015 and 0.01, so the long one first.

    Smith's rule (W. E. Smith 1956, weighted completion time): 200*3 + 300*1 = 900 after opening at 360,
    that is 560*3 + 660*1 = 2340.
    """
    a = Task(
        "a", (Mode(200, (Need((0,)),)),), end_curve=Curve(((0, 0),), 0.0, 3.0), optional=True, drop_cost=10**6
    )
    b = Task(
        "b", (Mode(100, (Need((0,)),)),), end_curve=Curve(((0, 0),), 0.0, 1.0), optional=True, drop_cost=10**6
    )
    result = find(Problem((a, b), (Resource("rig", open=open_days(1)),), DAY, days=days(1)))
    assert result.value == pytest.approx(2340)


def test_planting_waits_for_the_whole_band() -> None:
    """Band over two short mornings, plant at least 120 minutes after its last block."""
    band = Task(
        "band",
        (Mode(200, (Need((0,)),), (Window(360, 500), Window(DAY + 360, DAY + 500))),),
        100,
        optional=True,
        drop_cost=1000,
        min_chunk=10,
    )
    plant = Task("plant", (Mode(100, (Need((1,)),)),), optional=True, drop_cost=5000)
    bar, planter = (Resource(n, open=open_days(2)) for n in ("bar", "planter"))
    problem = Problem((band, plant), (bar, planter), 2 * DAY, lags=(Lag(0, 1, least=120),), days=days(2))
    result = find(problem)
    ends = [b.end for b in result.plan.blocks if b.task == 0]
    (start,) = [b.start for b in result.plan.blocks if b.task == 1]
    assert result.value == pytest.approx(0)
    assert start >= max(ends) + 120


def test_stock_waits_for_the_delivery() -> None:
    """60 units now, 60 on day 1 at noon; two jobs take 50 each: the second starts after the delivery."""
    curve = Curve(((0, 0),), 0.0, 0.1)
    tasks = tuple(
        Task(n, (Mode(60, (Need((0,)),), consumes={0: 50}),), end_curve=curve, optional=True, drop_cost=10**5)
        for n in ("a", "b")
    )
    stock = Stock("nitrogen", 60, ((DAY + 720, 60),))
    problem = Problem(tasks, (Resource("rig", open=open_days(2)),), 2 * DAY, stocks=(stock,), days=days(2))
    starts = sorted(b.start for b in find(problem).plan.blocks)
    assert starts == [360, DAY + 720]


def test_week_limit_and_overtime_are_paid_as_agreed() -> None:
    """Two 8-hour jobs, one person, 14 hours a week: one is done (480 min at 1), the other costs its 2000."""
    hours = HoursLimit(600, 840, 840, 1.0, 2.0, ((0, 1),), (0,))
    tasks = tuple(job(n, 480, 2000) for n in ("a", "b"))
    person = Resource("person", open=open_days(2), hours=hours)
    assert find(Problem(tasks, (person,), 2 * DAY, days=days(2))).value == pytest.approx(2480)
    # 12 hours on one day: 600 at 1 and 120 at 2 make 840.
    long_day = Problem((job("a", 720, 2000),), (person,), DAY, days=days(1))
    assert find(long_day).value == pytest.approx(840)


def test_a_change_of_driver_and_of_machine_has_its_price() -> None:
    """Two jobs of 300 on one machine; who may drive is the same twice, or from 700 on only the other person.

    Free to choose, one person does both and nothing is paid. Where the first goes home at 700, the machine changes hands once:
    50. With a machine for each job and one person who drives both, the person changes machines once: 50 again.
    """
    curve = Curve(((0, 0),), 0.0, 0.01)

    def both(machines: tuple[int, int], people: tuple[int, ...]) -> tuple[Task, ...]:
        return tuple(
            Task(
                name,
                (Mode(300, (Need((m,)), Need(people)), lead=1, led=0),),
                end_curve=curve,
                optional=True,
                drop_cost=9000,
            )
            for name, m in zip("ab", machines, strict=True)
        )

    def value(tasks: tuple[Task, ...], first_goes_at: int) -> float:
        machines = tuple(Resource(name, open=open_days(1), handover=50) for name in ("m", "n"))
        people = tuple(
            Resource(name, open=((360, end),), handover=50)
            for name, end in (("p", first_goes_at), ("q", 1200))
        )
        found = find(Problem(tasks, (*machines, *people), DAY, days=days(1)))
        assert len(found.plan.blocks) == 2
        return found.value

    late = 0.01 * (660 + 960)
    assert value(both((0, 0), (2, 3)), 1200) == pytest.approx(late)
    assert value(both((0, 0), (2,)), 1200) == pytest.approx(late)
    assert value(both((0, 1), (2,)), 1200) == pytest.approx(late + 50)
    split = replace_people(both((0, 0), (2, 3)))
    assert value(split, 700) == pytest.approx(late + 50)


def replace_people(tasks: tuple[Task, ...]) -> tuple[Task, ...]:
    """Return the tasks, the first for the first person alone."""
    first, second = tasks
    mode = first.modes[0]
    return replace(first, modes=(replace(mode, needs=(mode.needs[0], Need((2,)))),)), second


def test_fortnight_leaves_to_the_week_after_what_can_wait() -> None:
    """One free day. The job that is worth less now cannot be done later, the dearer one can: take the lesser.

    Greedy does the 900 job now and loses 500; leaving it to the bucket costs 100.
    """
    dear = Task(
        "dear",
        (Mode(600, (Need((0,)),)),),
        end_curve=Curve(((0, 0), (DAY, 0), (8 * DAY, 100)), 0.0, 1.0),
        optional=True,
        drop_cost=900,
        later=True,
    )
    now_only = job("now only", 600, 500)
    bucket = Bucket(DAY, 8 * DAY, {0: 700})
    problem = Problem(
        (dear, now_only), (Resource("rig", open=open_days(1)),), DAY, days=days(1), buckets=(bucket,)
    )
    result = find(problem)
    assert [b.task for b in result.plan.blocks] == [1]
    assert [item.task for item in result.plan.later] == [0]
    assert evaluate(problem, dispatch(problem)).value >= result.value


@pytest.mark.parametrize("room, value", [(700, 20), (300, 45)])
def test_what_is_left_to_a_week_goes_the_cheapest_way_first(room: int, value: float) -> None:
    """Two rigs, at 70 and at 20: all with the cheap one; with room for half of it, half with each: 35 and 10."""
    modes = (Mode(600, (Need((0,)),), cost=70), Mode(600, (Need((1,)),), cost=20))
    task = Task("dear", modes, size=600, optional=True, drop_cost=900, later=True, min_chunk=1)
    bucket = Bucket(DAY, 8 * DAY, {0: 700, 1: room})
    rigs = (Resource("big", open=()), Resource("small", open=()))
    problem = Problem((task,), rigs, DAY, days=days(1), buckets=(bucket,))
    assert find(problem).value == pytest.approx(value)
    assert evaluate(problem, dispatch(problem)).value == pytest.approx(value)


def test_what_costs_more_later_than_undone_stays_undone() -> None:
    """60 for being late and 50 for the way there is more than 100."""
    late = Curve(((0, 0), (8 * DAY, 60)))
    task = Task(
        "dear",
        (Mode(600, (Need((0,)),), cost=50),),
        10,
        end_curve=late,
        optional=True,
        drop_cost=100,
        later=True,
    )
    bucket = Bucket(DAY, 8 * DAY, {0: 700})
    problem = Problem((task,), (Resource("rig", open=()),), DAY, days=days(1), buckets=(bucket,))
    assert find(problem).value == pytest.approx(100) == evaluate(problem, dispatch(problem)).value


def test_pin_stands_even_when_it_is_dear() -> None:
    """Somebody's word puts the lesser job first, although the other order costs less."""
    cheap = job("cheap", 300, 100)
    dear = Task(
        "dear",
        (Mode(300, (Need((0,)),)),),
        end_curve=Curve(((0, 0),), 0.0, 1.0),
        optional=True,
        drop_cost=10**5,
    )
    pin = Pin(0, 0, 360, 660, 1, (0,))
    problem = Problem((cheap, dear), (Resource("rig", open=open_days(1)),), DAY, days=days(1), pins=(pin,))
    result = find(problem)
    assert [(b.task, b.start) for b in result.plan.blocks] == [(0, 360), (1, 660)]
    free = find(replace(problem, pins=()))
    assert [(b.task, b.start) for b in free.plan.blocks] == [(1, 360), (0, 660)]


def test_known_plan_stays_when_a_change_costs_more_than_it_gains() -> None:
    """Moving the job from day 1 to day 0 gains 144; it happens at a price of 100, not at 200."""
    curve = Curve(((0, 0),), 0.0, 0.1)
    task = Task("a", (Mode(60, (Need((0,)),)),), end_curve=curve, optional=True, drop_cost=10**5)
    problem = Problem((task,), (Resource("rig", open=open_days(2)),), 2 * DAY, days=days(2))
    known = (Pin(0, 0, DAY + 360, DAY + 420, 1, (0,)),)
    for price, day in ((100, 0), (200, 1)):
        result = find(replace(problem, before=Before(known, {0: price})))
        assert result.plan.blocks[0].start // DAY == day


def test_proves_the_plan_when_nothing_is_scarce() -> None:
    """Everything fits at no cost: the bound meets the value."""
    result = find(Problem((job("a", 60, 10),), (Resource("rig", open=open_days(1)),), DAY, days=days(1)))
    assert (result.status, result.value, result.bound) == (Status.OPTIMAL, 0.0, 0.0)
