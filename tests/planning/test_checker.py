"""The checker names every rule that is broken in an otherwise good plan.

Common practice, no source: the rules themselves are the farm's own statements (skills, licences, hours, lags); the
one published figure, the 12 h re-entry interval of the test product, stands for the intervals printed on labels
(US worker protection standard, 40 CFR 170: no entry before the interval on the label is over).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from scheduler.events.situation import Pinned, Span, Supply
from scheduler.farm.machine import Machine
from scheduler.farm.operator import Licence, Operator
from scheduler.planning.checker import check_plan
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.planning.schedule import make_plan
from scheduler.solver.result import Limits
from shared.vocabulary import Guidance
from tests.planning import builders as make

FARM = make.farm(3)
SITUATION = make.situation(FARM)
OUTLOOK = make.outlook(FARM)
PLAN = make_plan(SITUATION, OUTLOOK, make.horizon(), Limits(seconds=0.5), use_engine=False)


def block(pass_id: str, plan: Plan = PLAN) -> PlanBlock:
    """Return the first block of a pass."""
    return next(b for b in plan.blocks if b.pass_id == pass_id)


def changed(old: PlanBlock, **changes: object) -> Plan:
    """Return the plan with one block changed."""
    new = old.model_copy(update=changes)
    return PLAN.model_copy(update={"blocks": tuple(new if b.id == old.id else b for b in PLAN.blocks)})


def said(plan: Plan = PLAN, **changes: object) -> str:
    """Return what the checker says about a plan in a changed situation."""
    situation = changes.pop("situation", SITUATION)
    outlook = changes.pop("outlook", OUTLOOK)
    return "\n".join(check_plan(plan, situation, outlook))  # type: ignore[arg-type]


def other_farm(
    machine: Callable[[Machine], Machine] | None = None, person: Callable[[Operator], Operator] | None = None
):
    """Return the situation on a farm whose machines or people are different."""
    changes: dict[str, object] = {}
    if machine is not None:
        changes["machines"] = tuple(machine(m) for m in FARM.machines)
    if person is not None:
        changes["operators"] = tuple(person(p) for p in FARM.operators)
    return replace(SITUATION, farm=FARM.model_copy(update=changes))


def test_the_good_plan_passes_and_does_all_work():
    assert said() == ""
    assert {b.pass_id for b in PLAN.blocks} == {"terminate", "band", "plant", "scout"}


HOUR = timedelta(hours=1)


@pytest.mark.parametrize(
    ("plan", "text"),
    [
        pytest.param(changed(block("band"), start=block("band").start + timedelta(minutes=7)), "quarter hour", id="quarter"),
        pytest.param(changed(block("terminate"), start=make.at(0, "04:00")), "lies in the past", id="past"),
        pytest.param(changed(block("scout"), start=make.at(6, "09:00"), end=make.at(6, "12:00")), "outside the days", id="horizon"),
        pytest.param(changed(block("band"), start=make.at(1, "22:00"), end=make.at(2, "06:00")), "midnight", id="midnight"),
        pytest.param(changed(block("band"), end=block("band").start), "ends before it starts", id="backwards"),
        pytest.param(changed(block("plant"), field="nowhere"), "not on the farm", id="field"),
        pytest.param(changed(block("plant"), pass_id="harvest"), "no pass of", id="pass"),
        pytest.param(changed(block("plant"), operator="bob"), "does not have the skill for plant", id="skill"),
        pytest.param(changed(block("plant"), operator="zoe"), "zoe is not on the farm", id="unknown person"),
        pytest.param(changed(block("band"), support=None), "nobody to drive the tender", id="no support"),
        pytest.param(changed(block("band"), support=block("band").operator), "at once", id="support is driver"),
        pytest.param(changed(block("plant"), support="bob"), "needs none", id="idle support"),
        pytest.param(
            changed(block("band"), rig="small+bar", machines=("small", "bar")), "needs one of its tenders", id="no tender"
        ),
        pytest.param(
            changed(block("band"), rig="sprayer+bar+truck", machines=("sprayer", "bar", "truck")),
            "not pulled by sprayer",
            id="pulled by",
        ),
        pytest.param(changed(block("plant"), rig="small", machines=("small",)), "has no implement", id="bare tractor"),
        pytest.param(changed(block("plant"), rig="big+big", machines=("big", "big")), "do not make a rig", id="two tractors"),
        pytest.param(
            changed(block("plant"), rig="big+bar+truck", machines=("big", "bar", "truck"), support="bob"),
            "bar does not do plant",
            id="operation",
        ),
        pytest.param(changed(block("scout"), rig="big", machines=("big",)), "on foot", id="foot"),
        pytest.param(changed(block("plant"), end=block("plant").start + HOUR), "and needs", id="too short"),
        pytest.param(changed(block("plant"), area_ha=0.0), "covers no area", id="nothing"),
        pytest.param(changed(block("terminate"), area_ha=999.0), "ha planned", id="too much"),
        pytest.param(changed(block("terminate"), area_ha=10.0), "neither planned nor left out", id="forgotten"),
        pytest.param(changed(block("scout"), id=block("plant").id), "used more than once", id="id"),
    ],
)  # fmt: skip
def test_a_broken_block_is_named(plan: Plan, text: str):
    assert text in said(plan)


def test_two_fields_at_once_and_roads():
    first, second = [b for b in PLAN.blocks if b.pass_id == "terminate"][:2]
    length = second.end - second.start
    assert "overlap" in said(changed(second, start=first.start, end=first.start + length))
    tight = said(changed(second, start=first.end, end=first.end + length))
    assert "sprayer: too little time for the road" in tight
    assert "bob: too little time for the road" in tight


def test_hitching_goes_over_the_yard():
    band = max((b for b in PLAN.blocks if b.pass_id == "band"), key=lambda b: b.end)
    plant = block("plant")
    tractor = band.machines[0]
    length = plant.end - plant.start
    plan = changed(
        plant, rig=f"{tractor}+planter", machines=(tractor, "planter"),
        start=band.end + timedelta(minutes=15), end=band.end + timedelta(minutes=15) + length,
    )  # fmt: skip
    assert f"{tractor}: too little time for hitching" in said(plan)


def test_shift_absence_and_breakdown():
    first = block("terminate")
    early = changed(first, start=make.at(0, "06:00"), end=make.at(0, "06:00") + (first.end - first.start))
    assert "leave before the shift" in said(early)
    assert "cannot be serviced" in said(early)
    late = changed(first, start=make.at(0, "19:00"), end=make.at(0, "21:00"))
    assert "home after the shift" in said(late)
    assert "sprayer: cannot be home" in said(late)
    span = Span(first.start - HOUR, first.start + timedelta(minutes=1))
    assert "bob is away" in said(situation=replace(SITUATION, operator_away={"bob": (span,)}))
    assert "sprayer is down" in said(
        situation=replace(SITUATION, machine_down={"sprayer": (Span(make.at(0)),)})
    )
    off = other_farm(person=lambda p: p.model_copy(update={"days_off": (first.start.date(),)}))
    assert "a day off" in said(situation=off)


def test_licence_on_the_very_day():
    def expiring(last: date):
        return other_farm(
            person=lambda p: p.model_copy(update={"licences": (Licence(name="applicator", expires=last),)})
        )

    day = block("terminate").start.date()
    assert "no valid licence" in said(situation=expiring(day - timedelta(days=1)))
    assert "no valid licence" not in said(situation=expiring(max(b.start.date() for b in PLAN.blocks)))


def test_daily_and_weekly_hours_with_the_way_home():
    assert "hours on" in said(
        situation=other_farm(person=lambda p: p.model_copy(update={"most_hours_per_day": 3.0}))
    )
    few = other_farm(person=lambda p: p.model_copy(update={"most_hours_per_week": 10.0}))
    assert "hours in the week of" in said(situation=few)
    worked = {(p.id, make.FIRST_DAY): 13.9 * 60 for p in FARM.operators}
    assert "hours on" in said(situation=replace(SITUATION, worked_minutes=worked))


def test_unfit_hours_and_closed_windows():
    target = block("plant")
    key = (target.field, "plant")
    hours = next(iter(OUTLOOK.fit[key].values()))
    k = int((target.start - OUTLOOK.start_utc) / HOUR)
    chance = hours.chance.copy()
    chance[k] = 0.3
    fit = {**OUTLOOK.fit, key: dict.fromkeys(OUTLOOK.fit[key], replace(hours, chance=chance))}
    assert "fit chance of 0.30" in said(outlook=replace(OUTLOOK, fit=fit))
    assert "nobody worked out" in said(outlook=replace(OUTLOOK, fit={}))
    shut = replace(OUTLOOK.windows[key], allowed_chance=np.zeros(5))
    assert "outside the window" in said(outlook=replace(OUTLOOK, windows={**OUTLOOK.windows, key: shut}))


def test_dates_of_the_programme():
    def dated(**dates: date):
        spec = FARM.programmes[0].passes[2]
        new = spec.model_copy(update={"window": spec.window.model_copy(update=dates)})
        passes = tuple(new if s.id == "plant" else s for s in FARM.programmes[0].passes)
        programme = FARM.programmes[0].model_copy(update={"passes": passes})
        return replace(SITUATION, farm=FARM.model_copy(update={"programmes": (programme,)}))

    assert "before the first date" in said(situation=dated(first_date=date(2027, 6, 1)))
    assert "after the last date" in said(situation=dated(last_date=date(2027, 5, 1)))


def test_order_lags_and_reentry():
    plant = block("plant")
    length = plant.end - plant.start
    band = max(b.end for b in PLAN.blocks if (b.field, b.pass_id) == (plant.field, "band"))
    soon = changed(plant, start=band + timedelta(hours=1), end=band + timedelta(hours=1) + length)
    assert "less than 0.5 days after band" in said(soon)
    without_band = tuple(b for b in PLAN.blocks if (b.field, b.pass_id) != (plant.field, "band"))
    assert "band is not done before it" in said(PLAN.model_copy(update={"blocks": without_band}))
    without_plant = tuple(b for b in PLAN.blocks if (b.field, b.pass_id) != (plant.field, "plant"))
    assert "not planted by then" in said(PLAN.model_copy(update={"blocks": without_plant}))
    spray = block("terminate")
    first_band = next(b for b in PLAN.blocks if (b.field, b.pass_id) == (spray.field, "band"))
    start = spray.end + timedelta(hours=2)
    inside = changed(first_band, start=start, end=start + (first_band.end - first_band.start))
    assert "re-entry interval of terminate" in said(inside)
    long_ago = make.with_pass(
        SITUATION, plant.field, "band", finished=True, done_ha=99.0, finished_at=make.at(-20), last_rig=None
    )
    rest = PLAN.model_copy(
        update={"blocks": tuple(b for b in PLAN.blocks if (b.field, b.pass_id) != (plant.field, "band"))}
    )
    assert "more than 10 days after band" in said(rest, situation=long_ago)


def test_lines_need_width_and_guidance():
    def wide(m: Machine) -> Machine:
        return m.model_copy(update={"width_m": 12.2}) if m.id == "planter" else m

    def coarse(m: Machine) -> Machine:
        return m.model_copy(update={"guidance": Guidance.DECIMETRE}) if m.id in ("small", "big") else m

    def double(m: Machine) -> Machine:
        return m.model_copy(update={"width_m": 18.288}) if m.id == "planter" else m

    assert "cannot follow the lines" in said(situation=other_farm(machine=wide))
    assert "cannot follow the lines" in said(situation=other_farm(machine=coarse))
    assert "cannot follow the lines" not in said(situation=other_farm(machine=double))


def test_stock_at_every_start():
    first = min(b.start for b in PLAN.blocks if b.pass_id == "band")
    day = first.date()
    need = sum(b.area_ha for b in PLAN.blocks if b.pass_id == "band") * 224.5

    def supplies(stock: float, *deliveries: tuple[date, float, str]):
        return replace(SITUATION, supplies={**SITUATION.supplies, "n32": Supply(stock, deliveries)})

    assert "n32 runs short" in said(situation=supplies(0.5 * need))
    assert said(situation=supplies(0.0, (day, need, "load"))) == ""
    assert "n32 runs short" in said(situation=supplies(0.0, (day + timedelta(days=9), need, "load")))


def test_pins_are_kept_or_spoken_of():
    kept = block("plant")
    pin = Pinned("p1", kept.field, "plant", kept.start, kept.rig, kept.operator)
    assert said(situation=replace(SITUATION, pins=(pin,))) == ""
    moved = replace(pin, start=kept.start + HOUR)
    assert "Pin p1" in said(situation=replace(SITUATION, pins=(moved,)))
    noted = PLAN.model_copy(
        update={"notes": (f"The pin on plant in {kept.field} cannot be kept: no driver.",)}
    )
    assert said(noted, situation=replace(SITUATION, pins=(moved,))) == ""


def test_the_checker_shares_no_code_with_what_it_checks():
    """Transitively, within the project: farm, events, windows and the plan record only."""
    import ast
    from pathlib import Path

    root = Path(__file__).resolve().parents[2]
    seen: set[str] = set()
    todo = ["scheduler.planning.checker"]
    while todo:
        name = todo.pop()
        path = root / (name.replace(".", "/") + ".py")
        if name in seen or not path.exists():
            continue
        seen.add(name)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith(("scheduler", "shared")):
                todo.append(node.module or "")
    own = {name for name in seen if name.startswith("scheduler.planning")}
    assert own == {
        f"scheduler.planning.{x}"
        for x in ("checker", "check_blocks", "check_days", "check_fields", "check_presumed", "plan")
    }
    assert not any(name.startswith("scheduler.solver") for name in seen)
