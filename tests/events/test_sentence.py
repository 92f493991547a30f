"""News as people say it: every word understood and used, or refused with what is not clear; never guessed.

The sentences are made up; how they are meant is common speech, no source.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.events.report import Report, read_time
from scheduler.events.situation import PassState, Running
from scheduler.events.speech import PHRASES
from scheduler.events.verbs import VERBS
from scheduler.events.words import report_from_words
from shared.errors import ReportRefused
from shared.units import parse
from tests.crew.builders import morning
from tests.service.farms import at

TUESDAY = at(11, "12:00")
FARM = morning()[1].farm


def told(text: str, **options: str) -> Report:
    return report_from_words(text.split(), options, FARM, TUESDAY)


def local(text: str) -> str:
    return datetime.fromisoformat(text).astimezone(TUESDAY.tzinfo).strftime("%a %H:%M")


@pytest.mark.parametrize(
    ("said", "kind", "body"),
    [
        ("rained 0.8in", "rain_measured", {"rain_mm": 20.32}),
        ("stone row gets hybrid 99", "farm_changed", {"part": "field", "name": "stone-row", "values": {"seed": "hybrid-99"}}),
        ("plant hybrid 99 in stone row instead", "farm_changed", {"name": "stone-row", "values": {"seed": "hybrid-99"}}),
        ("switch alder bottom to seed corn", "farm_changed", {"name": "alder-bottom", "values": {"seed": "corn-seed"}}),
        ("got 0.8 in of rain at north bench this morning", "rain_measured", {"field": "north-bench", "rain_mm": 20.32}),
        ("rain half an inch on Kiln Field", "rain_measured", {"field": "kiln", "rain_mm": 12.7}),
        ("planter broke", "machine_down", {"machine": "planter"}),
        ("the big tractor is out of order", "machine_down", {"machine": "big"}),
        ("down planter until fri", "machine_down", {"machine": "planter", "until": "Fri 00:00"}),
        ("planter broke down until friday noon", "machine_down", {"machine": "planter", "until": "Fri 12:00"}),
        ("planter down from wed until fri 2 pm", "machine_down", {"start": "Wed 00:00", "until": "Fri 14:00"}),
        ("sprayer repaired", "machine_back", {"machine": "sprayer"}),
        ("planter back tomorrow 7:30", "machine_down", {"machine": "planter", "until": "Wed 07:30"}),
        ("oskari sick", "operator_absent", {"operator": "oskari"}),
        ("away oskari fri", "operator_absent", {"start": "Fri 00:00", "until": "Sat 00:00"}),
        ("Oskari off today", "operator_absent", {"operator": "oskari", "until": "Wed 00:00"}),
        ("oskari is off tomorrow.", "operator_absent", {"start": "Wed 00:00", "until": "Thu 00:00"}),
        ("oskari back", "operator_back", {"operator": "oskari"}),
        ("terminated far west", "pass_finished", {"field": "far-west", "pass_id": "terminate"}),
        ("done stone-row terminate all", "pass_finished", {"field": "stone-row", "pass_id": "terminate"}),
        ("planted corn in long acre, 40 ac, ilse", "pass_progressed", {"pass_id": "plant", "area_ha": parse("40 ac", "area_ha"), "operator": "ilse"}),
        ("done plant long-acre 40ac", "pass_progressed", {"field": "long-acre", "area_ha": parse("40 ac", "area_ha")}),
        ("terminated the rest of long acre", "pass_finished", {"field": "long-acre"}),
        ("terminated half of long acre", "pass_progressed", {"pass_id": "terminate", "area_ha": FARM.field_by_id["long-acre"].area_ha / 2}),
        ("tove started terminating heron at 7 am", "pass_started", {"field": "heron", "pass_id": "terminate", "operator": "tove"}),
        ("terminated rye in heron", "pass_finished", {"field": "heron", "pass_id": "terminate"}),
        ("stopped terminating heron", "pass_paused", {"field": "heron", "pass_id": "terminate"}),
        ("skip tissue sample in long acre", "pass_cancelled", {"field": "long-acre", "pass_id": "tissue"}),
        ("stone row is too wet to plant", "ground_checked", {"field": "stone-row", "verdict": "unfit", "pass_id": "plant"}),
        ("kiln field not fit", "ground_checked", {"field": "kiln", "verdict": "unfit"}),
        ("v3 long acre", "stage_scouted", {"field": "long-acre", "stage": "V3"}),
        ("long acre corn 8 in tall", "stage_scouted", {"field": "long-acre", "height_m": 0.2032}),
        ("delivery seed-corn 50 bags", "supply_delivered", {"product": "corn-seed"}),
        ("200 bags of seed soybeans came", "supply_delivered", {"product": "bean-seed"}),
        ("n32 delivery n-2 late until fri", "supply_delayed", {"product": "n32", "delivery": "n-2", "new_date": "2027-05-14"}),
        ("seed soybeans late until fri", "supply_delayed", {"delivery": "b-2", "new_date": "2027-05-14"}),
        ("rained 5 mm on ridge", "rain_measured", {"field": "ridge", "rain_mm": 5.0}),
        ("tissue of ridge: 3.2 %", "tissue_sampled", {"field": "ridge", "value_pct": 3.2}),
        ("half an inch overnight", "rain_measured", {"rain_mm": 12.7, "since": "Mon 18:00"}),
        ("three tenths last night", "rain_measured", {"rain_mm": 7.62}),
        ("whole farm got .8", "rain_measured", {"field": None, "rain_mm": 20.32}),
        ("0.3 at kiln", "rain_measured", {"field": "kiln", "rain_mm": 7.62}),
        ("an inch and a half", "rain_measured", {"field": None, "rain_mm": 38.1}),
        ("sprayer nozzle plugged up, back in 2 hours", "machine_down", {"machine": "sprayer", "until": "Tue 14:00"}),
        ("oskari at the dentist until 10", "operator_absent", {"operator": "oskari", "until": "Tue 22:00"}),
        ("beans are up at quarry", "stage_scouted", {"field": "quarry", "stage": "VE"}),
        ("n-2 late until sat", "supply_delayed", {"product": "n32", "delivery": "n-2", "new_date": "2027-05-15"}),
        ("out of burndown", "supply_counted", {"product": "burndown", "amount": 0.0}),
        ("rain 0.8", "rain_measured", {"rain_mm": 20.32}),
        ('1.2" overnight', "rain_measured", {"rain_mm": 30.48, "since": "Mon 18:00"}),
        ("flat tire on the sprayer", "machine_down", {"machine": "sprayer"}),
        ("planter is ready to go", "machine_back", {"machine": "planter"}),
        ("kiln is good to go", "ground_checked", {"field": "kiln", "verdict": "fit"}),
        ("alder bottom too wet to run", "ground_checked", {"field": "alder-bottom", "verdict": "unfit"}),
        ("spade says alder bottom is still muddy", "ground_checked", {"field": "alder-bottom", "verdict": "unfit"}),
        ("burned down alder bottom", "pass_finished", {"field": "alder-bottom", "pass_id": "terminate"}),
        ("tissue of ridge 3.2", "tissue_sampled", {"value_pct": 3.2}),
        ("truck dropped off 5000 gal n32", "supply_delivered", {"product": "n32"}),
        ("n32 is here", "supply_delivered", {"product": "n32", "delivery": "n-2", "amount": parse("16000 gal", "volume_l")}),
        ("n32 comes thu instead of fri", "supply_delayed", {"delivery": "n-2", "new_date": "2027-05-13"}),
        ("counted 60 bags of seed corn", "supply_counted", {"product": "corn-seed"}),
        ("20 bags of seed corn left", "supply_counted", {"product": "corn-seed"}),
        ("ran out of seed corn", "supply_counted", {"product": "corn-seed", "amount": 0.0}),
        ("no rain last night", "rain_measured", {"field": None, "rain_mm": 0.0}),
        ("planter broke, back tomorrow noon", "machine_down", {"machine": "planter", "until": "Wed 12:00"}),
        ("planter broke down, should be back thursday", "machine_down", {"until": "Thu 00:00"}),
        ("planter down for 3 hours", "machine_down", {"start": None, "until": "Tue 15:00"}),
        ("planter broke, back in an hour and a half", "machine_down", {"until": "Tue 13:30"}),
        ("planter out until fri", "machine_down", {"until": "Fri 00:00"}),
        ("planter back by 3", "machine_down", {"until": "Tue 15:00"}),
        ("sprayer in the shop tomorrow afternoon", "machine_down", {"start": "Wed 12:00", "until": "Thu 00:00"}),
        ("oskari sick, back fri", "operator_absent", {"until": "Fri 00:00"}),
        ("oskari off wed-fri", "operator_absent", {"start": "Wed 00:00", "until": "Sat 00:00"}),
        ("oskari off fri through tue", "operator_absent", {"start": "Fri 00:00", "until": "Wed 00:00"}),
        ("oskari off from wed", "operator_absent", {"start": "Wed 00:00", "until": None}),
        ("oskari off for two days", "operator_absent", {"start": None, "until": "Thu 00:00"}),
        ("oskari off from 3 pm", "operator_absent", {"start": "Tue 15:00", "until": "Wed 00:00"}),
        ("oskari leaves at 4", "operator_absent", {"start": "Tue 16:00", "until": "Wed 00:00"}),
        ("oskari only until noon tomorrow", "operator_absent", {"start": "Wed 12:00", "until": "Thu 00:00"}),
        ("oskari off tomorrow morning", "operator_absent", {"start": "Wed 00:00", "until": "Wed 12:00"}),
        ("oskari off rest of the day", "operator_absent", {"start": None, "until": "Wed 00:00"}),
        ("oskari off next week", "operator_absent", {"start": "Mon 00:00", "until": "Mon 00:00"}),
        ("oskari off may 14 to may 17", "operator_absent", {"start": "Fri 00:00", "until": "Tue 00:00"}),
        ("oskari takes the 14th off because of a wedding", "operator_absent", {"start": "Fri 00:00", "why": "a wedding"}),
        ("stopped terminating heron because of wind", "pass_paused", {"field": "heron", "why": "wind"}),
        ("plant long acre fri 8 am pinned ilse", "block_pinned", {"field": "long-acre", "start": "Fri 08:00", "operator": "ilse"}),
    ],
)  # fmt: skip
def test_what_people_say_becomes_the_report_that_it_is(said: str, kind: str, body: dict[str, Any]) -> None:
    report = told(said)
    assert report.kind.value == kind
    for key, wanted in body.items():
        found = report.body.get(key)
        if key in ("start", "until", "since") and found is not None:
            found = local(found)
        assert found == (pytest.approx(wanted) if isinstance(wanted, float) else wanted), key


@pytest.mark.parametrize(
    ("said", "when"),
    [
        ("terminated far west yesterday", "Mon 18:00"),
        ("terminated far west mon", "Mon 18:00"),
        ("terminated far west at 10:30", "Tue 10:30"),
        ("terminated far west tue", "Tue 12:00"),
        ("rained 0.3 in on sat at 4 pm", "Sat 16:00"),
        ("planter fixed at 9:15", "Tue 09:15"),
        ("planter broke at 9, fixed at 11", "Tue 09:00"),
        ("planter out of order since 9", "Tue 09:00"),
        ("terminated far west at 11", "Tue 11:00"),
        ("terminated far west yesterday at 4", "Mon 16:00"),
        ("terminated far west on may 9", "Sun 18:00"),
        ("terminated far west mon morning", "Mon 12:00"),
    ],
)
def test_what_happened_lies_behind(said: str, when: str) -> None:
    assert local(told(said).happened_at.isoformat()) == when


@pytest.mark.parametrize(
    ("said", "why"),
    [
        (
            "sprayed stone row",
            "'sprayed' can be Terminate rye (terminate) or Post-emergence spray (post) there",
        ),
        ("planted beans in long acre 40 ac", "Long Acre does not grow soybean"),
        ("terminated kiln", "no pass of Kiln Field is named"),
        ("planter broke and oskari is sick", "'and' is not known"),
        ("oskari off fri and sat", "write: away OPERATOR [--until TIME]"),
        ("kiln is not wet", "'not' is not known"),
        ("is stone row dry?", "a question is no news"),
        ("plant long-acre 40 ac", "no kind of news is named"),
        ("late n32 fri", "which delivery it is has to be said (n-2 of Fri 14 May, n-3 of Thu 20 May)"),
        ("planter broke ilse", "'ilse' is one thing too many"),
        ("planted long acre kiln", "'kiln' is one thing too many"),
        ("rain 8", "has no unit"),
        ("spray wind too high", "wind is known from the forecast"),
        ("the road to the mill is closed", "stand in roads.csv"),
        ("oskari is stuck in kiln", "which machine is out of order"),
        # Rain or the height of what grows there.
        ("8 in at upper mill", "no kind of news is named"),
        ("3 at kiln", "no kind of news is named"),
        ("ilse works until 5 am tomorrow", "a day from 06:00 to 05:00 is none"),
        ("oskari is late tomorrow", "the hour is not said"),
        ("ilse starts at 6", "06:00 of today is over; say of which day it is"),
        ("seed corn left", "how much is left is not said"),
        ("cover seed mix is here", "how much came is not said"),
        ("no idea", "'no' is no kind of news"),
        ("oskari off at 11", "'11' can be 11 am or 11 pm"),
        ("planter broke until 9 am", "is over before it begins"),
        ("planted long acre because it was dry", "a reason is told of what stopped"),
        ("terminated heron 40 ac left", "how much is left is not said"),
        ("stopped terminating heron because the sprayer broke", "is news of its own"),
        ("undo", "did you mean 'correct'?"),
        ("down planter maybe", "'down' takes other words"),
    ],
)
def test_what_is_not_wholly_clear_is_refused_and_says_why(said: str, why: str) -> None:
    with pytest.raises(ReportRefused) as caught:
        told(said)
    assert why in str(caught.value) and str(caught.value).endswith(".")


def test_what_is_understood_as_it_stands_is_never_read_otherwise() -> None:
    assert told("down planter", until="2027-05-14 12:00").body["until"].startswith("2027-05-14T12:00")
    assert told("planter broke", why="hose").body["why"] == "hose"
    # What is said by an option goes before the sentence.
    assert local(told("planter broke until fri", until="thu").body["until"]) == "Thu 00:00"


NAMES = [one.label for group in (FARM.fields, FARM.machines, FARM.operators, FARM.products) for one in group]
WORDS = [
    *PHRASES,
    *VERBS,
    *NAMES,
    "planted",
    "terminate",
    "40 ac",
    "0.8 in",
    "fri",
    "yesterday",
    "7 am",
    "V3",
    "?",
    "and",
    "not",
    "50 bags",
]


def test_whose_turn_it_is_tells_two_passes_of_one_name_apart() -> None:
    situation = morning()[1]
    sprayed = report_from_words(["sprayed", "stone-row"], {}, FARM, TUESDAY, situation)
    assert sprayed.body["pass_id"] == "terminate"
    ended = replace(
        situation, passes={**situation.passes, ("stone-row", "terminate"): PassState(finished=True)}
    )
    # Terminated already, and not planted yet, after which the other comes.
    with pytest.raises(ReportRefused, match="can be Terminate rye"):
        report_from_words(["sprayed", "stone-row"], {}, FARM, TUESDAY, ended)


def test_the_pass_that_somebody_is_at_needs_no_name_and_what_is_left_can_be_said() -> None:
    situation = morning()[1]
    at_it = PassState(running=Running(TUESDAY, "", "tove"), done_ha=2.0)
    there = replace(situation, passes={**situation.passes, ("heron", "terminate"): at_it})
    stopped = report_from_words(["stopped", "heron"], {}, FARM, TUESDAY, there)
    assert (stopped.kind.value, stopped.body["pass_id"]) == ("pass_paused", "terminate")
    left = report_from_words(["heron", "10", "ac", "left"], {}, FARM, TUESDAY, there)
    whole = FARM.field_by_id["heron"].area_ha
    assert left.body["area_ha"] == pytest.approx(whole - 2.0 - parse("10 ac", "area_ha"), abs=1e-3)
    with pytest.raises(ReportRefused, match="no more than 400 ac was to do"):
        report_from_words(["heron", "400", "ac", "left"], {}, FARM, TUESDAY, there)


def test_a_word_of_a_name_is_enough_where_it_is_of_one_thing_only() -> None:
    for said, field in (("kiln wet", "kiln"), ("bench wet", "north-bench"), ("stone fit", "stone-row")):
        assert told(said).body["field"] == field
    twins = FARM.model_copy(
        update={
            "fields": (
                *FARM.fields,
                FARM.fields[0].model_copy(update={"id": "stone-top", "name": "Stone Top"}),
            )
        }
    )
    with pytest.raises(ReportRefused, match="'stone' can be stone-row or stone-top"):
        report_from_words(["stone", "wet"], {}, twins, TUESDAY)


def test_a_word_of_many_names_asks_which_is_meant() -> None:
    tops = [
        FARM.fields[0].model_copy(update={"id": f"top-{k}", "name": f"Top {name}"})
        for k, name in enumerate("ABCD")
    ]
    many = FARM.model_copy(update={"fields": (*FARM.fields, *tops)})
    with pytest.raises(
        ReportRefused, match="'top' stands in the names of 4 fields; say which is meant; write: ground"
    ):
        report_from_words(["top", "wet"], {}, many, TUESDAY)


@settings(max_examples=300, derandomize=True)
@given(st.lists(st.sampled_from(WORDS), min_size=1, max_size=6))
def test_any_words_make_a_report_or_a_sentence_of_refusal(parts: list[str]) -> None:
    words = " ".join(parts).split()
    try:
        report = report_from_words(words, {}, FARM, TUESDAY)
    except ReportRefused as refused:
        assert str(refused).endswith(".")
        return
    said = f" {' '.join(words)} "
    names_with_and = [name for name in NAMES if " and " in name]
    for phrase in ("not fit", "not in", "not here", "not coming", "not working", *names_with_and):
        said = said.replace(f" {phrase} ", "  ")
    assert not {"and", "not", "?"} & set(said.split()), report


@pytest.mark.parametrize(
    ("text", "said"),
    [("14:30", "Tue 14:30"), ("2:30 pm", "Tue 14:30"), ("noon", "Tue 12:00"), ("tomorrow", "Wed 00:00"), ("tomorrow 7 am", "Wed 07:00"),
     ("fri 2 pm", "Fri 14:00"), ("2027-05-13 7:15", "Thu 07:15"), ("2027-05-13", "Thu 00:00"), ("12 am", "Tue 00:00"), ("may 14", "Fri 00:00"), ("May 14th", "Fri 00:00"), ("14th", "Fri 00:00"), ("11th", "Tue 00:00")],
)  # fmt: skip
def test_times_as_people_write_them(text: str, said: str) -> None:
    zone = morning()[1].now.tzinfo
    assert read_time(text, TUESDAY, zone).strftime("%a %H:%M") == said  # type: ignore[arg-type]


@pytest.mark.parametrize("text", ["25:00", "13 pm", "0 am", "7:60", "soon", "fri soon", "2027-02-30"])
def test_what_is_no_time_is_refused(text: str) -> None:
    with pytest.raises(ReportRefused, match="cannot be read"):
        read_time(text, TUESDAY, morning()[1].now.tzinfo)  # type: ignore[arg-type]
