"""The farms that the engine is measured on: everybody has work, and tight ones are as scarce as they say.

No outside source: what is asked of the generator is written in `tests/benchmarks/farms.py`.
"""

from __future__ import annotations

import pytest

from scheduler.solver.dispatch import dispatch
from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Problem
from tests.benchmarks.bench_engine import undone_ha
from tests.benchmarks.farms import make_farm


def share_undone(problem: Problem) -> float:
    """Return the share of all hectares that the rule's plan leaves, every pass counted."""
    plan = dispatch(problem)
    assert evaluate(problem, plan).violations == ()
    return undone_ha(problem, plan) * 10 / sum(task.size for task in problem.tasks)


@pytest.mark.parametrize("fields", [12, 60, 200, 600])
def test_every_machine_and_every_person_may_do_some_field(fields: int) -> None:
    """On the larger farms half of the machines had no field once: those first on the list were always the nearest."""
    problem = make_farm(fields, 0, days=5)
    asked = {r for t in problem.tasks for m in t.modes for need in m.needs for r in need.any_of}
    idle = [r.name for k, r in enumerate(problem.resources) if k not in asked]
    assert idle == []


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_a_tight_farm_leaves_about_a_tenth_to_the_rule_and_an_overloaded_one_a_third_or_more(
    seed: int,
) -> None:
    assert 0.05 < share_undone(make_farm(60, seed, kind="tight")) < 0.15
    assert share_undone(make_farm(60, seed, kind="overloaded")) > 1 / 3


def test_both_kinds_are_one_farm_but_for_pace_and_nitrogen() -> None:
    tight, overloaded = make_farm(12, 1, kind="tight"), make_farm(12, 1, kind="overloaded")
    assert [t.size for t in tight.tasks] == [t.size for t in overloaded.tasks]
    assert [t.end_curve for t in tight.tasks] == [t.end_curve for t in overloaded.tasks]
    assert tight.stocks[0].initial > overloaded.stocks[0].initial
    for fast, slow in zip(tight.tasks, overloaded.tasks, strict=True):
        same = [f.minutes <= s.minutes for f, s in zip(fast.modes, slow.modes, strict=True)]
        assert all(same)
