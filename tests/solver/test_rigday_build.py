"""Plans built by insertion: sound by the judge, pins stand, the same luck gives the same plan.

No source: `evaluate` shares no code with the search; the value that the compiled state keeps must be its figure.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scheduler.solver import rigday_layout as at
from scheduler.solver.dispatch import dispatch
from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Mode, Pin, Problem
from scheduler.solver.result import CorePlan
from scheduler.solver.rigday import warm_up
from scheduler.solver.rigday_arrays import compile_arrays
from scheduler.solver.rigday_best import Best
from scheduler.solver.rigday_build import build
from scheduler.solver.rigday_calendar import Calendar
from scheduler.solver.rigday_pack import empty_work, read_plan
from scheduler.solver.rigday_walk import Walk
from tests.benchmarks.farms import make_farm

NOTHING = CorePlan((), ())


@pytest.mark.parametrize(
    ("fields", "buckets", "handover"),
    [(12, False, 0), (30, True, 0), (60, False, 0), (12, False, 9000), (40, True, 4000)],
)
def test_a_built_plan_is_sound_and_its_value_is_the_judges(fields: int, buckets: bool, handover: int) -> None:
    problem = led(make_farm(fields, 5, buckets=buckets), handover)
    work = build(compile_arrays(problem), problem, NOTHING, 0, None)
    plan = read_plan(work)
    found = evaluate(problem, plan)
    assert plan.blocks and not found.violations
    assert found.value == pytest.approx(float(work.floats[0]), rel=1e-9)
    # What a walk keeps books of while blocks come and go is still the judge's figure.
    walk = Walk(work)
    walk.some_rounds(3000, 0.5, 1.0)
    found = evaluate(problem, read_plan(walk.work))
    assert not found.violations and found.value == pytest.approx(walk.value, rel=1e-9)


def led(problem: Problem, handover: int) -> Problem:
    """Return a farm in which people drive the first machine of each way, and changes of driver and machine cost something."""

    def role(mode: Mode) -> Mode:
        place = next((k for k, need in enumerate(mode.needs) if k and len(need.any_of) > 1), -1)
        return replace(mode, lead=place, led=0) if place > 0 else mode

    tasks = tuple(replace(task, modes=tuple(role(mode) for mode in task.modes)) for task in problem.tasks)
    resources = tuple(one if one.cumulative else replace(one, handover=handover) for one in problem.resources)
    return replace(problem, tasks=tasks, resources=resources)


def test_the_same_luck_builds_the_same_plan_and_pins_stand() -> None:
    problem = make_farm(20, 2)
    blocks = dispatch(problem).blocks[:6:3]
    pins = tuple(Pin(b.task, b.mode, b.start, b.end, b.amount, b.resources) for b in blocks)
    problem = replace(problem, pins=pins)
    farm = compile_arrays(problem)
    plans = [read_plan(build(farm, problem, CorePlan(blocks, ()), 3, None)) for _ in range(2)]
    assert plans[0] == plans[1]
    assert set(blocks) <= set(plans[0].blocks)
    assert not evaluate(problem, plans[0]).violations


def test_heat_falls_within_each_cooling_and_ends_cold() -> None:
    problem = make_farm(12, 1)
    walk = Walk(build(compile_arrays(problem), problem, NOTHING, 0, None))
    walk.expected = 1e9
    heats = np.array([walk.heat(share) for share in np.linspace(0.0, 1.0, 801)])
    rises = int((np.diff(heats) > 0).sum())
    assert rises == 7 and heats.argmax() == 0
    assert heats[-1] < 0.05 * heats[0]


def test_the_best_plan_is_left_only_for_one_that_is_worth_a_call() -> None:
    warm_up()
    problem = make_farm(12, 3)
    rule, better = dispatch(problem), read_plan(build(compile_arrays(problem), problem, NOTHING, 0, None))
    best = Best(problem)
    taken, value, faults = best.offer(rule)
    assert (taken, faults, best.value) == (True, 0, value)
    saved = value - evaluate(problem, better).value
    assert saved > 0
    assert not best.offer(better, worth=saved + 1.0)[0] and best.plan == rule
    assert best.offer(better, worth=saved - 1.0)[0] and best.plan == better


def test_the_longest_list_of_torn_work_has_room_in_the_arrays() -> None:
    """The keys by which torn work is sorted lie behind the stocks' cells: both lists whole, one behind the other."""
    problem = make_farm(12, 0)
    work = empty_work(compile_arrays(problem, Calendar(problem)), problem, 1)
    cells = int(work.ints[at.KEYS] - work.ints[at.CELL_USED])
    assert cells >= sum(len(stock.deliveries) + 1 for stock in problem.stocks)
    assert work.ints[at.CELL_USED] >= at.FLOATS_HEAD
    assert work.ints[at.KEYS] + at.MOST_TASKS <= len(work.floats)
