"""Other seed, another spray: time to clean a machine out, in plans, in the checker, and in what must be ready.

Common practice, no source: the minutes are invented. Two fields get a seed of their own, one keeps the programme's.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

import pytest

from scheduler.farm.farm import Farm
from scheduler.farm.product import Form, Product
from scheduler.planning.checker import check_plan
from scheduler.planning.clean_out import clean_out_before
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.planning.ready import ready_list
from scheduler.planning.schedule import make_plan
from scheduler.solver.result import Limits
from tests.planning import builders as make

MINUTES = 30.0
CLEAN = timedelta(minutes=MINUTES)
DONE = {"done": ("terminate", "band")}


def farm(clean_out_minutes: float = MINUTES) -> Farm:
    """Return four fields to plant, the second and fourth with another seed."""
    plain = make.farm(4)
    early = Product(id="early", form=Form.SEED, package="80000 seeds", stock="900 bags")
    fields = tuple(
        f.model_copy(update=DONE | {"seed": "early" if k % 2 else ""}) for k, f in enumerate(plain.fields)
    )
    planter = {"clean_out_minutes": clean_out_minutes, "pulled_by": ("big",)}
    machines = tuple(m.model_copy(update=planter if m.id == "planter" else {}) for m in plain.machines)
    return plain.model_copy(
        update={"fields": fields, "machines": machines, "products": (*plain.products, early)}
    )


FARM = farm()
SITUATION = make.situation(FARM)
OUTLOOK = make.outlook(FARM)


def planned(of: Farm, engine: bool) -> Plan:
    return make_plan(
        make.situation(of), OUTLOOK, make.horizon(), Limits(0.4, 1, 1, deterministic=True), use_engine=engine
    )


def planting(plan: Plan) -> list[PlanBlock]:
    return sorted((b for b in plan.blocks if b.pass_id == "plant"), key=lambda b: b.start)


def seed(block: PlanBlock) -> str:
    spec = FARM.spec(block.field, block.pass_id)
    assert spec is not None
    return spec.products[0].product


def changes(plan: Plan) -> list[tuple[PlanBlock, PlanBlock]]:
    """Return neighbours of one day between which the seed changes."""
    return [
        (a, b) for a, b in pairwise(planting(plan)) if a.start.date() == b.start.date() and seed(a) != seed(b)
    ]


@pytest.mark.parametrize("engine", [False, True])
def test_plans_leave_time_and_pass_the_checker(engine: bool) -> None:
    plan = planned(FARM, engine)
    assert not check_plan(plan, SITUATION, OUTLOOK)
    assert {seed(b) for b in planting(plan)} == {"seed", "early"}
    assert all(b.start - a.end >= CLEAN for a, b in changes(plan))


def test_the_checker_names_a_clean_out_without_time() -> None:
    hasty = planned(farm(0.0), engine=False)
    pairs = changes(hasty)
    assert pairs, "the rule changes the seed on no day: the test could not fail"
    longest = max(b.start - a.end for a, b in pairs) / timedelta(minutes=1)
    found = check_plan(hasty, make.situation(farm(longest + 1.0)), OUTLOOK)
    assert sum("planter: too little time for the road and cleaning out" in one for one in found) == len(pairs)


def test_what_the_same_seed_follows_needs_nothing() -> None:
    plan = planned(FARM, engine=False)
    for block in planting(plan):
        found = clean_out_before(plan, SITUATION, block)
        before = [b for b in planting(plan) if b.end <= block.start]
        assert (found is not None) == bool(before and seed(before[-1]) != seed(block))


def test_what_was_reported_last_tells_what_is_in_the_machine_this_morning() -> None:
    plan = planned(FARM, engine=False)
    first = planting(plan)[0]
    other = next(f.id for f in FARM.fields if f.seed != FARM.field_by_id[first.field].seed)
    evening = make.at(-1, "19:00")
    told = make.with_pass(
        SITUATION, other, "plant", done_ha=5.0, last_rig="big+planter", last_report_at=evening
    )
    found = clean_out_before(plan, told, first)
    assert found is not None and (found.coming, found.same_day) == ((seed(first),), False)
    assert found.there != found.coming
    assert clean_out_before(plan, SITUATION, first) is None
    texts = [item.text for item in ready_list(plan, told) if item.what == "planter"]
    assert texts and texts[0].startswith(
        f"planter cleaned out of {found.there[0]} and ready for {seed(first)}, Mon 10 May"
    )
    started = plan.model_copy(
        update={"blocks": tuple(b.model_copy(update={"under_way": True}) for b in plan.blocks)}
    )
    assert clean_out_before(started, told, planting(started)[0]) is None


def test_a_plan_during_the_day_waits_until_the_machine_is_clean() -> None:
    """The seed of f4 was in the planter until 11:00; where f2 is planted too, only other seed is left."""
    slow = make.situation(farm(90.0), make.at(0, "11:05"))
    told = make.with_pass(
        slow, "f4", "plant", finished=True, done_ha=41.0, last_rig="big+planter", last_operator="ann", finished_at=make.at(0, "11:00"),
    )  # fmt: skip
    other = make.with_pass(told, "f2", "plant", finished=True, done_ha=27.0, finished_at=make.at(-1, "11:00"))
    clean = make.at(0, "12:30")
    first = {}
    for name, situation in (("same", told), ("other", other)):
        plan = make_plan(situation, OUTLOOK, make.horizon(), Limits(0.4, 1, 1, deterministic=True))
        assert not check_plan(plan, situation, OUTLOOK)
        first[name] = planting(plan)[0]
    assert first["same"].start < clean and seed(first["same"]) == "early"
    assert first["other"].start >= clean and seed(first["other"]) == "seed"
    early = first["other"].model_copy(update={"start": clean - timedelta(minutes=15)})
    hasty = plan.model_copy(update={"blocks": tuple(early if b.id == early.id else b for b in plan.blocks)})
    assert any(
        "planter: too little time for cleaning out" in one for one in check_plan(hasty, other, OUTLOOK)
    )


def test_a_machine_that_needs_no_cleaning_is_not_told_of() -> None:
    quick = farm(0.0)
    plan = planned(quick, engine=False)
    assert all(clean_out_before(plan, replace(SITUATION, farm=quick), b) is None for b in plan.blocks)
