"""People who would change places for nothing stay where they were told to be.

No outside source: a plan by hand, its places changed about.
"""

from __future__ import annotations

from dataclasses import replace

from scheduler.planning.compile import compile_problem
from scheduler.planning.compiled import Compiled
from scheduler.planning.roles import known_places
from scheduler.solver.evaluate import evaluate
from scheduler.solver.result import Block, CorePlan
from tests.planning import builders as make
from tests.planning.steady import steady_plan

FARM = make.farm(4)
SITUATION, OUTLOOK = make.situation(FARM), make.outlook(FARM)
PLAN = steady_plan(SITUATION, OUTLOOK, effort=1.0)


def compiled() -> Compiled:
    return compile_problem(SITUATION, OUTLOOK, make.horizon(), FARM.plan, PLAN)


def changed_about(found: Compiled) -> tuple[CorePlan, CorePlan, Block]:
    """Return the plan that people know, the same with driver and tender of one block changed about, and that block."""
    assert found.start is not None
    for block in found.start.blocks:
        needs = found.problem.tasks[block.task].modes[block.mode].needs
        *machines, driver, support = block.resources
        if len(machines) < 3 or driver not in needs[-1].any_of or support not in needs[-2].any_of:
            continue
        other = replace(block, resources=(*machines, support, driver))
        blocks = tuple(sorted(other if one == block else one for one in found.start.blocks))
        core = replace(found.start, blocks=blocks)
        if not evaluate(found.problem, core).violations:
            return found.start, core, block
    raise AssertionError("no block of two who can change places")


def test_places_changed_for_nothing_are_changed_back() -> None:
    found = compiled()
    known, core, _ = changed_about(found)
    assert core != known
    assert known_places(found, core) == replace(known, blocks=tuple(sorted(known.blocks)))


def test_what_is_not_in_the_plan_that_people_know_is_left_alone() -> None:
    found = compiled()
    _, core, block = changed_about(found)
    assert known_places(replace(found, start=None), core) is core
    assert found.start is not None
    elsewhere = replace(found.start, blocks=tuple(b for b in found.start.blocks if b != block))
    assert known_places(replace(found, start=elsewhere), core) is core


def test_places_stay_changed_where_that_is_a_gain_or_the_rules_want_it() -> None:
    """Nobody but the new tender driver may bring the tender now: going back would break a rule."""
    found = compiled()
    _, core, block = changed_about(found)
    tasks = list(found.problem.tasks)
    task = tasks[block.task]
    mode = task.modes[block.mode]
    needs = (*mode.needs[:-1], replace(mode.needs[-1], any_of=(block.resources[-2],)))
    modes = tuple(replace(one, needs=needs) if k == block.mode else one for k, one in enumerate(task.modes))
    tasks[block.task] = replace(task, modes=modes)
    strict = replace(found, problem=replace(found.problem, tasks=tuple(tasks)))
    assert not evaluate(strict.problem, core).violations
    assert known_places(strict, core) == core
