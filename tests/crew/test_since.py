"""What a person reads of the difference to the list in hand: each job once, nothing that is over, nothing that stayed."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from html import unescape

import pytest

from scheduler.crew.day_list import DayList, day_list
from scheduler.crew.paper import day_list_page
from scheduler.crew.sheets import sheets
from scheduler.crew.show import day_list_text
from scheduler.events.situation import PassState, Situation
from scheduler.planning.plan import Plan, PlanBlock
from tests.crew.builders import morning
from tests.service.farms import at

PLAN, SITUATION, OUTLOOK = morning()
BLOCK = next(
    b
    for b in PLAN.blocks
    if b.rig and b.start >= at(10, "09:00") and b.start.date() == at(10, "05:00").date()
)
ME, DAY = BLOCK.operator, BLOCK.start.date()
NAME = SITUATION.farm.field_by_id[BLOCK.field].label


def anew(*blocks: PlanBlock, clock: str = "06:00") -> Plan:
    return PLAN.model_copy(update={"id": "anew", "made_at": at(10, clock), "blocks": blocks})


def held(*blocks: PlanBlock) -> Plan:
    return PLAN.model_copy(update={"blocks": blocks})


def said(before: Plan, plan: Plan, situation: Situation = SITUATION, language: str = "en") -> DayList:
    people = tuple(p.model_copy(update={"language": language}) for p in situation.farm.operators)
    farm = situation.farm.model_copy(update={"operators": people})
    return day_list(plan, replace(situation, farm=farm), OUTLOOK, ME, DAY, before)


def shifted(hours: float) -> PlanBlock:
    by = timedelta(hours=hours)
    return BLOCK.model_copy(update={"start": BLOCK.start + by, "end": BLOCK.end + by})


def test_the_same_list_says_nothing() -> None:
    assert said(held(BLOCK), anew(BLOCK)).changed == ()
    assert said(held(BLOCK), anew(BLOCK)).changed_title == ""
    assert day_list(PLAN, SITUATION, OUTLOOK, ME, DAY).changed == ()


def test_new_moved_and_gone_jobs_are_each_said_once() -> None:
    (line,) = said(held(), anew(BLOCK)).changed
    assert line == f"New: {line[5:].split(' in ')[0]} in {NAME}, {BLOCK.start:%H:%M}-{BLOCK.end:%H:%M}."
    later = shifted(1)
    (line,) = said(held(BLOCK), anew(later)).changed
    assert line.endswith(
        f": now {later.start:%H:%M}-{later.end:%H:%M} (was {BLOCK.start:%H:%M}-{BLOCK.end:%H:%M})."
    )
    one = said(held(BLOCK), anew())
    assert one.changed[0].startswith("Not on your list any more: ") and NAME in one.changed[0]
    assert one.changed_title == "Changed since the list of 05:00"
    assert "Not on your list any more" in day_list_text(one), "a day without work still says what fell away"


def test_another_rig_is_said() -> None:
    other = next(rig for b in PLAN.blocks if (rig := b.rig) and rig != BLOCK.rig)
    (line,) = said(held(BLOCK), anew(BLOCK.model_copy(update={"rig": other}))).changed
    assert ": now with " in line


def test_what_is_over_or_finished_is_not_missed() -> None:
    evening = f"{BLOCK.end + timedelta(minutes=15):%H:%M}"
    assert said(held(BLOCK), anew(clock=evening)).changed == ()
    finished = replace(
        SITUATION, passes={**SITUATION.passes, (BLOCK.field, BLOCK.pass_id): PassState(finished=True)}
    )
    assert said(held(BLOCK), anew(), finished).changed == ()


def test_of_work_under_way_only_its_end_counts() -> None:
    middle = BLOCK.start + (BLOCK.end - BLOCK.start) / 2
    going_on = BLOCK.model_copy(update={"start": middle})
    assert said(held(BLOCK), anew(going_on, clock=f"{middle:%H:%M}")).changed == ()


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_form_says_it(language: str) -> None:
    one = said(held(BLOCK), anew(shifted(2)), language=language)
    (sheet,) = sheets([one], {})
    assert (sheet.news_title, sheet.news) == (one.changed_title, one.changed)
    assert ("ahora" in one.changed[0]) == (language == "es")
    for form in (day_list_text(one), unescape(day_list_page([one]))):
        flat = " ".join(form.split())
        assert one.changed_title in flat and one.changed[0] in flat
