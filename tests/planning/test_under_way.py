"""What stands: work under way with whoever is there, planned or not, and pins.

No outside source: these are promises of the program itself, judged by the checker and plain arithmetic on the plan.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from scheduler.events.situation import Pinned, Running, Situation, Span
from scheduler.planning.checker import check_plan
from scheduler.planning.plan import PlanBlock
from tests.planning import builders as make
from tests.planning.steady import short_plan as planned


def test_the_running_block_goes_on_with_its_people():
    farm = make.farm(3)
    situation, outlook = make.situation(farm), make.outlook(farm)
    first = planned(situation, outlook)
    running = first.blocks[0]
    now = running.start + timedelta(minutes=20)
    again = planned(replace(situation, now=now), outlook, previous=first)
    found = [b for b in again.blocks if b.under_way]
    assert [(b.field, b.pass_id, b.operator, b.rig, b.end) for b in found] == [
        (running.field, running.pass_id, running.operator, running.rig, running.end)
    ]
    assert found[0].start - now < timedelta(minutes=15)
    assert check_plan(again, replace(situation, now=now), outlook) == []


def begun(situation: Situation, block: PlanBlock, **changes: Any) -> Situation:
    """Return the situation in which somebody said of a block's pass that it was begun, or paused."""
    return make.with_pass(situation, block.field, block.pass_id, **changes)


def test_work_begun_ahead_of_its_time_stands_and_what_paused_is_free_again():
    farm = make.farm(3)
    situation, outlook = make.situation(farm), make.outlook(farm)
    first = planned(situation, outlook)
    one = min(first.blocks, key=lambda b: (b.start, b.id))
    now = one.start + timedelta(minutes=20)
    clock = replace(situation, now=now)
    paused = begun(clock, one, paused_at=now - timedelta(minutes=5))
    assert not any(b.under_way for b in planned(paused, outlook, previous=first).blocks)
    # Bob is through with the first field earlier than thought and goes on to his next one.
    two = min(
        (b for b in first.blocks if b.operator == one.operator and b.start >= one.end), key=lambda b: b.start
    )
    before = two.start - timedelta(minutes=45)
    over = begun(replace(situation, now=before), one, finished=True, finished_at=before, done_ha=one.area_ha)
    early = begun(over, two, running=Running(before, two.rig, two.operator))
    again = planned(early, outlook, previous=first)
    (found,) = [b for b in again.blocks if b.under_way]
    assert (found.field, found.pass_id, found.operator, found.rig) == (
        two.field,
        two.pass_id,
        two.operator,
        two.rig,
    )
    assert found.start == before and found.area_ha == pytest.approx(two.area_ha, abs=0.11)
    assert check_plan(again, early, outlook) == []


def test_who_really_began_goes_before_who_was_planned():
    """Two can spray; the plan has one of them, the other one went."""
    people = (
        make.person("bob", "terminate", "spray"),
        make.person("dee", "terminate", "spray"),
        make.person("ann", "plant", "band-nitrogen", "tender"),
    )
    farm = make.farm(2, operators=people)
    situation, outlook = make.situation(farm), make.outlook(farm)
    first = planned(situation, outlook)
    one = min((b for b in first.blocks if b.pass_id == "terminate"), key=lambda b: b.start)
    other = "dee" if one.operator == "bob" else "bob"
    now = one.start + timedelta(minutes=15)
    gone = begun(replace(situation, now=now), one, running=Running(one.start, one.rig, other))
    (found,) = [b for b in planned(gone, outlook, previous=first).blocks if b.under_way]
    assert (found.field, found.operator) == (one.field, other)


def test_a_running_block_stops_when_its_machine_breaks():
    farm = make.farm(3)
    situation, outlook = make.situation(farm), make.outlook(farm)
    first = planned(situation, outlook)
    now = first.blocks[0].start + timedelta(minutes=20)
    news = replace(situation, now=now, machine_down={"sprayer": (Span(now, make.at(2, "12:00")),)})
    again = planned(news, outlook, previous=first)
    assert not any(b.under_way for b in again.blocks)
    assert all(b.start >= make.at(2, "12:00") for b in again.blocks if "sprayer" in b.machines)


@pytest.fixture
def two_sprayers() -> tuple[Situation, Any]:
    """Two may spray; it is half past nine."""
    people = (
        make.person("bob", "terminate", "spray"),
        make.person("dee", "terminate", "spray"),
        make.person("ann", "plant", "band-nitrogen", "tender"),
    )
    farm = make.farm(3, operators=people)
    return make.situation(farm, make.at(0, "09:30")), make.outlook(farm)


def test_work_that_no_plan_has_goes_on_where_it_is(two_sprayers: tuple[Situation, Any]):
    """Dee began in the third field by herself; until then nobody had a plan."""
    situation, outlook = two_sprayers
    farm, now = situation.farm, situation.now
    size = farm.field_by_id["f3"].area_ha
    news = make.with_pass(situation, "f3", "terminate", running=Running(now, "sprayer", "dee"))
    plan = planned(news, outlook)
    (found,) = [b for b in plan.blocks if b.under_way]
    assert (found.field, found.pass_id, found.operator, found.rig) == ("f3", "terminate", "dee", "sprayer")
    assert found.start == now and found.area_ha == pytest.approx(size, abs=0.11)
    assert check_plan(plan, news, outlook) == []
    # Without the word of her the third field is not the first of the plan, or somebody else may have it.
    assert not any(b.under_way for b in planned(situation, outlook).blocks)


def test_work_whose_time_is_over_goes_on_until_it_is_done(two_sprayers: tuple[Situation, Any]):
    """The plan has bob through at the end of his block; two thirds are done by then, and he has not stopped."""
    situation, outlook = two_sprayers
    first = planned(situation, outlook)
    one = min((b for b in first.blocks if b.pass_id == "terminate"), key=lambda b: b.start)
    now = one.end + timedelta(minutes=15)
    news = make.with_pass(
        replace(situation, now=now), one.field, one.pass_id,
        done_ha=one.area_ha * 2 / 3, started_at=one.start, last_report_at=now, last_rig=one.rig, last_operator=one.operator,
        running=Running(one.start, one.rig, one.operator),
    )  # fmt: skip
    again = planned(news, outlook, previous=first)
    (found,) = [b for b in again.blocks if b.under_way]
    assert (found.field, found.operator, found.rig) == (one.field, one.operator, one.rig)
    assert found.start - now < timedelta(minutes=15)
    assert found.area_ha == pytest.approx(one.area_ha / 3, abs=0.11)
    assert check_plan(again, news, outlook) == []


def test_work_begun_without_a_plan_ends_before_a_pin_of_the_same_person(two_sprayers: tuple[Situation, Any]):
    situation, outlook = two_sprayers
    now = situation.now
    due = now + timedelta(hours=1)
    pin = Pinned("p1", "f1", "terminate", due, "sprayer", "dee")
    news = make.with_pass(situation, "f3", "terminate", running=Running(now, "sprayer", "dee"))
    plan = planned(replace(news, pins=(pin,)), outlook)
    (found,) = [b for b in plan.blocks if b.under_way]
    (kept,) = [b for b in plan.blocks if b.pinned]
    assert found.field == "f3" and found.operator == "dee" and now < found.end <= due == kept.start
    assert check_plan(plan, replace(news, pins=(pin,)), outlook) == []


def test_who_is_there_already_may_be_in_poor_hours_but_not_in_impossible_ones():
    """The odds are 0.2 all day; from noon on nothing can be done."""
    farm = make.farm(1)

    def chance(field: str, pass_id: str, day: int, hour: int) -> float:
        return 0.0 if hour >= 12 else 0.2

    outlook, now = make.outlook(farm, chance=chance), make.at(0, "10:00")
    idle = make.situation(farm, now)
    assert not planned(idle, outlook).blocks
    news = make.with_pass(idle, "f1", "terminate", running=Running(now, "sprayer", "bob"))
    plan = planned(news, outlook)
    (found,) = [b for b in plan.blocks if b.under_way]
    assert found.start == now and found.end <= make.at(0, "12:00") and found.chance <= 0.2
    assert check_plan(plan, news, outlook) == []
    # The same block without anybody's word for it is refused.
    assert any("fit chance of 0.20" in fault for fault in check_plan(plan, idle, outlook))
    late = make.with_pass(
        make.situation(farm, make.at(0, "13:00")), "f1", "terminate", running=Running(now, None, "bob")
    )
    assert not planned(late, outlook).blocks


def test_work_begun_that_cannot_be_is_spoken_of(two_sprayers: tuple[Situation, Any]):
    """Ann may not spray, and planting cannot be before the bands: no block, but a sentence with the reason."""
    situation, outlook = two_sprayers
    for pass_id, who in (("terminate", "ann"), ("plant", "ann")):
        news = make.with_pass(situation, "f3", pass_id, running=Running(situation.now, None, who))
        plan = planned(news, outlook)
        assert not any(b.under_way for b in plan.blocks)
        assert any(
            n.startswith("Said to be at work now, but not in the plan: ") and "f3" in n.lower()
            for n in plan.notes
        ), plan.notes
        assert check_plan(plan, news, outlook) == []


def test_a_pin_is_kept_and_an_impossible_one_is_spoken_of():
    farm = make.farm(2)
    outlook = make.outlook(farm)
    good = Pinned("p1", "f2", "terminate", make.at(2, "09:00"), None, "bob")
    plan = planned(make.situation(farm, pins=(good,)), outlook)
    kept = next(b for b in plan.blocks if (b.field, b.pass_id) == ("f2", "terminate"))
    assert (kept.start, kept.operator, kept.pinned) == (good.start, "bob", True)
    bad = replace(good, operator="cy")
    plan = planned(make.situation(farm, pins=(bad,)), outlook)
    assert any("cannot be kept" in note for note in plan.notes)
    assert any(b.field == "f2" and b.pass_id == "plant" for b in plan.blocks)


def test_a_pin_may_take_poor_odds_but_no_impossible_hour():
    farm = make.farm(1)

    def chance(field: str, pass_id: str, day: int, hour: int) -> float:
        return 0.2 if day == 1 else make.always(field, pass_id, day, hour)

    outlook = make.outlook(farm, chance=chance)
    pin = Pinned("p1", "f1", "terminate", make.at(1, "09:00"))
    plan = planned(make.situation(farm, pins=(pin,)), outlook)
    block = next(b for b in plan.blocks if b.pinned)
    assert block.start == pin.start and block.chance <= 0.2
    assert any("pinned" in worry.text for worry in plan.worries)
    night = planned(make.situation(farm, pins=(replace(pin, start=make.at(2, "02:00")),)), outlook)
    assert any("cannot be kept" in note for note in night.notes)


def test_two_pins_that_clash_leave_a_plan():
    farm = make.farm(2)
    pins = (
        Pinned("p1", "f1", "plant", make.at(0, "09:00")),
        Pinned("p2", "f2", "terminate", make.at(0, "09:00"), None, "bob"),
    )
    situation = make.situation(farm, pins=pins)
    plan = planned(situation, make.outlook(farm))
    assert any("plant in f1 cannot be kept" in note for note in plan.notes)
    assert any(b.pinned and b.field == "f2" for b in plan.blocks)


def test_who_began_elsewhere_is_there_and_not_where_the_plan_has_them(two_sprayers: tuple[Situation, Any]):
    """Whoever the plan has in its first field said at half past nine that they begin in another one."""
    situation, outlook = two_sprayers
    first = planned(replace(situation, now=make.at(0, "05:00")), outlook)
    one = min((b for b in first.blocks if b.pass_id == "terminate"), key=lambda b: (b.start, b.id))
    at = one.start + timedelta(minutes=30)
    other = next(f.id for f in situation.farm.fields if f.id != one.field)
    news = make.with_pass(
        replace(situation, now=at), other, "terminate", running=Running(at, one.rig, one.operator)
    )
    plan = planned(news, outlook, previous=first)
    (found,) = [b for b in plan.blocks if b.under_way]
    assert (found.field, found.operator, found.start) == (other, one.operator, at)
    assert not any("Said to be at work" in note for note in plan.notes)
    (half,) = plan.presumed
    assert (half.field, half.end) == (one.field, at) and half.area_ha < one.area_ha
    assert check_plan(plan, news, outlook) == []
