"""What is refused and how it is said: one sentence, nothing stored, what is allowed named."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.events.decide import decide
from scheduler.events.describe import describe, history
from scheduler.events.kinds import BlockPinned
from scheduler.events.report import Report
from scheduler.events.words import report_from_words
from shared.errors import ReportRefused
from shared.vocabulary import EventKind
from tests.events.builders import Told, at, farm

NOON = at(0, "12:00")

REFUSED = [
    (("rain", "f9", "1 in"), {}, "the field 'f9' is not known; did you mean"),
    (("rain", "f1", "1"), {}, "rain '1' has no unit; allowed: a depth of rain with its unit"),
    (("rain", "f1", "much"), {}, "rain 'much' is not a depth of rain"),
    (("rain", "f1", "1000 mm"), {}, "rain of 1000 mm (39.4 in) in one reading cannot be right; allowed: 0 to 400 mm"),
    (("rain", "f1", "-3 mm"), {}, "rain of -3 mm"),
    (("rain", "f1"), {}, "rain 'f1' is not a depth of rain; allowed: a depth"),
    (("rian", "f1", "1 in"), {}, "'rian' is no kind of news; did you mean 'rain'?"),
    (("rain", "f1", "1 in"), {"at": "14:30"}, "lies in the future; allowed: up to now (2027-05-10 12:00)"),
    (("rain", "f1", "1 in"), {"at": "soon"}, "the time 'soon' cannot be read; allowed: 14:30"),
    (("rain", "f1", "1 in"), {"at": "25:99"}, "the time '25:99' cannot be read"),
    (("done", "f1", "plnt", "3 ha"), {}, "'plnt' is no pass of f1; did you mean 'plant'?"),
    (("done", "f1", "plant", "30 ha"), {}, "is more than is left (49.4 ac)"),
    (("done", "f1", "plant", "0 ac"), {}, "is not above 0"),
    (("done", "f1", "plant", "-4 ac"), {}, "area_ha -1.6"),
    (("done", "f1", "plant", "4 ac"), {"operator": "amn"}, "the operator 'amn' is not known; did you mean 'ann'?"),
    (("done", "f1", "plant", "4 ac"), {"rig": "big+plantr"}, "the machine 'plantr' is not known; did you mean 'planter'?"),
    (("down", "plantr"), {}, "the machine 'plantr' is not known; did you mean 'planter'?"),
    (("down", "planter"), {"until": "11:00"}, "the end 2027-05-10 11:00 is not after the start 2027-05-10 12:00"),
    (("away", "ann"), {"until": "2031-05-10"}, "is more than a year away"),
    (("away", "ann"), {"at": "2027-05-12 08:00", "until": "2027-05-11 08:00"}, "is not after the start 2027-05-12 08:00"),
    (("back", "anne"), {}, "the machine or operator 'anne' is not known; did you mean 'ann'?"),
    (("delivered", "n33", "50 gal"), {}, "the product 'n33' is not known; did you mean 'n32'?"),
    (("delivered", "n32", "50 bags"), {}, "amount '50 bags' counts packages of a bulk product"),
    (("delivered", "n32", "50 lb"), {}, "amount '50 lb' is not a volume"),
    (("delivered", "n32", "50 gal", "third"), {}, "n32 waits for no delivery 'third'; expected: first, second"),
    (("late", "n32", "third", "2027-05-20"), {}, "n32 waits for no delivery 'third'"),
    (("late", "n32", "first", "someday"), {}, "the date 'someday' cannot be read"),
    (("ground", "f1", "spongy"), {}, "the verdict 'spongy' is not known; allowed: fit, marginal, unfit"),
    (("stage", "f1", "V4"), {}, "f1 was not planted yet, so it has no stage"),
    (("tissue", "f1", "40 %"), {}, "value_pct 40.0 is not usable"),
    (("started", "f1", "fly"), {}, "'fly' is no pass of f1"),
    (("started", "f1", "plant"), {"rig": "big+plow"}, "the machine 'plow' is not known"),
    (("pin", "f1", "plant"), {}, "a pin needs its time"),
    (("pin", "f1", "plant"), {"at": "2027-05-09 07:00"}, "the pin's time 2027-05-09 07:00 is past"),
    (("unpin", "f1:plant"), {}, "there is no pin 'f1:plant'; pins: (none)"),
    (("correct", "r-1", "nothing"), {}, "there is no report 'r-1' that could be corrected"),
]  # fmt: skip


@pytest.mark.parametrize(("words", "options", "said"), REFUSED, ids=[" ".join(row[0]) for row in REFUSED])
def test_a_wrong_report_is_refused_in_one_sentence(
    words: tuple[str, ...], options: dict[str, str], said: str
) -> None:
    told = Told()
    with pytest.raises(ReportRefused) as caught:
        told.say(NOON, *words, **options)
    text = str(caught.value)
    assert said in text
    assert "\n" not in text
    assert text.endswith((".", "?"))
    assert told.records == []


def test_the_same_report_twice_counts_once() -> None:
    told = Told()
    first = told.say(NOON, "done", "f1", "plant", "5 ha", by="ann")
    again = told.say(NOON, "done", "f1", "plant", "5 ha", by="ann")
    assert told.last is not None
    assert told.last.known
    assert again.id == first.id
    assert len(told.records) == 1
    assert told.at(NOON).left_ha("f1", "plant") == pytest.approx(15.0)


def test_a_phones_own_id_sent_again_later_counts_once() -> None:
    told = Told()
    told.say(NOON, "done", "f1", "plant", "5 ha", id="phone-7")
    told.say(at(0, "18:00"), "done", "f1", "plant", "5 ha", id="phone-7")
    assert len(told.records) == 1


def test_an_id_of_another_kind_of_report_is_refused_not_swallowed() -> None:
    told = Told()
    told.say(NOON, "rain", "f1", "5 mm", id="phone-7")
    with pytest.raises(ReportRefused, match="belongs to another report"):
        told.say(NOON, "finished", "f1", "plant", id="phone-7")


def test_a_small_overrun_is_capped_and_told_a_large_one_is_refused() -> None:
    """f1 has 20 ha; up to 3 % of it (0.6 ha) more than was left is taken for rounding."""
    told = Told()
    told.say(NOON, "done", "f1", "plant", "15 ha")
    with pytest.raises(ReportRefused, match=r"more than is left \(12\.4 ac\)"):
        told.say(at(0, "13:00"), "done", "f1", "plant", "5.7 ha")
    event = told.say(at(0, "13:00"), "done", "f1", "plant", "5.5 ha")
    assert event.body["area_ha"] == pytest.approx(5.0)
    assert told.last is not None
    assert "only 12.4 ac was left" in told.last.notes[0]


def test_finished_or_cancelled_work_takes_no_more_reports() -> None:
    told = Told()
    told.say(NOON, "finished", "f1", "plant")
    told.say(NOON, "cancel", "f2", "plant")
    for words, said in [
        (("finished", "f1", "plant"), "was finished before"),
        (("done", "f1", "plant", "1 ha"), "is finished already"),
        (("cancel", "f1", "plant"), "cannot be cancelled"),
        (("done", "f2", "plant", "1 ha"), "was cancelled"),
        (("finished", "f2", "plant"), "was cancelled"),
        (("cancel", "f2", "plant"), "was cancelled before"),
    ]:
        with pytest.raises(ReportRefused, match=said):
            told.say(at(0, "14:00"), *words)


def test_a_stage_must_be_one_of_the_crop() -> None:
    told = Told()
    told.say(NOON, "finished", "f1", "plant")
    with pytest.raises(ReportRefused, match="'V44' is no stage of corn; allowed: VE, V1"):
        told.say(at(0, "13:00"), "stage", "f1", "v44")


def test_back_without_having_been_away_is_taken_with_a_word() -> None:
    told = Told()
    told.say(NOON, "back", "ann")
    assert told.last is not None
    assert told.last.notes == ("ann was not reported away; noted all the same",)


def test_back_before_an_absence_begins_says_that_it_still_stands() -> None:
    told = Told()
    told.say(NOON, "away", "ann", at="2027-05-11 06:00", until="2027-05-12 06:00")
    told.say(NOON, "back", "ann")
    assert told.last is not None
    assert told.last.notes == (
        "what was told of ann from 2027-05-11 06:00 stands; correct that report to take it out",
    )
    assert len(told.at(NOON).operator_away["ann"]) == 1


def test_a_correction_is_judged_like_a_report_and_made_once() -> None:
    told = Told()
    wrong = told.say(NOON, "done", "f1", "plant", "5 ha")
    for words, said in [
        (
            ("rain", "f1", "5 mm"),
            "is about pass_progressed, the correction about rain_measured; same kind only",
        ),
        (("done", "f1", "plant", "90 ha"), "more than is left"),
        (("done", "f9", "plant", "9 ha"), "the field 'f9' is not known"),
    ]:
        with pytest.raises(ReportRefused, match=said):
            told.say(at(0, "13:00"), "correct", wrong.id, *words)
    # The report that is replaced does not count against its own correction: all 20 ha may have been done.
    told.say(at(0, "13:00"), "correct", wrong.id, "done", "f1", "plant", "20 ha")
    assert told.at(at(0, "13:00")).passes[("f1", "plant")].finished
    story = history(told.state, told.at(at(0, "13:00")).farm)[-1].text
    assert story.startswith("corrected: ") and "(told before: " in story and story.count("done on") == 2
    with pytest.raises(ReportRefused, match="was corrected before"):
        told.say(at(0, "14:00"), "correct", wrong.id, "nothing")


def test_a_report_taken_out_no_longer_counts_and_stays_in_the_story() -> None:
    told = Told()
    wrong = told.say(NOON, "finished", "f1", "plant", by="ann")
    told.say(at(0, "13:00"), "correct", wrong.id, "nothing")
    now = told.at(at(0, "13:00"))
    assert now.left_ha("f1", "plant") == pytest.approx(20.0)
    assert now.planted == {}
    rows = history(told.state, now.farm)
    assert [(row.when, row.by, row.corrected) for row in rows] == [
        ("2027-05-10 12:00", "ann", True),
        ("2027-05-10 13:00", "", False),
    ]
    assert rows[1].text == f"taken out: {rows[0].text}"


def test_a_pin_taken_out_is_told_with_what_it_held() -> None:
    told = Told()
    told.say(NOON, "pin", "f1", "plant", at="2027-05-11 08:00")
    (pin,) = [event.body.pin for event in told.state.told.values() if isinstance(event.body, BlockPinned)]
    told.say(at(0, "13:00"), "unpin", pin)
    rows = history(told.state, told.at(at(0, "13:00")).farm)
    assert rows[1].text == f"pin taken out: {rows[0].text}" and "Tue 08:00" in rows[1].text


def test_names_in_another_case_from_a_page_or_import_are_refused_with_the_right_one() -> None:
    told = Told()
    report = Report(EventKind.MACHINE_DOWN, {"machine": "Planter"}, NOON)
    with pytest.raises(ReportRefused, match="did you mean 'planter'"):
        decide(report, told.state, told.at(NOON))


def test_a_report_without_time_zone_or_with_unknown_keys_is_refused() -> None:
    told = Told()
    bare = Report(EventKind.MACHINE_BACK, {"machine": "planter"}, NOON.replace(tzinfo=None))
    with pytest.raises(ReportRefused, match="has no time zone"):
        decide(bare, told.state, told.at(NOON))
    with pytest.raises(ReportRefused, match="colour"):
        decide(
            replace(bare, happened_at=NOON, body={"machine": "planter", "colour": "red"}),
            told.state,
            told.at(NOON),
        )


def test_a_decision_changes_nothing() -> None:
    told = Told()
    report = report_from_words(["finished", "f1", "plant"], {}, told.farm, NOON)
    before = told.state
    one, two = (decide(report, told.state, told.at(NOON)) for _ in range(2))
    assert one == two
    assert told.state is before


def test_units_may_be_american_or_metric() -> None:
    """62 ac are 25.0905 ha (4046.8564224 m2 each)."""
    one = report_from_words(["done", "f2", "plant", "62 ac"], {}, farm(), NOON)
    assert one.body["area_ha"] == pytest.approx(62 * 0.40468564224)
    two = report_from_words(["delivered", "seed", "10 bags"], {}, farm(), NOON)
    assert two.body["amount"] == pytest.approx(800000)


SENTENCES = [
    (("rain", "all", "20.32 mm"), {}, "0.80 in of rain on the whole farm"),
    (("done", "f1", "plant", "8 ha"), {"operator": "ann"}, "19.8 ac done on f1: plant by ann"),
    (("finished", "f1", "plant"), {}, "plant finished on f1"),
    (("started", "f1", "plant"), {"operator": "ann"}, "plant on f1 begun by ann"),
    (("paused", "f1", "plant"), {"why": "rain"}, "plant on f1 paused (rain)"),
    (("cancel", "f1", "plant"), {"why": "sold"}, "plant cancelled on f1 (sold)"),
    (("down", "planter"), {"until": "2027-05-12 06:00", "why": "bearing"}, "planter is out of order until Wed 12 May 06:00 (bearing)"),
    (("away", "ann"), {"at": "2027-05-11 06:00"}, "ann is away from Tue 11 May 06:00, end unknown"),
    (("delivered", "n32", "1000 gal", "first"), {}, "1,000 gal of n32 delivered"),
    (("delivered", "seed", "10 bags"), {}, "10 bags of seed delivered"),
    (("late", "n32", "first", "2027-05-14"), {}, "n32: delivery first comes on Fri 14 May instead"),
    (("ground", "f1", "unfit"), {}, "ground of f1 checked by hand: unfit"),
    (("tissue", "f1", "3.5 %"), {}, "tissue of f1: 3.5 % N, side-dress rate x 0.95"),
    (("pin", "f1", "plant"), {"at": "2027-05-11 07:00"}, "plant on f1 pinned to Tue 07:00"),
]  # fmt: skip


@pytest.mark.parametrize(("words", "options", "said"), SENTENCES, ids=[row[2] for row in SENTENCES])
def test_an_event_is_told_in_plain_words_and_farm_units(
    words: tuple[str, ...], options: dict[str, str], said: str
) -> None:
    told = Told()
    event = told.say(NOON, *words, **options)
    assert describe(told.state.told[event.id], told.farm) == said


def test_a_tissue_result_says_what_it_does_and_where_it_does_nothing() -> None:
    def notes(told: Told, result: str) -> tuple[str, ...]:
        told.say(NOON, "tissue", "f1", result)
        assert told.last is not None
        return told.last.notes

    told = Told()
    rule = "the side-dress rate is multiplied by 0.95 (rule in the farm file)"
    assert notes(told, "3.5 %") == ("f1 is not reported planted; if it is, say so", rule)
    told.say(NOON, "finished", "f1", "plant")
    assert notes(told, "3.4 %") == (rule.replace("0.95", "0.99"),)
    bare = farm()
    none = bare.model_copy(update={"tissue": bare.tissue.model_copy(update={"passes": ()})})
    without = Told(none)
    without.say(NOON, "finished", "f1", "plant")
    assert notes(without, "3.5 %") == ("no pass of f1 goes by it",)
    assert describe(list(without.state.told.values())[-1], none) == "tissue of f1: 3.5 % N"
