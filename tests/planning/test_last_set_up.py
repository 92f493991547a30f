"""A plan made during the day knows what machines are hitched to: hitching anew takes its time. No outside source.

The tractor `big` pulls the planter, which alone it may; it banded until 11:00 or planted until then.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from scheduler.farm.farm import Farm
from scheduler.planning.checker import check_plan
from scheduler.planning.last_set_up import set_up_today
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.planning.schedule import make_plan
from scheduler.solver.result import Limits
from tests.planning import builders as make

HITCH = {"hitch_minutes": 90.0, "pulled_by": ("big",)}


def farm() -> Farm:
    """Return three fields to plant, of which the first is planted by half."""
    plain = make.farm(3)
    fields = tuple(f.model_copy(update={"done": ("terminate", "band")}) for f in plain.fields)
    machines = tuple(m.model_copy(update=HITCH if m.id == "planter" else {}) for m in plain.machines)
    return plain.model_copy(update={"fields": fields, "machines": machines})


FARM = farm()
OUTLOOK = make.outlook(FARM)
SITUATION = make.situation(FARM, make.at(0, "11:05"))
BANDED = make.with_pass(SITUATION, "f2", "band", last_rig="big+bar+truck", finished_at=make.at(0, "11:00"))
PLANTED = make.with_pass(
    SITUATION,
    "f1",
    "plant",
    done_ha=9.0,
    last_rig="big+planter",
    last_operator="ann",
    last_report_at=make.at(0, "11:00"),
)
CLEAR = make.at(0, "12:30")


def first_planting(plan: Plan) -> PlanBlock:
    return min((b for b in plan.blocks if b.pass_id == "plant"), key=lambda b: b.start)


def test_another_implement_waits_until_it_is_hitched() -> None:
    limits = Limits(0.4, 1, 1, deterministic=True)
    plans = {
        name: make_plan(one, OUTLOOK, make.horizon(), limits)
        for name, one in (("banded", BANDED), ("planted", PLANTED))
    }
    assert not check_plan(plans["banded"], BANDED, OUTLOOK) and not check_plan(
        plans["planted"], PLANTED, OUTLOOK
    )
    assert first_planting(plans["planted"]).start < CLEAR <= first_planting(plans["banded"]).start
    hasty = first_planting(plans["banded"]).model_copy(update={"start": CLEAR - timedelta(minutes=15)})
    blocks = tuple(hasty if b.id == hasty.id else b for b in plans["banded"].blocks)
    said = check_plan(plans["banded"].model_copy(update={"blocks": blocks}), BANDED, OUTLOOK)
    assert any("big: too little time for hitching in the yard before block" in one for one in said)


def test_what_was_done_yesterday_and_what_is_still_ahead_count_for_nothing() -> None:
    assert set(set_up_today(BANDED)) == {"big", "bar", "truck"}
    assert set_up_today(replace(BANDED, now=make.at(1, "06:00"))) == {}
    assert set_up_today(replace(BANDED, now=make.at(0, "10:00"))) == {}
