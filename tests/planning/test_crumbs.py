"""Rests of a tenth of a hectare are done with the rest of the field: no source, judged by the engine's own judge."""

from __future__ import annotations

from dataclasses import replace

from scheduler.planning.crumbs import CRUMB, without_crumbs
from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Pin, Problem
from scheduler.solver.result import Block, CorePlan, Later
from tests.planning.test_one_visit import known

__all__ = ["known"]


def crumbled(problem: Problem, core: CorePlan, amount: int) -> tuple[CorePlan, Block, Block]:
    """Return the plan whose longest block leaves a rest to the end of the last day, the block and the rest."""
    whole = max(core.blocks, key=lambda one: one.end - one.start)
    task, mode = problem.tasks[whole.task], problem.tasks[whole.task].modes[whole.mode]
    less = replace(
        whole,
        amount=whole.amount - amount,
        end=whole.start + mode.minutes_for(whole.amount - amount, task.size),
    )
    first = problem.days[4][0] + 4 * 10
    rest = replace(whole, amount=amount, start=first, end=first + mode.minutes_for(amount, task.size))
    others = tuple(one for one in core.blocks if one != whole)
    return replace(core, blocks=tuple(sorted((*others, less, rest)))), whole, rest


def test_a_crumb_goes_back_to_its_field(known: tuple[Problem, CorePlan]) -> None:
    problem, core = known
    two, whole, rest = crumbled(problem, core, 1)
    one = without_crumbs(problem, two)
    assert whole in one.blocks and rest not in one.blocks
    found, before = evaluate(problem, one), evaluate(problem, two)
    assert not found.violations and found.value <= before.value + 100.0


def test_more_than_a_crumb_and_what_is_held_stay(known: tuple[Problem, CorePlan]) -> None:
    problem, core = known
    two, _, rest = crumbled(problem, core, CRUMB + 1)
    assert without_crumbs(problem, two) is two
    two, _, rest = crumbled(problem, core, 1)
    pin = Pin(rest.task, rest.mode, rest.start, rest.end, rest.amount, rest.resources)
    assert rest in without_crumbs(replace(problem, pins=(*problem.pins, pin)), two).blocks


def test_a_crumb_that_was_left_to_a_week_goes_back_too(known: tuple[Problem, CorePlan]) -> None:
    problem, core = known
    two, whole, rest = crumbled(problem, core, 1)
    bare = tuple(b for b in two.blocks if b != rest)
    left = replace(two, blocks=bare, later=(Later(rest.task, rest.mode, 0, 1),))
    one = without_crumbs(problem, left)
    assert whole in one.blocks and one.later == ()
