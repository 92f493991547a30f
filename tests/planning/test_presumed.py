"""What a plan made during the day takes as done though nobody has reported it.

No outside source: these are promises of the program itself, judged by the checker and plain arithmetic on the plan.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest

from scheduler.events.presumed import Presumed, with_presumed
from scheduler.events.situation import Check, Rain, Running, Situation, Span
from scheduler.planning.checker import check_plan
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.planning.presumed import presumed_lines, presumed_work
from shared.vocabulary import Fitness
from tests.planning import builders as make
from tests.planning.steady import short_plan as planned

FARM = make.farm(3)
MORNING = make.situation(FARM)
OUTLOOK = make.outlook(FARM)
FIRST = planned(MORNING, OUTLOOK)
SPRAYED = sorted((b for b in FIRST.blocks if b.pass_id == "terminate"), key=lambda b: b.start)
QUARTER = timedelta(minutes=15)


def later(now: datetime, **more: Any) -> Situation:
    """Return the situation at a time of the first day at which nothing was reported."""
    return replace(MORNING, now=now, **more)


def area(works: tuple[Presumed, ...], block: PlanBlock) -> float:
    """Return what is presumed done of a block's pass."""
    return sum(one.area_ha for one in works if (one.field, one.pass_id) == (block.field, block.pass_id))


def far(plan: Plan, now: datetime) -> list[tuple[object, ...]]:
    """Return the blocks that begin from a time on."""
    return sorted(
        (b.field, b.pass_id, b.start, b.end, b.operator, b.rig)
        for b in plan.blocks
        if b.start >= now and not b.under_way
    )


@pytest.mark.parametrize("minutes", [20, 45, 60, 80])
def test_what_is_under_way_keeps_its_end_and_what_follows_its_time(minutes: int):
    """The first block runs from 07:00 to 08:30; nothing is new but the time."""
    one = SPRAYED[0]
    now = one.start + timedelta(minutes=minutes)
    plan = planned(later(now), OUTLOOK, previous=FIRST)
    running = [b for b in plan.blocks if b.under_way]
    done = area(plan.presumed, one)
    assert done > 0 and done + sum(b.area_ha for b in running) == pytest.approx(one.area_ha, abs=0.01)
    assert all(b.end == one.end and b.start - now < QUARTER for b in running)
    assert bool(running) == (minutes < 75)
    assert far(plan, one.end) == far(FIRST, one.end)
    assert check_plan(plan, later(now), OUTLOOK) == []


def test_the_share_that_is_presumed_is_that_of_its_hours_without_the_set_up():
    one = SPRAYED[1]
    setup = FARM.machine_by_id["sprayer"].setup_minutes
    now = one.start + timedelta(minutes=30)
    (found,) = (w for w in presumed_work(later(now), FIRST, OUTLOOK) if w.block == one.id)
    whole = (one.end - one.start) / timedelta(minutes=1)
    assert found.area_ha == pytest.approx(one.area_ha * (30 - setup) / (whole - setup))
    assert (found.start, found.end, found.over, found.operator) == (one.start, now, False, one.operator)


def test_work_of_today_whose_hours_are_over_is_done_until_the_next_day():
    """At noon all three are sprayed by their hours; next morning nobody has said so still."""
    last = SPRAYED[-1].end + timedelta(hours=1)
    plan = planned(later(last), OUTLOOK, previous=FIRST)
    assert [w.area_ha for w in plan.presumed] == [b.area_ha for b in SPRAYED]
    assert not any(b.pass_id == "terminate" for b in plan.blocks)
    assert any(w.text.startswith("Taken as done, since its hours are over") for w in plan.worries)
    assert check_plan(plan, later(last), OUTLOOK) == []
    # The plan of the afternoon is known next morning, and nothing was reported: all of it is to be done.
    late = make.outlook(FARM)
    morning = replace(MORNING, now=make.at(1, "05:00"))
    assert presumed_work(morning, plan, late) == ()


def test_plans_one_after_another_presume_no_more_than_one_alone():
    plan, moment = FIRST, SPRAYED[0].start
    while moment < SPRAYED[-1].end + timedelta(minutes=30):
        moment += timedelta(minutes=35)
        once = presumed_work(later(moment), FIRST, OUTLOOK)
        plan = planned(later(moment), OUTLOOK, previous=plan)
        for block in SPRAYED:
            assert area(plan.presumed, block) == pytest.approx(area(once, block), abs=0.05)
        assert far(plan, moment) == far(FIRST, moment)
        assert check_plan(plan, later(moment), OUTLOOK) == []
        plan = Plan.model_validate_json(plan.model_dump_json())


def test_a_report_takes_the_place_of_what_was_presumed():
    one = SPRAYED[0]
    told = one.start + timedelta(minutes=60)
    news = make.with_pass(later(told), one.field, one.pass_id, done_ha=10.0, last_report_at=told)
    assert area(presumed_work(news, FIRST, OUTLOOK), one) == 0.0
    half = replace(news, now=told + timedelta(minutes=15))
    done = area(presumed_work(half, FIRST, OUTLOOK), one)
    assert 0 < done < one.area_ha / 3
    plan = planned(half, OUTLOOK, previous=FIRST)
    mine = [b for b in plan.blocks if (b.field, b.pass_id) == (one.field, one.pass_id)]
    assert mine[0].under_way
    assert sum(b.area_ha for b in mine) == pytest.approx(one.area_ha - 10.0 - done, abs=0.01)
    assert check_plan(plan, half, OUTLOOK) == []
    over = make.with_pass(
        later(told), one.field, one.pass_id, done_ha=one.area_ha, finished=True, finished_at=told
    )
    assert area(presumed_work(over, FIRST, OUTLOOK), one) == 0.0


def test_nothing_is_presumed_after_what_speaks_against_it():
    one = SPRAYED[0]
    now, at = one.end - QUARTER, one.start + timedelta(minutes=30)
    key = (one.field, one.pass_id)
    least = area(presumed_work(later(at), FIRST, OUTLOOK), one)
    cases = {
        "stopped": make.with_pass(later(now), *key, paused_at=at),
        "machine": later(now, machine_down={"sprayer": (Span(at, make.at(2)),)}),
        "person": later(now, operator_away={one.operator: (Span(at, None),)}),
        "rain": later(now, rain=(Rain(one.field, at, now, 8.0),)),
        "rain everywhere": later(now, rain=(Rain(None, at, now, 8.0),)),
        "spade": later(now, checks=(Check(one.field, at, Fitness.UNFIT),)),
    }
    for name, news in cases.items():
        assert area(presumed_work(news, FIRST, OUTLOOK), one) == pytest.approx(least), name
    for news in (
        later(now, rain=(Rain("f1" if one.field != "f1" else "f2", at, now, 8.0),)),
        later(now, machine_down={"planter": (Span(at, None),)}),
        later(now, checks=(Check(one.field, at, Fitness.FIT),)),
    ):
        assert area(presumed_work(news, FIRST, OUTLOOK), one) > least
    # Rain since midnight, and hours that are not fit any more: nobody knows since when.
    wet = later(now, rain=(Rain(None, make.at(0, "00:00"), now, 8.0),))
    assert presumed_work(wet, FIRST, OUTLOOK) == ()
    unfit = make.outlook(FARM, chance=lambda f, p, day, hour: 0.2 if day == 0 else 0.9)
    assert area(presumed_work(later(now), FIRST, unfit), one) == 0.0
    # Who said that he began is at it all the same.
    begun = make.with_pass(later(now), *key, running=Running(one.start, one.rig, one.operator))
    assert area(presumed_work(begun, FIRST, unfit), one) > least


def test_who_began_later_than_planned_is_that_much_behind():
    one = SPRAYED[0]
    now, since = one.end - QUARTER, one.start + timedelta(minutes=30)
    begun = make.with_pass(later(now), one.field, one.pass_id, running=Running(since, one.rig, one.operator))
    done, planned_done = (area(presumed_work(s, FIRST, OUTLOOK), one) for s in (begun, later(now)))
    pace = one.area_ha / ((one.end - one.start) / timedelta(minutes=1) - 0.0)
    assert planned_done - done == pytest.approx(30 * pace, rel=0.15)
    # With another rig than planned nobody knows.
    other = make.with_pass(later(now), one.field, one.pass_id, running=Running(since, "other", one.operator))
    assert area(presumed_work(other, FIRST, OUTLOOK), one) == 0.0


def test_products_hours_and_the_re_entry_interval_count():
    one = SPRAYED[0]
    now = one.start + timedelta(minutes=45)
    news = later(now)
    works = presumed_work(news, FIRST, OUTLOOK)
    counted = with_presumed(news, works)
    done = area(works, one)
    assert counted.supplies["burn"].stock == pytest.approx(news.supplies["burn"].stock - 2.0 * done)
    assert counted.worked_minutes[one.operator, now.date()] == pytest.approx(45)
    assert counted.left_ha(one.field, "terminate") == pytest.approx(one.area_ha - done)
    plan = planned(news, OUTLOOK, previous=FIRST)
    assert all(b.start >= now + timedelta(hours=12) for b in plan.blocks if b.pass_id == "band")


def test_the_checker_refuses_what_no_rig_can_have_done():
    one = SPRAYED[0]
    now = one.start + timedelta(minutes=45)
    plan = planned(later(now), OUTLOOK, previous=FIRST)
    (good,) = plan.presumed

    def faults(*works: Presumed) -> str:
        return "\n".join(check_plan(plan.model_copy(update={"presumed": works}), later(now), OUTLOOK))

    assert faults(good) == ""
    assert "minutes of work in" in faults(replace(good, area_ha=good.area_ha + 10.0))
    assert "not of today" in faults(replace(good, start=good.start - timedelta(days=1)))
    assert "not over yet" in faults(replace(good, end=now + timedelta(hours=1)))
    assert "elsewhere" in faults(good, replace(good, field="f1" if good.field != "f1" else "f2"))
    assert "more than was left" in faults(*(replace(good, start=good.start, operator=x) for x in "abcd"))
    told = make.with_pass(later(now), one.field, one.pass_id, last_report_at=now)
    assert "a report of it came since" in "\n".join(check_plan(plan, told, OUTLOOK))


def test_notes_tell_areas_and_ask_for_reports():
    one, two = SPRAYED[:2]
    now = two.start + timedelta(minutes=45)
    over, part = presumed_lines(FARM, presumed_work(later(now), FIRST, OUTLOOK))
    assert f"terminate in {one.field}; if that is not so, report it" in over and two.field not in over
    assert f" ac of terminate in {two.field}" in part and one.field not in part
    assert presumed_lines(FARM, ()) == ()


def test_a_plan_made_again_in_the_same_quarter_hour_is_the_same():
    one = SPRAYED[0]
    now = one.start + timedelta(minutes=37)
    plan = planned(later(now), OUTLOOK, previous=FIRST)
    again = planned(later(now + timedelta(minutes=3)), OUTLOOK, previous=plan)
    assert again.blocks == plan.blocks and any(b.under_way for b in again.blocks)
    # Somebody stopped between the two.
    news = make.with_pass(
        later(now + timedelta(minutes=20)), one.field, one.pass_id, paused_at=now + timedelta(minutes=2)
    )
    off = planned(news, OUTLOOK, previous=plan)
    assert not any(b.under_way for b in off.blocks)
    # A part that was presumed already is cut in proportion; its set-up is spread over it.
    assert area(off.presumed, one) == pytest.approx(area(presumed_work(news, FIRST, OUTLOOK), one), rel=0.03)
    assert check_plan(off, news, OUTLOOK) == []


def test_the_re_entry_interval_of_what_nobody_reported_counts_from_now():
    """Sprayed from 07:00 to 08:30 by the plan; at noon nobody has said that it is over, and it may just be."""
    one = SPRAYED[0]
    noon = make.at(0, "12:00")
    seen = with_presumed(later(noon), presumed_work(later(noon), FIRST, OUTLOOK))
    assert seen.passes[one.field, "terminate"].finished_at == noon
    plan = planned(later(noon), OUTLOOK, previous=FIRST)
    assert all(b.start >= noon + timedelta(hours=12) for b in plan.blocks if b.field == one.field)
    # A band has none: the time that it was to be over counts.
    band = min((b for b in FIRST.blocks if b.pass_id == "band"), key=lambda b: b.start)
    day = replace(MORNING, now=band.end + timedelta(minutes=30))
    works = tuple(w for w in presumed_work(day, FIRST, OUTLOOK) if w.block == band.id)
    assert with_presumed(day, works).passes[band.field, "band"].finished_at == band.end
