"""The plan that people know comes back as the engine made it: blocks, and the weeks behind them, in whose hours they were left.

No outside source: a plan written down and read again is held against the problem it was made for.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import pytest

from scheduler.events.situation import Situation, Span
from scheduler.planning.before import _way_again
from scheduler.planning.compile import compile_problem
from scheduler.planning.compiled import Compiled
from scheduler.planning.plan import Plan
from scheduler.planning.schedule import make_plan
from scheduler.solver.dispatch import dispatch
from scheduler.solver.evaluate import evaluate
from scheduler.solver.result import CorePlan, Limits
from shared.clock import Horizon
from tests.crew.builders import morning
from tests.service.farms import at

EFFORT = Limits(1.0, 1, 1)
COUNTED = Limits(2.0, 1, 1, deterministic=True, bound=False)


@lru_cache(maxsize=1)
def short_handed() -> tuple[Situation, Horizon]:
    """Two of four people are away and one of the machines is down: the later weeks are full."""
    _, situation, outlook = morning()
    away = {name: (Span(at(10, "05:00"), None),) for name in ("tove", "benat")}
    down = {"big": (Span(at(10, "05:00"), None),)}
    return replace(situation, operator_away=away, machine_down=down), Horizon(
        outlook.first_day, outlook.days, outlook.time_zone
    )


@lru_cache(maxsize=1)
def known() -> tuple[Plan, Compiled]:
    situation, horizon = short_handed()
    outlook = morning()[2]
    plan = make_plan(situation, outlook, horizon, EFFORT, use_engine=False, reasons=False)
    return plan, compile_problem(situation, outlook, horizon, situation.farm.plan, plan)


def test_a_plan_with_full_weeks_is_whole_again() -> None:
    plan, compiled = known()
    assert compiled.start is not None and len(plan.later) > 10
    judged = evaluate(compiled.problem, compiled.start)
    assert judged.violations == ()
    assert judged.value + compiled.aside_cost == pytest.approx(100 * plan.value.total, rel=1e-3)
    assert len({(item.task, item.mode) for item in compiled.start.later if item.mode}) > 0, (
        "some go another way than the first"
    )


def test_a_way_that_is_gone_becomes_another_one_with_the_same_rig() -> None:
    plan, compiled = known()
    jobs = {job.key: k for k, job in enumerate(compiled.jobs)}
    for item in plan.later:
        k = jobs[(item.field, item.pass_id)]
        assert compiled.modes[k][_way_again(compiled, k, item)].option.id == item.rig
        assert (
            compiled.modes[k][_way_again(compiled, k, item.model_copy(update={"way": 99}))].option.id
            == item.rig
        )
        assert _way_again(compiled, k, item.model_copy(update={"rig": "sold"})) == 0


def test_the_rule_that_mends_a_plan_keeps_what_it_left_to_later_weeks() -> None:
    """The last block of the engine's plan is taken out: the rest, blocks and weeks, stays; left to the rule, weeks differ."""
    situation, horizon = short_handed()
    outlook = morning()[2]
    plan = make_plan(situation, outlook, horizon, COUNTED, reasons=False)
    compiled = compile_problem(situation, outlook, horizon, situation.farm.plan, plan)
    start = compiled.start
    assert plan.method == "engine" and start is not None
    rest = tuple(sorted(start.blocks)[:-1])

    def stands(again: CorePlan) -> float:
        known, found = ({(x.task, x.mode, x.bucket) for x in one.later} for one in (start, again))
        return len(known & found) / len(known)

    mended = dispatch(compiled.problem, start=replace(start, blocks=rest))
    assert set(rest) <= set(mended.blocks)
    assert stands(mended) > 0.9 > stands(dispatch(compiled.problem, start=replace(start, later=())))
    whole, again = (
        evaluate(compiled.problem, one) for one in (start, dispatch(compiled.problem, start=start))
    )
    assert not again.violations and again.value <= whole.value * 1.001
