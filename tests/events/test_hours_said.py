"""Hours of one day as people say them, of one person or of all; which pass is meant where none is named.

The sentences are made up; how they are meant is common speech, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.events.planned import PlannedWork
from scheduler.events.several import reports_from_words
from scheduler.events.situation import PassState
from shared.errors import ReportRefused
from tests.crew.builders import morning
from tests.service.farms import at

TUESDAY = at(11, "12:00")
SITUATION = morning()[1]
FARM = SITUATION.farm


def hours(text: str) -> list[str]:
    """Return who works from when to when on which day."""
    out = []
    for _, one in reports_from_words(text.split(), {}, FARM, TUESDAY):
        first = one.body["values"]["shift"][0]
        out.append(f"{one.body['name']} {first['start']}-{first['end']} {' '.join(first['days'])}")
    return out


@pytest.mark.parametrize(
    ("said", "wanted"),
    [
        ("ilse can work till 9 tonight", ["ilse 06:00-21:00 2027-05-11"]),
        ("oskari works until 9 pm", ["oskari 06:30-21:00 2027-05-11"]),
        ("oskari works sunday", ["oskari 06:30-19:30 2027-05-16"]),
        ("oskari works sunday 7 to 3", ["oskari 07:00-15:00 2027-05-16"]),
        ("tove works 6:00-20:00 tomorrow", ["tove 06:00-20:00 2027-05-12"]),
        ("oskari late until 9 tomorrow", ["oskari 09:00-19:30 2027-05-12"]),
        ("tove comes in late tomorrow, 9 am", ["tove 09:00-18:00 2027-05-12"]),
        ("we start at 6 tomorrow", [
            "ilse 06:00-21:00 2027-05-12", "benat 06:00-21:00 2027-05-12", "oskari 06:00-19:30 2027-05-12", "tove 06:00-18:00 2027-05-12",
        ]),
        ("everybody works sunday until 4 pm", [
            "ilse 06:00-16:00 2027-05-16", "benat 06:00-16:00 2027-05-16", "oskari 06:30-16:00 2027-05-16", "tove 07:00-16:00 2027-05-16",
        ]),
    ],
)  # fmt: skip
def test_hours_of_a_day_are_those_that_were_said(said: str, wanted: list[str]) -> None:
    assert hours(said) == wanted


def test_what_is_said_of_all_is_said_of_each_beside_other_news() -> None:
    said = reports_from_words(["nobody", "works", "sunday,", "rained", "0.3", "in"], {}, FARM, TUESDAY)
    kinds = [one.kind.value for _, one in said]
    assert kinds == ["operator_absent"] * len(FARM.operators) + ["rain_measured"]
    assert {one.body.get("operator") for _, one in said} == {None, *(one.id for one in FARM.operators)}
    with pytest.raises(ReportRefused, match="'xyz' is not known"):
        reports_from_words(["everybody", "works", "xyz"], {}, FARM, TUESDAY)


def test_a_reason_may_stand_behind_a_comma() -> None:
    ((_, one),) = reports_from_words(["stopped", "terminating", "heron,", "rain"], {}, FARM, TUESDAY)
    assert (one.kind.value, one.body["why"]) == ("pass_paused", "rain")


PLANNED = (
    PlannedWork("stone-row", "terminate", ("oskari",), at(11, "07:00")),
    PlannedWork("stone-row", "band", ("ilse", "tove"), at(11, "11:00")),
    PlannedWork("stone-row", "plant", ("benat",), at(11, "18:00")),
    PlannedWork("heron", "plant", ("benat",), at(10, "09:00")),
)


def work(text: str, planned: tuple[PlannedWork, ...] = PLANNED) -> str:
    ((_, one),) = reports_from_words(text.split(), {}, FARM, TUESDAY, SITUATION, lambda: planned)
    return f"{one.kind.value} {one.body['pass_id']}"


@pytest.mark.parametrize(
    ("said", "wanted"),
    [
        ("oskari is done with stone row", "pass_finished terminate"),
        ("ilse did 40 ac of stone row", "pass_progressed band"),
        ("tove started stone row", "pass_started band"),
        # By the plan of that day the planting, though the rye is not reported terminated.
        ("heron done yesterday", "pass_finished plant"),
        # Not in any plan of today: the pass whose turn it is.
        ("done heron", "pass_finished terminate"),
        ("far west done", "pass_finished terminate"),
        # Who was not to be there did what somebody was to do there.
        ("planted stone row", "pass_finished plant"),
    ],
)
def test_the_pass_that_is_not_named_is_the_one_of_the_plan_or_whose_turn_it_is(
    said: str, wanted: str
) -> None:
    assert work(said) == wanted


def test_where_two_passes_may_be_meant_it_is_asked_which() -> None:
    with pytest.raises(ReportRefused, match="no pass of Stone Row is named"):
        work(["oskari was at long acre", "stone row done"][1], PLANNED[:2] + PLANNED[1:2])
    ended = replace(
        SITUATION, passes={**SITUATION.passes, ("stone-row", "terminate"): PassState(finished=True)}
    )
    ((_, one),) = reports_from_words(["stone", "row", "done"], {}, FARM, TUESDAY, ended, lambda: PLANNED[:2])
    assert one.body["pass_id"] == "band", "what is over is not meant"


def test_work_that_is_told_once_more_is_not_taken_for_the_next_pass() -> None:
    over = PassState(finished=True, finished_at=at(11, "10:40"))
    ended = replace(SITUATION, passes={**SITUATION.passes, ("stone-row", "terminate"): over})
    for planned in ((), PLANNED[:1]):
        with pytest.raises(ReportRefused, match="no pass of Stone Row is named"):
            reports_from_words(
                ["stone", "row", "done"], {}, FARM, TUESDAY, ended, lambda known=planned: known
            )
    ((_, one),) = reports_from_words(["stone", "row", "done"], {}, FARM, at(12, "12:00"), ended)
    assert one.body["pass_id"] == "band", "a day later it is the turn of the next"
