"""Two blocks that follow each other without a break become one, where no rule stands against it.

No outside source: a plan by hand, its blocks parted.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from scheduler.planning.compile import compile_problem
from scheduler.planning.one_visit import in_one_visit, running_on
from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Pin, Problem
from scheduler.solver.result import Block, CorePlan
from tests.planning import builders as make
from tests.planning.steady import steady_plan

FARM = make.farm(4)
SITUATION, OUTLOOK = make.situation(FARM), make.outlook(FARM)
PLAN = steady_plan(SITUATION, OUTLOOK, effort=1.0)


@pytest.fixture
def known() -> tuple[Problem, CorePlan]:
    found = compile_problem(SITUATION, OUTLOOK, make.horizon(), FARM.plan, PLAN)
    assert found.start is not None
    return found.problem, replace(found.start, blocks=tuple(sorted(found.start.blocks)))


def parted(problem: Problem, core: CorePlan) -> tuple[CorePlan, Block, tuple[Block, Block]]:
    """Return the plan with the longest block in two halves, the second with a start of its own, and what became of it."""
    whole = max(core.blocks, key=lambda one: one.end - one.start)
    task = problem.tasks[whole.task]
    half = whole.amount // 2
    middle = whole.start + task.modes[whole.mode].minutes_for(half, task.size)
    end = middle + task.modes[whole.mode].minutes_for(whole.amount - half, task.size)
    halves = (
        replace(whole, amount=half, end=middle),
        replace(whole, amount=whole.amount - half, start=middle, end=end),
    )
    rest = tuple(one for one in core.blocks if one != whole)
    return replace(core, blocks=tuple(sorted((*rest, *halves)))), whole, halves


def test_halves_become_the_block_they_were(known: tuple[Problem, CorePlan]) -> None:
    problem, core = known
    two, whole, _ = parted(problem, core)
    one = in_one_visit(problem, two)
    assert whole in one.blocks and one == core
    assert not evaluate(problem, one).violations


def test_a_whole_plan_is_left_as_it_is(known: tuple[Problem, CorePlan]) -> None:
    problem, core = known
    assert in_one_visit(problem, core) is core


def test_other_people_a_break_and_a_pin_keep_them_apart(known: tuple[Problem, CorePlan]) -> None:
    problem, core = known
    two, _, (first, second) = parted(problem, core)

    def instead(new: Block) -> CorePlan:
        return replace(two, blocks=tuple(sorted(new if one == second else one for one in two.blocks)))

    later = instead(replace(second, start=second.start + 4, end=second.end + 4))
    assert in_one_visit(problem, later) is later
    others = instead(replace(second, resources=(*second.resources[:-1], second.resources[-1] + 1)))
    assert in_one_visit(problem, others) is others
    held = Pin(first.task, first.mode, first.start, first.end, first.amount, first.resources)
    pinned = replace(problem, pins=(held,))
    assert in_one_visit(pinned, two) is two


def test_what_goes_on_behind_work_under_way_is_read_as_one_block() -> None:
    begun = min(PLAN.blocks, key=lambda one: (one.start, one.id))
    now = begun.start + timedelta(minutes=30)
    found = compile_problem(replace(SITUATION, now=now), OUTLOOK, make.horizon(), FARM.plan, PLAN)
    (pin,) = found.problem.pins
    first = Block(pin.start, pin.end, pin.task, pin.mode, pin.amount, pin.resources)
    rest = replace(first, start=first.end, end=first.end + 8, amount=20)
    after = replace(rest, start=rest.end, end=rest.end + 4, amount=10)
    core = CorePlan((first, rest, after))
    (one,) = running_on(found, core).blocks
    assert (one.start, one.end, one.amount) == (first.start, after.end, first.amount + 30)
    apart = CorePlan((first, replace(rest, start=rest.start + 1, end=rest.end + 1)))
    assert running_on(found, apart).blocks == apart.blocks
    pinned = replace(found, pin_ids=("somebody's word",))
    assert running_on(pinned, core).blocks == core.blocks
