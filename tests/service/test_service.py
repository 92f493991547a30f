"""The service over days: one morning issue, news in heaps, failures that stop nothing, one of two issues."""

from __future__ import annotations

import threading
from datetime import timedelta

import pytest

from scheduler.service.service import Service
from shared.errors import EventLogError, OutletFailed
from tests.service.fakes import START, ZONE, FakeOutlet, House, at


def play(service: Service, first: int, last: int, step: int = 1) -> None:
    """Look every minute."""
    for minute in range(first, last, step):
        service.look(at(minute))


def test_a_week_issues_seven_mornings_and_reminds_seven_evenings() -> None:
    house = House()
    service = house.service()
    play(service, 0, 7 * 1440, 5)
    assert [f"{one.made_at.astimezone(ZONE):%d %H:%M}" for one in house.desk.issued] == [
        f"{d} 05:00" for d in range(10, 17)
    ]
    reminders = [name for name in house.outlets[0].got if name.startswith("remind")]
    assert reminders == [f"remind-2027-05-{d}/ann" for d in range(10, 17)]
    assert house.desk.polled == 7 * 24


def test_ten_reports_at_noon_make_one_plan_and_the_morning_counts_for_what_it_knew() -> None:
    house = House()
    service = house.service()
    house.desk.end = 4
    play(service, 0, 480)
    for _ in range(10):
        house.desk.end += 1
    play(service, 480, 700)
    assert [(f"{now:%H:%M}", whole) for now, whole in house.desk.made] == [("05:00", True), ("12:03", False)]


def test_before_the_first_plan_news_plans_nothing() -> None:
    house = House()
    service = house.service()
    house.desk.end = 9
    play(service, 0, 59)
    assert house.desk.made == []


def test_a_new_forecast_by_day_is_news_and_by_night_waits_for_the_morning() -> None:
    house = House()
    service = house.service()
    play(service, 0, 300)
    house.desk.forecast = 1
    play(service, 300, 960)
    assert len(house.desk.issued) == 2
    house.desk.forecast = 3
    play(service, 960, 1440)
    assert len(house.desk.issued) == 2
    play(service, 1440, 1510)
    assert [f"{one.made_at:%d %H:%M}" for one in house.desk.issued[2:]] == ["11 05:00"]


def test_plans_after_news_wait_for_a_person_where_the_farm_wants_it() -> None:
    house = House(drafts=True)
    service = house.service()
    play(service, 0, 300)
    house.desk.end = 5
    play(service, 300, 400)
    assert (len(house.desk.issued), len(house.desk.drafts)) == (1, 1)
    assert house.outlets[0].got == ["p100500/ann"]


def test_a_failure_to_plan_is_said_once_a_minute_and_mends_itself() -> None:
    house = House()
    service = house.service()
    house.desk.fail = "the log is locked."
    for second in range(0, 600, 5):
        service.look(at(60 + second / 60))
    assert len(house.desk.made) == 10
    assert ("issue failed", {"why": "the log is locked."}) in house.said
    house.desk.fail = ""
    service.look(at(71))
    assert len(house.desk.issued) == 1
    assert service.metrics.failures.labels(duty="issue")._value.get() == 10


def test_a_broken_duty_does_not_stop_the_others(monkeypatch: pytest.MonkeyPatch) -> None:
    house = House()
    service = house.service()

    def broken(_now: object) -> None:
        raise ZeroDivisionError("oh")

    monkeypatch.setattr(house.desk, "poll", broken)
    assert service.look(at(61)) == ["issue", "hand out"]
    assert ("weather failed", {"why": "ZeroDivisionError: oh", "unexpected": True}) in house.said


def test_a_locked_store_costs_a_look_and_nothing_else(monkeypatch: pytest.MonkeyPatch) -> None:
    house = House()
    service = house.service()
    take = house.lease.take

    def locked(_now: object) -> bool:
        raise EventLogError("the event log is locked.")

    monkeypatch.setattr(house.lease, "take", locked)
    assert service.look(at(61)) == []
    monkeypatch.setattr(house.lease, "take", take)
    assert "issue" in service.look(at(62))


def test_who_does_not_hold_the_lease_does_nothing_until_it_is_free() -> None:
    house = House()
    service = house.service()
    house.lease.free = False
    play(service, 0, 300)
    assert (house.desk.made, house.desk.polled, house.outlets[0].got) == ([], 0, [])
    house.lease.free = True
    service.look(at(300))
    assert len(house.desk.issued) == 1


def test_a_service_that_was_killed_goes_on_where_it_stood() -> None:
    house = House()
    play(house.service(), 0, 90)
    play(house.service(), 90, 1000)
    assert len(house.desk.issued) == 1
    assert house.outlets[0].got == ["p100500/ann", "remind-2027-05-10/ann"]


def test_a_jammed_outlet_stops_no_other_and_is_tried_again_later() -> None:
    jammed, tray = FakeOutlet("jammed", fails=3), FakeOutlet("tray")
    house = House(outlets=[jammed, tray])
    service = house.service()
    play(service, 60, 62)
    assert (jammed.got, tray.got) == ([], ["p100500/ann"])
    play(service, 62, 90)
    assert jammed.got == tray.got == ["p100500/ann"]
    tries = [facts["tries"] for text, facts in house.said if text == "hand-out failed"]
    assert tries == [1, 2, 3]


def test_an_outlet_that_will_never_take_it_is_not_asked_again() -> None:
    never = FakeOutlet("never", fails=99, error=OutletFailed("never: no.", again=False))
    house = House(outlets=[never])
    play(house.service(), 60, 120)
    assert never.fails == 98


def test_a_newer_list_takes_the_place_of_one_that_still_waits() -> None:
    jammed = FakeOutlet("jammed", fails=3)
    house = House(outlets=[jammed])
    service = house.service()
    service.look(at(60))
    house.desk.end = 3
    play(service, 61, 100)
    assert jammed.got == ["p100504/ann"]


def test_two_looks_at_once_do_not_both_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    house = House()
    service = house.service()
    make, inside, go_on = house.desk.make, threading.Event(), threading.Event()

    def slow(now: object, whole: bool) -> object:
        inside.set()
        go_on.wait(5)
        return make(now, whole)  # type: ignore[arg-type]

    monkeypatch.setattr(house.desk, "make", slow)
    first = threading.Thread(target=service.look, args=(at(61),))
    first.start()
    assert inside.wait(5)
    assert service.look(at(61)) == []
    go_on.set()
    first.join(5)
    assert len(house.desk.issued) == 1


def test_a_stop_in_the_middle_of_a_search_hands_nothing_out(monkeypatch: pytest.MonkeyPatch) -> None:
    house = House()
    service = house.service()
    make = house.desk.make

    def stopped(now: object, whole: bool) -> object:
        service.stop()
        return make(now, whole)  # type: ignore[arg-type]

    monkeypatch.setattr(house.desk, "make", stopped)
    service.look(at(61))
    service.close()
    assert (house.desk.issued, house.outlets[0].got, house.lease.given_back) == ([], [], 1)
    monkeypatch.setattr(house.desk, "make", make)
    house.service().look(at(65))
    assert len(house.desk.issued) == 1


def test_a_clock_that_jumps_issues_no_morning_twice_and_misses_none() -> None:
    house = House()
    service = house.service()
    for minute in [*range(0, 200), *range(-60, 200), *range(1500, 1700), *range(1000, 1700)]:
        service.look(at(minute))
    assert [f"{one.made_at:%d}" for one in house.desk.issued] == ["10", "11"]
    assert at(0) == START and at(60) - at(0) == timedelta(hours=1)
