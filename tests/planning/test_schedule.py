"""Plans: always checked, never worse than the rule, stable without news, true to pins and to work under way.

No outside source: these are promises of the program itself; the judge is the checker, which shares no code with the
engine, and plain arithmetic on the plan.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scheduler.events.situation import Pinned, Situation, Span, Supply
from scheduler.farm.operator import Licence
from scheduler.planning.checker import check_plan
from scheduler.planning.plan import Plan
from scheduler.planning.schedule import make_plan
from scheduler.solver.result import Limits
from scheduler.windows.records import Outlook
from shared.vocabulary import Reason
from tests.planning import builders as make
from tests.planning.steady import SHORT, steady_plan
from tests.planning.steady import short_plan as planned


@st.composite
def mornings(draw: st.DrawFn) -> tuple[Situation, Outlook]:
    """Return a small farm on some morning: rain, shortages, absences, pins, work half done."""
    rng = np.random.default_rng(draw(st.integers(0, 10_000)))
    farm = make.farm(draw(st.integers(1, 4)))
    odds = rng.choice([0.0, 0.3, 0.6, 0.95], (len(farm.fields), 5, 3), p=[0.2, 0.1, 0.3, 0.4])
    rows = {field.id: k for k, field in enumerate(farm.fields)}

    def chance(field: str, pass_id: str, day: int, hour: int) -> float:
        return float(odds[rows[field], day, min(2, (hour - 6) // 5)]) if 6 <= hour < 21 else 0.0

    situation = make.situation(farm, make.at(0, draw(st.sampled_from(["05:00", "09:07", "13:30"]))))
    if draw(st.booleans()):
        last = make.FIRST_DAY + timedelta(days=int(rng.integers(0, 4)))
        people = tuple(
            p.model_copy(update={"licences": (Licence(name="applicator", expires=last),)})
            if p.id == "bob"
            else p
            for p in farm.operators
        )
        situation = replace(situation, farm=farm.model_copy(update={"operators": people}))
    if draw(st.booleans()):
        away = Span(make.at(1), make.at(int(rng.integers(1, 4)), "12:00"))
        situation = replace(situation, operator_away={str(rng.choice(["ann", "cy"])): (away,)})
    if draw(st.booleans()):
        situation = replace(situation, machine_down={"big": (Span(make.at(0), None),)})
    if draw(st.booleans()):
        low = Supply(float(rng.integers(0, 9000)), ((make.FIRST_DAY + timedelta(days=2), 4000.0, "d1"),))
        situation = replace(situation, supplies={**situation.supplies, "n32": low})
    if draw(st.booleans()):
        first = farm.fields[0]
        situation = make.with_pass(
            situation,
            first.id,
            "terminate",
            finished=True,
            done_ha=first.area_ha,
            finished_at=make.at(-1, "15:00"),
        )
        situation = make.with_pass(
            situation, first.id, "band", done_ha=first.area_ha / 3, started_at=make.at(-1), last_report_at=make.at(-1, "19:00"),
            last_rig="small+bar+truck", last_operator="cy",
        )  # fmt: skip
    if draw(st.booleans()):
        start = make.at(int(rng.integers(0, 4)), "10:00")
        situation = replace(
            situation, pins=(Pinned("p1", farm.fields[-1].id, "terminate", start, None, "bob"),)
        )
    return situation, make.outlook(situation.farm, chance=chance)


@given(mornings())
@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
def test_every_plan_passes_the_checker_and_is_not_worse_than_the_rule(morning: tuple[Situation, Outlook]):
    situation, outlook = morning
    rule = planned(situation, outlook, use_engine=False)
    plan = planned(situation, outlook)
    assert check_plan(rule, situation, outlook) == []
    assert check_plan(plan, situation, outlook) == []
    assert not any("refused by the checker" in note for note in plan.notes)
    assert plan.value.total <= rule.value.total + 0.01
    assert plan.value.bound <= plan.value.total
    assert sum(plan.value.parts.values()) == pytest.approx(plan.value.total, abs=0.1)


@given(mornings(), st.sampled_from(["ann", "bob", "cy"]))
@settings(max_examples=5, deadline=None, suppress_health_check=list(HealthCheck))
def test_taking_away_an_operator_never_beats_the_proven_bound(morning: tuple[Situation, Outlook], name: str):
    """The proven bound of the full crew holds for the smaller one too, whatever plan is found."""
    situation, outlook = morning
    situation = replace(situation, pins=())
    full = planned(situation, outlook)
    fewer = planned(replace(situation, operator_away={name: (Span(make.at(-1)),)}), outlook)
    assert fewer.value.total >= full.value.bound - 0.01
    if full.value.status == fewer.value.status == "OPTIMAL":
        assert fewer.value.total >= full.value.total - 0.01


def test_same_input_same_plan():
    farm = make.farm(3)
    one, two = (steady_plan(make.situation(farm), make.outlook(farm)) for _ in range(2))
    assert one == two


def test_a_replan_without_news_changes_nothing():
    farm = make.farm(3)
    situation, outlook = make.situation(farm), make.outlook(farm)
    first = planned(situation, outlook)
    assert planned(situation, outlook, previous=first) == first
    later = make_plan(
        replace(situation, now=make.at(0, "05:40")), outlook, make.horizon(), replace(SHORT, seed=9), first
    )
    gain = first.value.total - later.value.total
    assert [(b.id, b.start, b.operator) for b in later.blocks] == [
        (b.id, b.start, b.operator) for b in first.blocks
    ] or gain >= 1


def test_a_wrong_width_is_refused_and_said():
    machines = tuple(
        m.model_copy(update={"width_m": 12.192}) if m.id == "planter" else m for m in make.machines()
    )
    farm = make.farm(1, machines=machines)
    plan = planned(make.situation(farm), make.outlook(farm))
    assert {b.pass_id for b in plan.blocks} == {"terminate", "band"}
    row = next(x for x in plan.left_out if x.pass_id == "plant")
    assert row.reason == Reason.LINES.value
    assert next(x for x in plan.left_out if x.pass_id == "scout").reason == Reason.WAITS_FOR_PASS.value


def test_a_cancelled_pass_holds_nobody_up():
    farm = make.farm(1)
    situation = make.with_pass(make.situation(farm), "f1", "terminate", cancelled=True)
    plan = planned(situation, make.outlook(farm))
    assert {b.pass_id for b in plan.blocks} == {"band", "plant", "scout"}
    assert plan.blocks[0].start.date() == make.FIRST_DAY


def test_a_licence_that_runs_out_in_the_middle():
    people = tuple(
        p.model_copy(update={"licences": (Licence(name="applicator", expires=make.FIRST_DAY),)})
        for p in make.farm(1).operators
    )
    farm = make.farm(3, operators=people)

    def chance(field: str, pass_id: str, day: int, hour: int) -> float:
        wet = pass_id == "terminate" and field == "f3" and day < 2
        return 0.0 if wet else make.always(field, pass_id, day, hour)

    plan = planned(make.situation(farm), make.outlook(farm, chance=chance))
    assert {b.start.date() for b in plan.blocks if b.pass_id == "terminate"} == {make.FIRST_DAY}
    row = next(x for x in plan.left_out if (x.field, x.pass_id) == ("f3", "terminate"))
    assert row.reason in (Reason.LICENCE.value, Reason.TOO_WET.value)
    assert any("runs out" in worry.text for worry in plan.worries)


def test_work_that_does_not_fit_goes_to_the_weeks_behind():
    farm = make.farm(4)
    situation = make.situation(farm)
    without = planned(situation, make.outlook(farm, 3), days=3)
    behind = planned(situation, make.outlook(farm, 3, weeks=3), days=3)
    assert without.left_out and not without.later
    assert behind.later and behind.value.total < without.value.total
    assert check_plan(behind, situation, make.outlook(farm, 3, weeks=3)) == []


def test_a_clock_change_within_the_plan():
    """The last Sunday hour that summer time skips in the United States, 14 March 2027, 02:00 (US Code 15, 260a)."""
    from datetime import date, datetime, time
    from zoneinfo import ZoneInfo

    from shared.clock import Horizon

    farm = make.farm(2)
    first = date(2027, 3, 12)
    start = datetime.combine(first, time(5), ZoneInfo(make.ZONE))
    old_first = make.FIRST_DAY
    make.FIRST_DAY = first
    try:
        outlook = make.outlook(farm)
        situation = make.situation(farm, start)
        plan = make_plan(situation, outlook, Horizon(first, 5, make.ZONE), SHORT)
    finally:
        make.FIRST_DAY = old_first
    assert check_plan(plan, situation, outlook) == []
    after = [b for b in plan.blocks if b.start.date() > date(2027, 3, 14)]
    assert after and all(b.start.hour >= 7 and b.end.hour <= 20 for b in after)


def test_a_plan_read_back_is_the_same_and_can_be_replanned():
    farm = make.farm(3)
    situation, outlook = make.situation(farm), make.outlook(farm)
    plan = planned(situation, outlook)
    read = Plan.model_validate_json(plan.model_dump_json())
    assert read == plan
    assert planned(situation, outlook, previous=read) == plan


def test_blocks_that_stand_keep_their_names():
    farm = make.farm(4)
    situation, outlook = make.situation(farm), make.outlook(farm)
    plan = planned(situation, outlook)
    assert len({b.id for b in plan.blocks}) == len(plan.blocks)
    away = replace(situation, operator_away={"cy": (Span(make.at(2), make.at(3)),)}, now=make.at(0, "05:10"))
    again = planned(away, outlook, previous=plan)
    before = {(b.field, b.pass_id, b.end, b.rig, b.operator): b.id for b in plan.blocks}
    stood = [b for b in again.blocks if (b.field, b.pass_id, b.end, b.rig, b.operator) in before]
    assert stood
    assert all(b.id == before[(b.field, b.pass_id, b.end, b.rig, b.operator)] for b in stood)


def test_most_of_what_the_news_does_not_touch_stays():
    """A driver falls out on the last day: the first two days stay as people were told."""
    farm = make.farm(4)
    situation, outlook = make.situation(farm), make.outlook(farm)
    plan = planned(situation, outlook)
    news = replace(situation, now=make.at(0, "05:30"), operator_away={"cy": (Span(make.at(4), make.at(5)),)})
    again = planned(news, outlook, previous=plan)

    def near(of: Plan) -> set[tuple[str, str, object, str]]:
        return {(b.field, b.pass_id, b.start, b.operator) for b in of.blocks if b.start < make.at(2)}

    assert len(near(plan) & near(again)) >= 0.75 * len(near(plan))


def test_without_sentences_it_is_the_same_plan():
    situation = make.situation(make.farm(3))
    # Fit on the first two days alone: much is left out.
    outlook = make.outlook(
        situation.farm, 5, chance=lambda field, spec, day, hour: 0.9 if day < 2 and 7 <= hour < 20 else 0.0
    )
    limits = Limits(seconds=0.3, workers=1, seed=1, deterministic=True)
    told = make_plan(situation, outlook, make.horizon(5), limits)
    bare = make_plan(situation, outlook, make.horizon(5), limits, reasons=False)

    def rows(plan: Plan) -> list[tuple]:
        return [(b.field, b.pass_id, b.start, b.end, b.area_ha, b.operator, b.rig) for b in plan.blocks]

    assert rows(bare) == rows(told) and bare.value == told.value and bare.later == told.later
    assert [(r.field, r.pass_id, r.area_ha, r.loss) for r in bare.left_out] == [
        (r.field, r.pass_id, r.area_ha, r.loss) for r in told.left_out
    ]
    assert told.left_out and all(row.text and row.reason for row in told.left_out)
    assert not any(row.text or row.reason for row in bare.left_out)
    assert told.spread is not None and bare.spread is None
    assert not any(b.why_then for b in bare.blocks) and all(b.why_then for b in told.blocks)
