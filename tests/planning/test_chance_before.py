"""The odds of now for the hours that blocks of the plan before had. No outside source: outlooks by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.planning.plan import Plan
from scheduler.planning.schedule import make_plan
from scheduler.solver.result import Limits
from tests.planning import builders as make

SHORT = Limits(seconds=0.3, workers=1, seed=1, deterministic=True)
FARM = make.farm(4)
SITUATION = make.situation(FARM)
LATER = replace(SITUATION, now=make.at(0, "05:30"))


@pytest.fixture(scope="module")
def known() -> Plan:
    """The plan that people know: all ground is fit."""
    return make_plan(SITUATION, make.outlook(FARM), make.horizon(), SHORT)


def test_the_first_plan_knows_none_before_it(known: Plan) -> None:
    assert (known.before, known.chance_before) == ("", {})


def test_ground_that_is_less_fit_on_one_day_shows_in_that_days_blocks_alone(known: Plan) -> None:
    def chance(field: str, pass_id: str, day: int, hour: int) -> float:
        return 0.3 if day == 1 else make.always(field, pass_id, day, hour)

    plan = make_plan(LATER, make.outlook(FARM, chance=chance), make.horizon(), SHORT, known)
    assert plan.before == known.id
    assert set(plan.chance_before) == {block.id for block in known.blocks if block.start >= LATER.now}
    for block in known.blocks:
        if block.start.date() == make.at(1).date():
            assert plan.chance_before[block.id] == pytest.approx(0.3, abs=0.15)
        else:
            assert plan.chance_before[block.id] == pytest.approx(block.chance, abs=0.01)


def test_hours_behind_a_shorter_horizon_are_not_known(known: Plan) -> None:
    end = make.at(2)
    assert any(block.start >= end for block in known.blocks)
    plan = make_plan(LATER, make.outlook(FARM, 2), make.horizon(2), SHORT, known)
    assert set(plan.chance_before) == {block.id for block in known.blocks if block.end <= end}
