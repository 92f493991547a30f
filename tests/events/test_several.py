"""Several pieces of news in one sentence: each is understood, or all are refused; what can be read in two ways is asked for.

The sentences are made up; how they are meant is common speech, no source.
"""

from __future__ import annotations

from datetime import datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.events.several import reports_from_words
from scheduler.events.spoken import spoken
from shared.errors import ReportRefused
from tests.crew.builders import morning
from tests.service.farms import at

TUESDAY = at(11, "12:00")
FARM = morning()[1].farm


def told(text: str, **options: str) -> list[str]:
    """Return what each piece says: kind, what it is of, and what else matters."""
    out = []
    for _, one in reports_from_words(text.split(), options, FARM, TUESDAY):
        of = next((one.body[key] for key in ("field", "machine", "operator") if one.body.get(key)), "farm")
        size = one.body.get("area_ha") or one.body.get("rain_mm")
        until = one.body.get("until")
        more = [f"{size:.1f}"] if size else []
        more += [datetime.fromisoformat(until).strftime("until %a %H:%M")] if until else []
        more += [f"{one.happened_at:%a}"] if f"{one.happened_at:%a}" != "Tue" else []
        out.append(" ".join([one.kind.value, of, *more]))
    return out


@pytest.mark.parametrize(
    ("said", "pieces"),
    [
        ("terminated far west and heron yesterday", ["pass_finished far-west Mon", "pass_finished heron Mon"]),
        ("terminated heron, far west and the ridge yesterday", ["pass_finished heron Mon", "pass_finished far-west Mon", "pass_finished ridge Mon"]),
        ("terminated heron 40 ac and far west 30 ac", ["pass_progressed heron 16.2", "pass_progressed far-west 12.1"]),
        ("done heron terminate 10 ac; far west terminate 12 ac", ["pass_progressed heron 4.0", "pass_progressed far-west 4.9"]),
        ("rain 0.8 in and planter broke", ["rain_measured farm 20.3", "machine_down planter"]),
        ("rain 0.8 in. planter broke", ["rain_measured farm 20.3", "machine_down planter"]),
        ("rained 0.5 in at heron and far west", ["rain_measured heron 12.7", "rain_measured far-west 12.7"]),
        ("rain heron 0.5 in, far west 1 1/2 in", ["rain_measured heron 12.7", "rain_measured far-west 38.1"]),
        ("planter broke, oskari off tomorrow", ["machine_down planter", "operator_absent oskari until Thu 00:00"]),
        ("planter and sprayer broke until fri noon", ["machine_down planter until Fri 12:00", "machine_down sprayer until Fri 12:00"]),
        ("oskari and ilse off fri", ["operator_absent oskari until Sat 00:00", "operator_absent ilse until Sat 00:00"]),
        ("heron and far west too wet", ["ground_checked heron", "ground_checked far-west"]),
        ("heron too wet and far west too", ["ground_checked heron", "ground_checked far-west"]),
        ("terminated heron, far west too wet", ["pass_finished heron", "ground_checked far-west"]),
        (
            "we got an inch and a half overnight, terminated heron and far west, terminated long acre and stone row",
            ["rain_measured farm 38.1", *(f"pass_finished {name}" for name in ("heron", "far-west", "long-acre", "stone-row"))],
        ),
        ("terminated heron and heron", ["pass_finished heron"]),
        ("oskari off thu and fri", ["operator_absent oskari until Fri 00:00", "operator_absent oskari until Sat 00:00"]),
        ("oskari off thu and fri, planter broke", ["operator_absent oskari until Fri 00:00", "operator_absent oskari until Sat 00:00", "machine_down planter"]),
        ("rain 0.3 in monday and 0.2 in today", ["rain_measured farm 7.6 Mon", "rain_measured farm 5.1"]),
        ("stopped terminating heron, 40 ac done", ["pass_paused heron", "pass_progressed heron 16.2"]),
        ("heron V3 and 8 in tall", ["stage_scouted heron", "stage_scouted heron"]),
        ("terminated heron, 40 ac, tove, and kiln too wet", ["pass_progressed heron 16.2", "ground_checked kiln"]),
        ("oskari off because of a wedding, planter broke", ["operator_absent oskari", "machine_down planter"]),
        ("planter broke, back fri, oskari sick", ["machine_down planter until Fri 00:00", "operator_absent oskari"]),
        ("heron,far-west terminated", ["pass_finished heron", "pass_finished far-west"]),
    ],
)  # fmt: skip
def test_what_is_said_at_once(said: str, pieces: list[str]) -> None:
    assert told(said) == pieces


@pytest.mark.parametrize(
    ("said", "why"),
    [
        (
            "terminated 40 ac in heron and far west",
            "an area is said once of heron and far west; say it of each.",
        ),
        ("half terminated heron and far west", "an area is said once of heron and far west"),
        (
            "terminated heron 40 ac and far west 30 ac yesterday",
            "it is not said when 'terminated heron 40 ac' was",
        ),
        ("terminated heron, far west and kiln too wet", "that can be"),
        ("terminated heron and far west and the moon", "'moon' is no kind of news"),
        ("terminated heron and banded far west", "no pass of Far West is named"),
        ("blah and blub", "'blah' is no kind of news"),
        ("heron and", "'and' is not known"),
        ("and, and", "'and' is not known"),
        ("correct r-1 terminated heron and far west", "not clear"),
    ],
)
def test_what_is_not_clear_is_said_and_nothing_is_taken(said: str, why: str) -> None:
    with pytest.raises(ReportRefused, match=why):
        told(said)


def test_an_id_of_the_sender_becomes_one_for_each_piece_and_options_hold_for_all() -> None:
    found = reports_from_words(
        ["planter", "and", "sprayer", "broke"], {"id": "p7", "until": "fri"}, FARM, TUESDAY
    )
    assert [one.id for _, one in found] == ["p7-1", "p7-2"]
    assert len({one.body["until"] for _, one in found}) == 1


WORDS = ["heron", "far", "west", "and", ",", "planter", "oskari", "broke", "off", "terminated", "yesterday", "40 ac", "rain", "0.5 in",
         "too wet", "fri", "until", "the", "back"]  # fmt: skip


@settings(max_examples=300, deadline=None)
@given(st.lists(st.sampled_from(WORDS), min_size=1, max_size=9))
def test_any_words_are_reports_or_one_sentence_and_no_name_is_lost(words: list[str]) -> None:
    text = " ".join(words)
    try:
        found = reports_from_words(text.split(), {}, FARM, TUESDAY)
    except ReportRefused as error:
        assert str(error).strip() and "\n" not in str(error)
        return
    said = " ".join(str(one.body) for _, one in found)
    for name in ("heron", "planter", "oskari"):
        assert (name in text) == (f"'{name}'" in said), (text, said)


@pytest.mark.parametrize(
    ("said", "amount"),
    [
        ("an inch and a half", "1.5 in"), ("1 1/2 in", "1.5 in"), ("3/4 inch", "0.75 in"), ("two inches", "2 in"),
        ("half an inch", "0.5 in"), ("a quarter of an inch", "0.25 in"), ("two tenths of an inch", "0.2 in"),
        ("one and a half inches", "1.5 in"), ("forty acres", "40 ac"), ("inch and two", ""), ("in", ""), ("an in", ""),
        ("5/4 in", ""), ("half the", ""), ("thirty five acres", ""),
    ],
)  # fmt: skip
def test_quantities_as_people_say_them(said: str, amount: str) -> None:
    assert spoken(said.split()) == amount
