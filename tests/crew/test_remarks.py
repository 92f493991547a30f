"""What stands below a job is the same on screen, paper and page; nothing that can hurt is left out of any."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from html import unescape

import pytest

from scheduler.crew.day_list import day_list
from scheduler.crew.language import Words
from scheduler.crew.paper import day_list_page
from scheduler.crew.remarks import HAZARD, NOTE, ODDS, TOLD, WAIT, remarks
from scheduler.crew.second import Second
from scheduler.crew.sheets import sheets
from scheduler.crew.show import day_list_text
from scheduler.crew.stop import DRIVE, SUPPORT, Stop
from scheduler.crew.told import told_line
from scheduler.events.situation import PassState, Running, Situation
from scheduler.planning.plan import PlanBlock
from tests.crew.builders import morning
from tests.service.farms import at

STOP = Stop(
    block="north.plant.1", role=DRIVE, start=at(10, "07:00"), end=at(10, "12:00"), field="north", field_name="North", pass_id="plant",
    job="Plant corn", rig="Planter", area_ha=10.0, area_text="25 ac", told="Reported so far: 5", guidance_line="N-1", hazards=("creek",),
    field_note="gate from the east", waits_for=("Start only when Tove has finished",), waited_for_by=("Ilse waits",), chance=0.5,
    second=Second(text="Else go to South", notes=("South: Start only when Ilse has finished",), hazards=("South: power line",)),
)  # fmt: skip


def flat(text: str) -> str:
    return " ".join(unescape(text).split())


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_remark_stands_on_every_form(language: str) -> None:
    plan, situation, outlook = morning()
    person = next(p for p in situation.farm.operators if plan.of_operator(p.id))
    day = plan.of_operator(person.id)[0].start.date()
    one = day_list(plan, situation, outlook, person.id, day)
    one = one.model_copy(update={"stops": (STOP,), "language": language, "notes": ("The window closes.",)})
    said = [remark.text for remark in remarks(STOP, Words(language))]
    (sheet,) = sheets([one], {})
    paper = [*(line for job in sheet.jobs for line in job.lines), *sheet.watch]
    forms = (day_list_text(one), day_list_page([one]), "\n".join(paper))
    for form in forms:
        for text in (*said, "The window closes."):
            assert text in flat(form.replace("\n          ", " ").replace("\n        ", " ")), text
    assert "! creek" in paper and "! creek" in forms[0]


def test_what_was_told_comes_first_and_what_can_hurt_before_the_rest() -> None:
    kinds = [one.kind for one in remarks(STOP, Words("en"))]
    assert kinds == [TOLD, NOTE, HAZARD, ODDS, ODDS, HAZARD, WAIT, NOTE, WAIT, WAIT]
    sure = STOP.model_copy(update={"chance": 0.75, "told": "", "role": SUPPORT})
    assert ODDS not in [one.kind for one in remarks(sure, Words("en"))]


@pytest.mark.parametrize(
    ("state", "said"),
    [
        (PassState(), ""),
        (PassState(done_ha=40.4685642, running=Running(at(10, "07:10"))), "Reported so far: 100.0 of 154.0 ac in this field."),
        (PassState(running=Running(at(10, "07:10"))), "Reported begun, Mon 10 May 07:10."),
        (PassState(finished=True, done_ha=62.3, finished_at=at(10, "16:20")), "Reported finished, Mon 10 May 16:20."),
    ],
)  # fmt: skip
def test_what_was_reported_of_a_field(state: PassState, said: str) -> None:
    _, situation, _ = morning()
    told = replace(situation, passes={**situation.passes, ("stone-row", "terminate"): state})
    assert told_line(told, "stone-row", "terminate", Words("en")) == said


def pair() -> tuple[PlanBlock, PlanBlock]:
    """Return a block of somebody with a machine, and one of somebody else that waits for it."""
    plan = morning()[0]
    by_id = {block.id: block for block in plan.blocks}
    found = ((by_id[name], b) for b in plan.blocks for name in b.waits_for if name in by_id)
    return next(
        (a, b) for a, b in found if a.rig and a.operator not in (b.operator, b.support) and a.support is None
    )


def in_english(situation: Situation) -> Situation:
    people = tuple(p.model_copy(update={"language": "en"}) for p in situation.farm.operators)
    return replace(situation, farm=situation.farm.model_copy(update={"operators": people}))


def test_a_job_that_is_waited_for_is_said_to_be_done_when_it_was_reported() -> None:
    plan, situation, outlook = morning()
    situation = in_english(situation)
    earlier, block = pair()
    finished = PassState(finished=True, finished_at=at(10, "16:20"))
    told = replace(situation, passes={**situation.passes, (earlier.field, earlier.pass_id): finished})

    def waits(known: Situation) -> str:
        one = day_list(plan, known, outlook, block.operator, block.start.date())
        return " ".join(next(stop for stop in one.stops if stop.block == block.id).waits_for)

    assert "Reported finished, Mon 10 May 16:20." in waits(told)
    assert "Reported finished" not in waits(situation)


@pytest.mark.parametrize(("days", "told"), [(0, True), (1, True), (2, False), (8, False)])
def test_a_driver_hears_of_who_waits_today_or_tomorrow_and_no_later(days: int, told: bool) -> None:
    plan, situation, outlook = morning()
    earlier, later = pair()
    start = earlier.end + timedelta(days=days)
    moved = later.model_copy(update={"start": start, "end": start + timedelta(hours=2)})
    just_two = plan.model_copy(update={"blocks": (earlier, moved)})
    one = day_list(just_two, in_english(situation), outlook, earlier.operator, earlier.start.date())
    (stop,) = one.stops
    assert bool(stop.waited_for_by) == told
