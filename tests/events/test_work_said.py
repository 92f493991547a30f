"""Work as people say it: part of a field, stopped at an area, to be planted once more; common speech, no source."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest

from scheduler.events.report import Report
from scheduler.events.situation import PassState, Situation
from scheduler.events.words import report_from_words
from shared.errors import ReportRefused
from shared.units import parse
from tests.crew.builders import morning

SITUATION = morning()[1]
FARM = SITUATION.farm
TUESDAY = datetime(2027, 5, 11, 12, tzinfo=SITUATION.now.tzinfo)


def with_done(area: str) -> Situation:
    """Return the situation with some of Kiln Field planted."""
    half = PassState(done_ha=parse(area, "area_ha"))
    return replace(SITUATION, passes={**SITUATION.passes, ("kiln", "plant"): half})


def told(text: str, situation: Situation = SITUATION) -> Report:
    return report_from_words(text.split(), {}, FARM, TUESDAY, situation)


@pytest.mark.parametrize(
    ("said", "situation", "acres"),
    [
        ("planted 60 of 118 ac in kiln", SITUATION, 60),
        ("ilse planted 60 of 120 acres in kiln", SITUATION, 60),
        ("kiln planted 20 of 58ac", with_done("60 ac"), 20),
        ("stopped planting kiln at 60 ac", SITUATION, 60),
        ("planted kiln at 7 40 ac", SITUATION, 40),
        ("planted 40 ac in kiln with seed corn", SITUATION, 40),
    ],
)
def test_a_part_of_a_field(said: str, situation: Situation, acres: float) -> None:
    report = told(said, situation)
    assert report.kind.value == "pass_progressed" and (report.body["field"], report.body["pass_id"]) == (
        "kiln",
        "plant",
    )
    assert report.body["area_ha"] == pytest.approx(parse(f"{acres} ac", "area_ha"))


@pytest.mark.parametrize(
    ("said", "situation", "why"),
    [
        ("planted 60 of 148 ac in kiln", SITUATION, "60 of 148 ac does not fit what is known of Kiln Field"),
        (
            "planted 130 of 118 ac in kiln",
            SITUATION,
            "130 of 118 ac does not fit what is known of Kiln Field",
        ),
        (
            "planted 80 of 118 ac in kiln",
            with_done("60 ac"),
            "whether 80 ac is all that is done there or what was done now",
        ),
        (
            "stopped planting kiln at 80 ac",
            with_done("60 ac"),
            "whether 80 ac is all that is done there or what was done now",
        ),
        ("replant heron", SITUATION, "Heron has not been planted yet"),
        (
            "planted kiln with hybrid 99",
            SITUATION,
            "Plant corn in Kiln Field takes Seed corn, not hybrid 99; if it was, say first: kiln gets hybrid 99",
        ),
        ("replant", SITUATION, "no field is named"),
    ],
)
def test_what_does_not_fit_is_asked_for(said: str, situation: Situation, why: str) -> None:
    with pytest.raises(ReportRefused, match=why):
        told(said, situation)


def test_a_field_is_planted_once_more() -> None:
    report = told("upper mill needs replanting")
    assert report.kind.value == "pass_added"
    assert report.body | {"field": "upper-mill", "pass_id": "replant", "like": "plant"} == report.body


@pytest.mark.parametrize(
    ("said", "begin", "end", "acres"),
    [
        ("ilse planted 40 ac in kiln from 7 to 11 am", "Tue 07:00", "Tue 11:00", 40),
        ("planted 40 ac in kiln 7:30 am to 11", "Tue 07:30", "Tue 11:00", 40),
        ("planted 40 ac in kiln yesterday from 3 to 6", "Mon 15:00", "Mon 18:00", 40),
        ("planted kiln from 6 until 11:30", "Tue 06:00", "Tue 11:30", 118),
    ],
)
def test_from_when_to_when(said: str, begin: str, end: str, acres: float) -> None:
    report = told(said)
    times = [
        datetime.fromisoformat(report.body[key]).strftime("%a %H:%M") for key in ("started_at", "ended_at")
    ]
    assert times == [begin, end] and report.happened_at == datetime.fromisoformat(report.body["ended_at"])
    assert report.body["area_ha"] == pytest.approx(parse(f"{acres} ac", "area_ha"))


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ("planted 40 ac in kiln from 9 am to 8 am", "work from 09:00 to 08:00 is none"),
        ("planted 40 ac in kiln from 11 to friday", "the hour is not said"),
    ],
)
def test_a_stretch_of_time_that_is_none(said: str, why: str) -> None:
    with pytest.raises(ReportRefused, match=why):
        told(said)


def test_the_same_by_an_option() -> None:
    words = ["done", "kiln", "plant", "40 ac"]
    report = report_from_words(words, {"since": "07:00", "at": "11:00"}, FARM, TUESDAY, SITUATION)
    assert report.body["started_at"].startswith("2027-05-11T07:00") and report.body["ended_at"].startswith(
        "2027-05-11T11:00"
    )
