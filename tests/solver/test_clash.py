"""The smallest clash names the rules planted to contradict each other, and no others; bad input gets an answer."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest

from scheduler.solver.cases import read_case
from scheduler.solver.clash import explain
from scheduler.solver.clash_rules import Rule, relaxed
from scheduler.solver.problem import Curve, Lag, LagKind, Mode, Need, Pin, Problem, Task, Window
from scheduler.solver.resources import Moves, Resource, Stock
from scheduler.solver.result import Limits, Status
from scheduler.solver.solve import solve
from scheduler.solver.validate import ProblemError
from tests.solver.instance_paths import instance_file

QUICK = Limits(seconds=2.0, workers=1)


def farm(count: int = 8) -> Problem:
    """Tasks of 10 minutes on one machine, and time enough for all."""
    tasks = tuple(Task(f"field {i}", (Mode(10, (Need((0,)),), consumes={0: 1}),)) for i in range(count))
    return Problem(tasks, (Resource("planter"),), 500, stocks=(Stock("seed", 100),))


def kinds(problem: Problem) -> set[Rule]:
    clash = explain(problem, seconds=5.0)
    assert clash.proved and clash.smallest
    return set(clash.rules)


def test_no_clash_where_there_is_a_plan() -> None:
    assert kinds(farm()) == set()


def test_a_lag_cycle_is_named_alone() -> None:
    problem = replace(farm(), lags=(Lag(0, 1), Lag(1, 2), Lag(2, 0), Lag(3, 4)))
    clash = explain(problem)
    assert {Rule("lag", 0), Rule("lag", 1), Rule("lag", 2)} <= set(clash.rules)
    assert Rule("lag", 3) not in clash.rules and len(clash.rules) == 4
    assert "field 1" in str(clash) and "seed" not in str(clash)


def test_contradictory_pins_are_named() -> None:
    problem = replace(
        farm(), pins=(Pin(0, 0, 0, 10, 1, (0,)), Pin(1, 0, 5, 15, 1, (0,)), Pin(2, 0, 40, 50, 1, (0,)))
    )
    assert solve(problem, QUICK).status == Status.INFEASIBLE
    assert kinds(problem) == {Rule("pin", 0), Rule("pin", 1), Rule("capacity", 0)}


def test_too_little_seed_names_the_stock_and_as_many_fields_as_it_takes() -> None:
    found = kinds(replace(farm(4), stocks=(Stock("seed", 2),)))
    assert Rule("stock", 0) in found
    assert sum(rule.kind == "must" for rule in found) == 3 and len(found) == 4


def test_two_fields_in_one_narrow_window() -> None:
    narrow = Mode(10, (Need((0,)),), windows=(Window(100, 115),))
    problem = farm()
    problem = replace(problem, tasks=(*problem.tasks, Task("wet a", (narrow,)), Task("wet b", (narrow,))))
    expected = {Rule("must", 8), Rule("windows", 8), Rule("must", 9), Rule("windows", 9), Rule("capacity", 0)}
    assert kinds(problem) == expected


@pytest.mark.clock
@pytest.mark.parametrize("name", ["max_j10_2", "max_ubo10_6"])
def test_each_rule_of_a_published_clash_is_needed(name: str) -> None:
    """Instances without a plan from the RCPSP/max sets: dropping any one named rule makes a plan possible."""
    problem = read_case(instance_file(f"cases/{name}.json"))
    began = time.monotonic()
    clash = explain(problem, seconds=5.0)
    assert time.monotonic() - began < 5.0
    assert clash.rules and clash.proved and clash.smallest
    assert solve(relaxed(problem, clash.rules), QUICK).status == Status.INFEASIBLE
    for rule in clash.rules:
        rest = [other for other in clash.rules if other != rule]
        assert solve(relaxed(problem, rest), QUICK).status == Status.OPTIMAL


def test_one_task_that_fits_nowhere_and_zero_capacity_are_proved_at_once() -> None:
    base = farm()
    alone = Task("long", (Mode(30, (Need((0,)),), windows=(Window(0, 20), Window(30, 50))),))
    problem = replace(base, tasks=(*base.tasks, alone))
    assert solve(problem, QUICK).status == Status.INFEASIBLE
    assert kinds(problem) == {Rule("must", 8), Rule("windows", 8)}
    none = replace(base, resources=(Resource("planter", capacity=0),))
    assert solve(none, QUICK).status == Status.INFEASIBLE
    assert Rule("capacity", 0) in kinds(none)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (
            {"tasks": (Task("a", (Mode(5, (Need((0,)),), windows=(Window(9, 3),)),)),)},
            "closes at 3 before it opens at 9",
        ),
        ({"tasks": (Task("a", (Mode(5, (Need((7,)),)),)),)}, "there is no resource 7"),
        ({"tasks": (Task("a", (Mode(5, ()),), end_curve=Curve(((0, 0), (5, 9), (9, 9)))),)}, "slope falls"),
        ({"lags": (Lag(0, 1, LagKind.END_START, 5, 3),)}, "at most 3 is less than at least 5"),
        ({"resources": (Resource("m", moves=Moves(np.array([[0, -1], [1, 0]]))),)}, "is below 0"),
        ({"pins": (Pin(0, 0, 9, 5, 1),)}, "ends at 5 before it starts at 9"),
        (
            {"tasks": (Task("a", (Mode(5, (Need((0,)),), lead=1, led=0),)),)},
            "lead 1 or led 0 is none of its 1 needs",
        ),
        (
            {"tasks": (Task("a", (Mode(5, (Need((0,)), Need((0,))), lead=0, led=1),)),)},
            "stands before what leads it",
        ),
        ({"resources": (Resource("m", handover=-1),)}, "a change of partner costs -1"),
    ],
)
def test_nonsense_is_refused_in_one_sentence(change: dict, words: str) -> None:  # type: ignore[type-arg]
    with pytest.raises(ProblemError, match=words) as told:
        solve(replace(farm(), **change), QUICK)
    assert str(told.value).count("\n") == 0


@pytest.mark.clock
def test_ten_thousand_tasks_get_an_answer_in_time() -> None:
    tasks = tuple(Task(f"t{i}", (Mode(3, (Need((i % 7,)),)),)) for i in range(10_000))
    problem = Problem(tasks, tuple(Resource(f"m{r}") for r in range(7)), 40_000, makespan_weight=1)
    began = time.monotonic()
    result = solve(problem, Limits(seconds=2.0, workers=2))
    assert time.monotonic() - began < 2.5
    assert result.status in (Status.FEASIBLE, Status.OPTIMAL, Status.UNKNOWN)
