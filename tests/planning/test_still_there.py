"""A plan read on a farm that has lost something since: what is left of it, and what is said."""

from __future__ import annotations

from datetime import timedelta

import pytest

from scheduler.planning.plan import LaterWork, LeftOut, Plan, PlanBlock, Value, Worry
from scheduler.planning.still_there import gone_text, still_there
from tests.planning import builders as make

FARM = make.farm(2)


def block(name: str, **more: object) -> PlanBlock:
    start = make.at(1, "08:00")
    parts: dict[str, object] = {
        "field": "f1", "pass_id": "plant", "rig": "big+planter", "machines": ("big", "planter"), "operator": "ann",
    }  # fmt: skip
    return PlanBlock(id=name, start=start, end=start + timedelta(hours=4), area_ha=5.0, **(parts | more))  # type: ignore[arg-type]


def plan(*blocks: PlanBlock, **more: object) -> Plan:
    value = Value(total=1, bound=0, gap=1, dispatch_total=1, parts={}, status="FEASIBLE")
    made = make.at(0)
    return Plan(id="p", farm="f", made_at=made, first_day=made.date(), days=14, time_zone=make.ZONE, blocks=blocks, value=value, **more)  # type: ignore[arg-type]  # fmt: skip


def test_a_plan_of_this_farm_is_left_as_it_is() -> None:
    known = plan(block("a"), block("b", operator="bob", support="ann"))
    assert still_there(known, FARM, make.at(0)) is known
    assert gone_text(known, FARM, make.at(0)) == ""


@pytest.mark.parametrize(
    ("gone", "named"),
    [
        ({"field": "far"}, "far"),
        ({"pass_id": "roll"}, "roll in"),
        ({"operator": "cal"}, "cal"),
        ({"support": "cal"}, "cal"),
        ({"machines": ("big", "drill")}, "drill"),
    ],
)
def test_a_block_that_counts_on_what_is_gone_is_left_out_and_said(
    gone: dict[str, object], named: str
) -> None:
    left = still_there(plan(block("a"), block("b", **gone)), FARM, make.at(0))
    assert [one.id for one in left.blocks] == ["a"]
    assert left.worries[0].severity == 3 and named in left.worries[0].text


def test_who_has_left_since_keeps_the_work_that_is_over() -> None:
    known = plan(block("a", operator="cal"))
    assert still_there(known, FARM, make.at(1, "11:59")).blocks == ()
    assert still_there(known, FARM, make.at(1, "12:00")) is known
    assert still_there(plan(block("a", field="far")), FARM, make.at(3)).blocks == ()


def test_weeks_what_is_left_out_and_worries_of_a_lost_field_go_too() -> None:
    week = make.FIRST_DAY + timedelta(days=14)
    later = [
        LaterWork(field=name, pass_id="plant", week_from=week, week_to=week + timedelta(days=6), area_ha=1.0)
        for name in ("f1", "far")
    ]
    out = [LeftOut(field=name, pass_id="plant", area_ha=1.0, reason="x", text="x") for name in ("f2", "far")]
    worries = [Worry(severity=1, text=name, field=name) for name in ("f1", "far")] + [
        Worry(severity=1, text="all")
    ]
    left = still_there(
        plan(later=tuple(later), left_out=tuple(out), worries=tuple(worries)), FARM, make.at(0)
    )
    assert [one.field for one in left.later] == ["f1"] and [one.field for one in left.left_out] == ["f2"]
    assert [one.text for one in left.worries[1:]] == ["f1", "all"]
