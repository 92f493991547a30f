"""Lists of days behind: what people were told then, hour by hour, whatever was planned since."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from html import unescape
from typing import Any

import pytest
from starlette.testclient import TestClient

from scheduler.crew.day_list import day_list
from scheduler.crew.language import Words
from scheduler.crew.remarks import load_rest, remarks, role_name
from scheduler.planning.plan import Plan
from scheduler.wiring.issued import day_shown, issue_plan, list_before
from scheduler.wiring.lists import lists_of
from scheduler.wiring.office import Office
from scheduler.wiring.plans_known import latest_plan, plan_of
from shared.errors import FitgroundError
from tests.service.farms import at
from tests.web.conftest import Clock
from tests.web.test_crew import link, send

MONDAY = date(2027, 5, 10)


def anew(office: Office, name: str, made: datetime, blocks: tuple[Any, ...]) -> Plan:
    plan = latest_plan(office.workspace)
    assert plan is not None
    more = {"id": name, "made_at": made, "first_day": made.date(), "blocks": blocks}
    issue_plan(office.workspace, plan.model_copy(update=more))
    found = latest_plan(office.workspace)
    assert found is not None
    return found


def test_a_day_behind_is_what_stood_in_the_newest_plan_of_each_hour(office: Office) -> None:
    first = latest_plan(office.workspace)
    assert first is not None
    monday = [b for b in first.blocks if b.start.date() == MONDAY]
    early = [b for b in monday if b.start < at(10, "10:00")]
    late = [b for b in monday if b.start >= at(10, "10:00")]
    assert early and late
    moved = tuple(b.model_copy(update={"start": b.start + timedelta(minutes=15)}) for b in late)
    anew(office, "noon", at(10, "10:00"), moved)
    newest = anew(
        office, "tuesday", at(11, "05:00"), tuple(b for b in first.blocks if b.start >= at(11, "05:00"))
    )
    told = plan_of(office.workspace, MONDAY, newest)
    assert told is not None
    assert set(told.blocks) == {*early, *moved}
    assert plan_of(office.workspace, date(2027, 5, 11), newest) is newest


def test_the_day_shown_is_today_where_the_plan_reaches_it(office: Office) -> None:
    plan = latest_plan(office.workspace)
    assert plan is not None
    assert day_shown(office.workspace, None, date(2027, 5, 12)) == (plan, date(2027, 5, 12))
    assert day_shown(office.workspace, None, date(2030, 1, 1)) == (plan, MONDAY)
    with pytest.raises(FitgroundError, match="no plan had been issued by 2027-05-01"):
        day_shown(office.workspace, date(2027, 5, 1), date(2027, 5, 12))


def test_a_phone_shows_yesterday_with_its_buttons_and_what_was_reported(
    visitor: TestClient, office: Office, clock: Clock
) -> None:
    first = latest_plan(office.workspace)
    assert first is not None
    block = next(b for b in first.of_operator("oskari") if b.start.date() == MONDAY)
    anew(office, "tuesday", at(11, "05:00"), tuple(b for b in first.blocks if b.start >= at(11, "05:00")))
    clock.now = at(11, "06:00")
    assert send(visitor, office, "oskari", "finished", block=block.id)["taken"]
    text = visitor.get(f"{link(office, 'oskari')}?day=2027-05-10").text
    assert f'data-what="finished" data-block="{block.id}"' in text
    assert "Reported finished, " in text
    farm = office.workspace.farm
    for hazard in farm.field_by_id[block.field].hazards:
        assert f"! {hazard}" in text
    assert "Report tonight" in text


def test_the_phone_says_what_paper_says(visitor: TestClient, office: Office) -> None:
    """Poor odds, hazards, the tender's role, nitrogen: what one form of the list says, every form says."""
    view = office.view()
    assert view.plan is not None
    seen = 0
    for person in view.situation.farm.operators:
        one = day_list(view.plan, view.situation, view.outlook, person.id, MONDAY)
        page = unescape(visitor.get(f"{link(office, person.id)}?day=2027-05-10").text)
        words = Words(person.language)
        for stop in one.stops:
            said = [
                role_name(stop, words),
                *(remark.text for remark in remarks(stop, words)),
                *map(load_rest, stop.loads),
            ]
            assert all(text in page for text in (*said, *one.notes))
            seen += len(said)
    assert seen


def test_a_list_made_anew_says_what_changed_since_the_first_one_of_the_day(
    visitor: TestClient, office: Office, clock: Clock
) -> None:
    first = latest_plan(office.workspace)
    assert first is not None
    mine = [b for b in first.of_operator("oskari") if b.start.date() == MONDAY and b.start >= at(10, "06:00")]
    works = [(b.field, b.pass_id) for b in mine]
    block = next(b for b in mine if works.count((b.field, b.pass_id)) == 1)
    assert list_before(office.workspace, first) is None
    anew(office, "six", at(10, "06:00"), first.blocks)
    newest = anew(office, "seven", at(10, "06:30"), tuple(b for b in first.blocks if b.id != block.id))
    before = list_before(office.workspace, newest)
    assert before is not None and before.id == first.id
    clock.now = at(10, "06:45")
    label = office.workspace.farm.field_by_id[block.field].label
    page = unescape(visitor.get(link(office, "oskari")).text)
    said = next(
        line
        for one in lists_of(office.workspace, None, clock.now)
        if one.operator == "oskari"
        for line in one.changed
    )
    assert "Not on your list any more" in said and label in said and said in page
