"""From facts to what is true: areas, people, machines, rain, stock, rates. Expected numbers are worked by hand."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from scheduler.events import kinds
from scheduler.events.decide import planner_event
from scheduler.events.situation import Span
from scheduler.events.spans import merged
from scheduler.farm.land import Field
from scheduler.farm.programme import PassSpec
from shared.vocabulary import Crop, EventKind, Fitness, Operation
from tests.events.builders import Told, at, farm


def test_areas_add_up_to_the_field_and_then_the_pass_is_finished() -> None:
    told = Told()
    told.say(at(0, "12:00"), "done", "f1", "plant", "8 ha", operator="ann", rig="big+planter")
    now = told.at(at(0, "12:00"))
    assert now.left_ha("f1", "plant") == pytest.approx(12.0)
    assert now.passes[("f1", "plant")].last_operator == "ann"
    assert now.passes[("f1", "plant")].last_rig == "big+planter"
    assert "f1" not in now.planted
    told.say(at(1, "12:00"), "done", "f1", "plant", "12 ha")
    now = told.at(at(1, "12:00"))
    assert now.passes[("f1", "plant")].finished
    assert now.left_ha("f1", "plant") == 0.0
    assert now.planted == {"f1": date(2027, 5, 11)}


def test_who_is_at_work_on_what() -> None:
    told = Told()
    told.say(at(0, "08:10"), "started", "f1", "plant", operator="ann", rig="big+planter")
    run = told.at(at(0, "09:00")).passes[("f1", "plant")].running
    assert run is not None and (run.since, run.operator, run.rig) == (at(0, "08:10"), "ann", "big+planter")
    # Nobody is in two fields: ann begins in the next one, and is not in the first any more.
    told.say(at(0, "11:00"), "started", "f2", "plant", operator="ann")
    now = told.at(at(0, "11:30"))
    assert now.passes[("f1", "plant")].running is None
    assert now.passes[("f1", "plant")].paused_at == at(0, "11:00")
    assert now.passes[("f2", "plant")].running is not None
    # An area done says nothing of stopping; a pause does, and so does the night.
    told.say(at(0, "12:00"), "done", "f2", "plant", "5 ha")
    assert told.at(at(0, "12:30")).passes[("f2", "plant")].running is not None
    assert told.at(at(1, "06:00")).passes[("f2", "plant")].running is None
    told.say(at(0, "13:00"), "paused", "f2", "plant", why="rain")
    now = told.at(at(0, "13:30"))
    assert now.passes[("f2", "plant")].running is None
    assert now.passes[("f2", "plant")].paused_at == at(0, "13:00")
    assert now.left_ha("f2", "plant") == pytest.approx(22.0)


@pytest.mark.parametrize(
    "words", [("finished", "f1", "plant"), ("done", "f1", "plant", "20 ha"), ("cancel", "f1", "plant")]
)
def test_what_is_over_is_not_under_way(words: tuple[str, ...]) -> None:
    told = Told()
    told.say(at(0, "08:00"), "started", "f1", "plant", operator="ann")
    told.say(at(0, "12:00"), *words)
    assert told.at(at(0, "12:30")).passes[("f1", "plant")].running is None


def test_a_sliver_left_by_rounding_counts_as_done_and_a_strip_does_not() -> None:
    """20 ha is 49.42 ac: a report of 49.4 ac is the whole field; 48 ac leaves 0.57 ha."""
    whole, strip = Told(), Told()
    whole.say(at(0, "12:00"), "done", "f1", "plant", "49.4 ac")
    strip.say(at(0, "12:00"), "done", "f1", "plant", "48 ac")
    assert whole.at(at(0, "12:00")).passes[("f1", "plant")].finished
    assert strip.at(at(0, "12:00")).left_ha("f1", "plant") == pytest.approx(20 - 48 * 0.40468564224)


def test_what_the_farm_file_says_was_done_is_done() -> None:
    ground = [
        one.model_copy(update={"done": ("terminate",), "planted_on": date(2027, 5, 2)})
        if one.id == "f1"
        else one
        for one in farm().fields
    ]
    now = Told(farm(fields=tuple(ground))).at(at(0))
    assert now.passes[("f1", "terminate")].finished
    assert now.passes[("f1", "plant")].finished
    assert now.planted == {"f1": date(2027, 5, 2)}
    assert not now.passes[("f2", "terminate")].finished


def test_cancelled_work_leaves_nothing_to_do() -> None:
    told = Told()
    told.say(at(0, "12:00"), "cancel", "f2", "band", why="too dear")
    assert told.at(at(0, "12:00")).left_ha("f2", "band") == 0.0


def test_an_added_pass_is_the_fields_own() -> None:
    told = Told()
    body = kinds.PassAdded(field="f1", pass_id="terminate-2", like="terminate", first_date=date(2027, 5, 20))
    told.put(planner_event("add", body, EventKind.PASS_ADDED, at(0, "06:00")))
    now = told.at(at(0, "07:00"))
    assert now.left_ha("f1", "terminate-2") == pytest.approx(20.0)
    assert ("f2", "terminate-2") not in now.passes
    spec = now.farm.spec("f1", "terminate-2")
    assert spec is not None
    assert spec.window.first_date == date(2027, 5, 20)
    told.say(at(0, "12:00"), "done", "f1", "terminate-2", "5 ha")
    assert told.at(at(0, "12:00")).left_ha("f1", "terminate-2") == pytest.approx(15.0)


def test_a_machine_is_down_until_it_is_back() -> None:
    told = Told()
    told.say(at(0, "08:00"), "down", "planter", why="bearing")
    assert told.at(at(0, "09:00")).machine_down["planter"][0].end is None
    told.say(at(0, "15:00"), "back", "planter")
    (span,) = told.at(at(0, "15:00")).machine_down["planter"]
    assert (span.start, span.end, span.why) == (at(0, "08:00"), at(0, "15:00"), "bearing")


def test_an_outage_told_after_it_was_over_does_not_last_for_ever() -> None:
    """Told in the evening: back at 10:00 first, then that it had been down since 8:00."""
    told = Told()
    told.say(at(0, "20:00"), "back", "planter", at="10:00")
    told.say(at(0, "20:01"), "down", "planter", at="08:00")
    (span,) = told.at(at(0, "21:00")).machine_down["planter"]
    assert (span.start, span.end) == (at(0, "08:00"), at(0, "10:00"))


def test_overlapping_absences_are_one_and_an_absence_can_be_told_ahead() -> None:
    told = Told()
    told.say(at(0, "07:00"), "away", "ann", until="2027-05-12 08:00")
    told.say(at(0, "08:00"), "away", "ann", at="2027-05-11 06:00", until="2027-05-13 12:00", why="school")
    told.say(at(0, "09:00"), "away", "bob", at="2027-05-12 06:00", until="2027-05-12 10:00")
    now = told.at(at(0, "10:00"))
    (span,) = now.operator_away["ann"]
    assert (span.start, span.end) == (at(0, "07:00"), at(3, "12:00"))
    (span,) = now.operator_away["bob"]
    assert (span.start, span.end) == (at(2, "06:00"), at(2, "10:00"))


def test_of_an_absence_that_goes_on_the_end_told_last_counts() -> None:
    """The manager hears on Monday noon that the part comes early; what was told ahead for another time stands."""
    told = Told()
    told.say(at(0, "07:00"), "down", "planter", until="2027-05-14 12:00", why="bearing")
    told.say(
        at(0, "07:30"), "down", "planter", at="2027-05-20 06:00", until="2027-05-20 18:00", why="service"
    )
    told.say(at(0, "12:00"), "down", "planter", until="2027-05-12 06:00")
    first, later = told.at(at(0, "13:00")).machine_down["planter"]
    assert (first.start, first.end, first.why) == (at(0, "07:00"), at(2, "06:00"), "bearing")
    assert (later.start, later.end) == (at(10, "06:00"), at(10, "18:00"))
    told.say(at(1, "12:00"), "down", "planter", until="2027-05-15 06:00")
    assert told.at(at(1, "13:00")).machine_down["planter"][0].end == at(5, "06:00")


def test_a_hired_machine_that_breaks_before_it_comes_does_not_come_earlier() -> None:
    told = Told()
    told.say(at(0, "06:00"), "hire", "Lent", "like", "planter", at="2027-05-13 06:00")
    told.say(at(0, "07:00"), "down", "Lent", until="2027-05-11 06:00")
    (span,) = told.at(at(0, "08:00")).machine_down["lent"]
    assert (span.start, span.end) == (at(0, "06:00"), at(3, "06:00"))


def test_spans_that_touch_or_nest_are_joined_and_empty_ones_dropped() -> None:
    hours = [at(0, "06:00") + timedelta(hours=n) for n in range(10)]
    spans = [
        Span(hours[5], hours[5]),
        Span(hours[3], hours[4]),
        Span(hours[0], hours[3]),
        Span(hours[1], hours[2]),
        Span(hours[6], None),
        Span(hours[7], hours[8]),
    ]
    assert [(one.start, one.end) for one in merged(spans)] == [(hours[0], hours[4]), (hours[6], None)]


def test_rain_falls_from_local_midnight_to_the_reading() -> None:
    """1 in is 25.4 mm (exact); midnight in Chicago in May is 05:00 UTC."""
    told = Told()
    told.say(at(0, "06:30"), "rain", "f1", "1 in")
    told.say(at(0, "06:40"), "rain", "all", "4 mm")
    one, other = told.at(at(0, "07:00")).rain
    assert one.rain_mm == pytest.approx(25.4)
    assert (one.field_id, one.start, one.end) == ("f1", at(0, "00:00"), at(0, "06:30"))
    assert other.field_id is None


@pytest.mark.parametrize(
    ("day", "hours"), [(date(2027, 3, 14), 11), (date(2027, 11, 7), 13), (date(2027, 5, 10), 12)]
)
def test_the_local_day_of_a_reading_at_noon_knows_clock_changes(day: date, hours: int) -> None:
    """Clocks in Chicago go forward on 14 March 2027 and back on 7 November 2027 (15 U.S.C. 260a)."""
    noon = datetime.combine(day, time(12), ZoneInfo("America/Chicago"))
    told = Told()
    told.say(noon, "rain", "all", "4 mm")
    (rain,) = told.at(noon).rain
    assert rain.end.astimezone(UTC) - rain.start.astimezone(UTC) == timedelta(hours=hours)


def test_stock_is_what_was_there_plus_arrived_minus_used_at_the_rates() -> None:
    """24 gal/ac = 24 x 3.785411784 / 0.40468564224 = 224.496 L/ha; 20 ha take 4489.9 L of the 10,000."""
    told = Told()
    told.say(at(0, "12:00"), "finished", "f1", "band")
    supply = told.at(at(0, "12:00")).supplies["n32"]
    assert supply.used == pytest.approx(20 * 24 * 3.785411784 / 0.40468564224)
    assert supply.stock == pytest.approx(10000 - supply.used)
    assert [name for _, _, name in supply.deliveries] == ["first", "second"]
    told.say(at(1, "09:00"), "delivered", "n32", "4800 L", "first")
    told.say(at(1, "10:00"), "late", "n32", "second", "2027-05-16")
    now = told.at(at(1, "10:00")).supplies["n32"]
    assert now.stock == pytest.approx(supply.stock + 4800)
    assert now.deliveries == ((date(2027, 5, 16), 6000.0, "second"),)


def test_a_finish_after_parts_uses_only_the_rest() -> None:
    parts, whole = Told(), Told()
    parts.say(at(0, "10:00"), "done", "f1", "band", "7 ha")
    parts.say(at(0, "12:00"), "finished", "f1", "band")
    whole.say(at(0, "12:00"), "finished", "f1", "band")
    assert parts.at(at(1)).supplies["n32"].used == pytest.approx(whole.at(at(1)).supplies["n32"].used)


@pytest.mark.parametrize(("result", "factor"), [("4.2 %", 0.75), ("3.5 %", 0.95), ("2.8 %", 1.15)])
def test_a_tissue_result_moves_the_side_dress_rate_by_the_rule(result: str, factor: float) -> None:
    """Rule of the farm file: 3 % or less x 1.15, 4 % or more x 0.75, linear between (half way: 0.95)."""
    told = Told()
    told.say(at(0, "12:00"), "tissue", "f1", result)
    assert told.at(at(0, "12:00")).rate_factor == {"f1": pytest.approx(factor)}
    told.say(at(1, "12:00"), "finished", "f1", "side-dress")
    assert told.at(at(1, "12:00")).supplies["n32"].used == pytest.approx(20 * 100 * factor)


def test_a_result_that_comes_after_the_work_does_not_change_what_it_used() -> None:
    told = Told()
    told.say(at(0, "12:00"), "finished", "f1", "side-dress")
    told.say(at(1, "12:00"), "tissue", "f1", "4.2 %")
    assert told.at(at(1, "12:00")).supplies["n32"].used == pytest.approx(2000.0)


def test_a_result_says_that_the_sample_was_taken() -> None:
    sample = PassSpec(id="leaf", operation=Operation.TISSUE_SAMPLE, on_foot=True)
    plain = farm()
    programme = plain.programmes[0]
    with_sample = plain.model_copy(
        update={
            "programmes": (
                programme.model_copy(update={"passes": (*programme.passes, sample)}),
                *plain.programmes[1:],
            )
        }
    )
    told = Told(with_sample)
    assert told.at(at(0, "08:00")).passes["f1", "leaf"].finished is False
    told.say(at(0, "12:00"), "tissue", "f1", "3.5 %")
    taken = told.at(at(0, "12:00")).passes["f1", "leaf"]
    assert taken.finished and taken.finished_at == at(0, "12:00")
    assert told.at(at(0, "12:00")).passes["f2", "leaf"].finished is False


def test_the_morning_of_a_past_day_knows_nothing_of_later_news() -> None:
    told = Told()
    told.say(at(0, "12:00"), "rain", "all", "10 mm")
    told.say(at(2, "12:00"), "rain", "all", "20 mm")
    assert [one.rain_mm for one in told.at(at(1)).rain] == [10.0]


def test_checks_sightings_and_pins_are_listed() -> None:
    told = Told()
    told.say(at(0, "08:00"), "ground", "f1", "marginal", "plant")
    told.say(at(0, "09:00"), "finished", "f2", "plant")
    told.say(at(0, "10:00"), "stage", "f2", "ve")
    told.say(at(0, "10:10"), "height", "f2", "10 in")
    told.say(at(0, "11:00"), "pin", "f3", "plant", at="2027-05-11 07:00", operator="cy", rig="big+planter")
    now = told.at(at(0, "12:00"))
    assert (now.checks[0].verdict, now.checks[0].pass_id) == (Fitness.MARGINAL, "plant")
    assert (now.sightings[0].stage, now.sightings[1].height_m) == ("VE", pytest.approx(0.254))
    (pin,) = now.pins
    assert (pin.field_id, pin.start, pin.operator) == ("f3", at(1, "07:00"), "cy")
    told.say(at(0, "13:00"), "unpin", pin.pin)
    assert told.at(at(0, "13:00")).pins == ()


def test_worked_minutes_are_those_of_reports_with_times() -> None:
    told = Told()
    body = kinds.PassProgressed(
        field="f1",
        pass_id="plant",
        area_ha=5,
        operator="ann",
        started_at=at(0, "08:00"),
        ended_at=at(0, "10:30"),
    )
    told.put(planner_event("w1", body, EventKind.PASS_PROGRESSED, at(0, "10:30")))
    told.say(at(0, "11:00"), "done", "f1", "plant", "2 ha", operator="ann")
    assert told.at(at(0, "12:00")).worked_minutes == {("ann", date(2027, 5, 10)): 150.0}


def test_a_hired_machine_joins_and_leaves() -> None:
    told = Told()
    hired = told.farm.machine_by_id["planter"].model_copy(update={"id": "hired"})
    body = kinds.MachineAdded(machine=hired, until=at(2, "18:00"))
    told.put(planner_event("h", body, EventKind.MACHINE_ADDED, at(0, "06:00")))
    assert "hired" in told.at(at(1)).farm.machine_by_id
    assert "hired" not in told.at(at(3)).farm.machine_by_id
    assert "hired" not in told.farm.machine_by_id


def test_a_corrected_area_gives_back_what_was_counted() -> None:
    told = Told()
    wrong = told.say(at(0, "12:00"), "done", "f1", "band", "15 ha")
    told.say(at(0, "13:00"), "correct", wrong.id, "done", "f1", "band", "5 ha")
    now = told.at(at(0, "13:00"))
    assert now.left_ha("f1", "band") == pytest.approx(15.0)
    assert now.supplies["n32"].used == pytest.approx(5 * 24 * 3.785411784 / 0.40468564224)


def test_a_field_with_a_name_of_its_own_keeps_its_records() -> None:
    """Fields are found by id or name; records keep the id."""
    ground = Field(id="nb", name="North Bench", area_ha=10, latitude_deg=41, longitude_deg=-90, crop=Crop.CORN, programme="corn")  # fmt: skip
    told = Told(farm(fields=(ground,)))
    assert told.say(at(0, "07:00"), "rain", "north bench", "3 mm").body["field"] == "nb"
