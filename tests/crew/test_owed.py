"""Lists of a plan made during the day ask for what it takes as done: no source, these are promises of the program itself."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import lru_cache

import pytest

from scheduler.crew.day_list import DayList, day_list, day_lists
from scheduler.crew.language import Words
from scheduler.crew.owed import ask_first, out_since
from scheduler.crew.paper import day_list_page
from scheduler.crew.sheets import sheets
from scheduler.crew.show import day_list_text
from scheduler.events.situation import Situation
from scheduler.planning.diff import compare
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.planning.schedule import make_plan
from scheduler.solver.result import Limits
from shared.clock import Horizon
from tests.crew.builders import morning

TITLE = "Over by the plan, not reported yet"


@lru_cache(maxsize=1)
def midday() -> tuple[Plan, Plan, Situation, PlanBlock]:
    """Return the plan of the morning, the one of the time when its first block is over, its situation, and that block."""
    first, situation, outlook = morning()
    over = min(first.of_day(first.first_day), key=lambda b: (b.end, b.id))
    later = replace(situation, now=over.end - timedelta(minutes=8))
    horizon = Horizon(outlook.first_day, outlook.days, outlook.time_zone)
    return first, make_plan(later, outlook, horizon, Limits(1.0, 1, 1), first, use_engine=False), later, over


def list_of(operator: str, situation: Situation | None = None) -> DayList:
    first, plan, later, _ = midday()
    return day_list(plan, situation or later, morning()[2], operator, plan.first_day, first)


def test_what_is_over_and_not_reported_is_asked_of_who_did_it():
    _, plan, _, over = midday()
    one = list_of(over.operator)
    assert not any((b.field, b.pass_id) == (over.field, over.pass_id) for b in plan.blocks)
    assert [(o.block, o.field, o.pass_id, o.start, o.end) for o in one.owed] == [
        (over.id, over.field, over.pass_id, over.start, over.end)
    ]
    others = [o for x in day_lists(plan, midday()[2], morning()[2], plan.first_day) for o in x.owed]
    assert [o.block for o in others] == [over.id]
    assert not any(f"{one.owed[0].job} in {one.owed[0].field_name}" in line for line in one.changed)


def test_every_list_says_it():
    one = list_of(midday()[3].operator)
    line = one.owed[0].text(Words("en"))
    text = day_list_text(one)
    assert f"{TITLE}:" in text and f"[ ] {line}" in text
    assert TITLE in day_list_page([one]) and line in day_list_page([one])
    (sheet,) = sheets([one], {})
    assert (TITLE, (line,)) in sheet.ticks
    bare = one.model_copy(update={"stops": (), "leave_at": None, "home_by": None})
    assert line in day_list_text(bare)
    assert Words("es")(TITLE) != TITLE


def test_a_report_is_the_end_of_asking():
    over = midday()[3]
    state = midday()[2].passes[over.field, over.pass_id]
    told = {(over.field, over.pass_id): replace(state, done_ha=over.area_ha / 2, last_report_at=over.end)}
    passes = {**midday()[2].passes, **told}
    assert list_of(over.operator, replace(midday()[2], passes=passes)).owed == ()


@pytest.mark.parametrize("days", [1])
def test_the_next_day_asks_no_more(days: int):
    over, later = midday()[3], midday()[2]
    assert list_of(over.operator, replace(later, now=later.now + timedelta(days=days))).owed == ()


def test_what_is_taken_as_done_is_no_change():
    first, plan, later, over = midday()
    rows = compare(first, plan, (), later.farm).rows
    assert not [row for row in rows if (row.field, row.pass_id) == (over.field, over.pass_id)]


def test_who_is_at_work_is_not_told_to_leave_the_yard_and_hitch():
    first, plan, later, _ = midday()
    lists = day_lists(plan, later, morning()[2], plan.first_day)
    running = {name for b in plan.blocks if b.under_way for name in (b.operator, b.support)} - {None}
    assert running
    for one in lists:
        out = one.operator in running or one.operator in plan.on_way
        if one.stops:
            assert one.at_work == out
            text = day_list_text(one)
            assert (Words(one.language)("At work already. Back about {home}.").split(".")[0] in text) == out
            assert not (out and set(one.stops[0].hitch) & set(one.hitch))
    assert not any(one.at_work for one in day_lists(first, morning()[1], morning()[2], first.first_day))


def test_hours_before_the_plan_tire_too():
    """Who began at dawn and works till night is told so, also on a list made at noon."""
    _, plan, later, over = midday()
    out = out_since(plan, later, over.operator, over.end)
    assert out == over.start
    day = (over.operator, over.start.date())
    assert out_since(plan, replace(later, worked_minutes={day: 90.0}), over.operator, over.end) == (
        over.start - timedelta(minutes=90)
    )
    assert out_since(plan, later, "nobody", over.end) == over.end


def test_who_comes_after_it_is_told_to_ask():
    """The spraying is over by the plan only: whoever bands there next asks first, whoever sprayed knows."""
    _, plan, later, over = midday()
    after = over.model_copy(update={"id": "next", "pass_id": "band", "operator": "tove", "start": over.end})
    more = plan.model_copy(update={"blocks": (*plan.blocks, after)})
    lines = ask_first(more, later, over.field, "band", "tove", Words("en"))
    (line,) = lines
    assert (
        line.startswith(later.farm.spec(over.field, over.pass_id).label) and "ask before you drive in" in line
    )
    assert ask_first(more, later, over.field, "band", over.operator, Words("en")) == ()
    assert ask_first(more, later, over.field, over.pass_id, "tove", Words("en")) == ()
    assert ask_first(more, later, over.field, "band", "tove", Words("es")) != lines
