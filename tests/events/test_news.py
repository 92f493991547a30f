"""What each kind of report is about. No outside source: one report of each kind by hand."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from scheduler.events import kinds
from scheduler.events.codec import Event
from scheduler.events.kinds import KINDS, Body
from scheduler.events.news import ALL, News, news_of
from scheduler.events.state import State

NOW = datetime(2027, 5, 10, 12, tzinfo=UTC)
LATER = NOW + timedelta(days=2)


def event(body: Body, name: str = "e1") -> Event:
    kind = next(kind for kind, form in KINDS.items() if form is type(body))
    return Event(
        id=name, kind=kind, happened_at=NOW, recorded_at=NOW, by="ann", source="cli", sequence=1, body=body
    )


def told(body: Body) -> News:
    return news_of(event(body), "said")


@pytest.mark.parametrize(
    "body",
    [
        kinds.PassStarted(field="f1", pass_id="plant", operator="ann"),
        kinds.PassPaused(field="f1", pass_id="plant"),
        kinds.PassProgressed(field="f1", pass_id="plant", area_ha=2.0, operator="ann"),
        kinds.PassFinished(field="f1", pass_id="plant"),
        kinds.PassCancelled(field="f1", pass_id="plant"),
        kinds.BlockPinned(pin="p1", field="f1", pass_id="plant", start=NOW, operator="ann"),
    ],
)
def test_reports_of_work_are_about_that_work_and_about_no_person(body: Body) -> None:
    finished = isinstance(body, kinds.PassFinished)
    assert told(body) == News("e1", "said", NOW, work=frozenset({("f1", "plant")}), finished=finished)


def test_things_are_missing_for_a_time() -> None:
    assert told(kinds.MachineDown(machine="planter", until=LATER)).span == (NOW, LATER)
    away = told(kinds.OperatorAbsent(operator="ann", start=LATER))
    assert (away.things, away.span) == (frozenset({"ann"}), (LATER, None))
    assert told(kinds.MachineBack(machine="planter")).span is None


def test_rain_and_ground() -> None:
    assert told(kinds.RainMeasured(rain_mm=5.0)).ground == {ALL}
    assert told(kinds.RainMeasured(rain_mm=5.0, field="f1")).ground == {"f1"}
    assert told(kinds.GroundCalibrated(limit_shift=0.01)).names == {ALL}


def test_a_pin_taken_out_is_about_the_work_it_held_and_a_correction_about_what_it_corrects() -> None:
    pin = event(kinds.BlockPinned(pin="p1", field="f1", pass_id="plant", start=NOW), "e1")
    rain = event(kinds.RainMeasured(rain_mm=5.0, field="f2"), "e2")
    history = State(told={one.id: one for one in (pin, rain)}, facts={pin.id: pin})
    out = news_of(event(kinds.BlockUnpinned(pin="p1"), "e3"), "said", history)
    assert (out.id, out.work) == ("e3", {("f1", "plant")})
    mended = news_of(event(kinds.EventCorrected(event_id="e2"), "e4"), "said", history)
    assert (mended.id, mended.ground) == ("e4", {"f2"})
    assert news_of(event(kinds.EventCorrected(event_id="gone"), "e5"), "said", history).everything


def test_a_correction_is_about_what_was_told_and_what_is_told_now_for_the_time_told_now() -> None:
    wrong = event(kinds.MachineDown(machine="planter", until=LATER), "e1")
    right = event(kinds.MachineDown(machine="sprayer", until=LATER + timedelta(days=3)), "e1")
    news = news_of(
        event(kinds.EventCorrected(event_id="e1", body={}), "e2"),
        "said",
        State(facts={"e1": right}, told={"e1": wrong}),
    )
    assert news.things == {"planter", "sprayer"}
    assert news.span == (NOW, LATER + timedelta(days=3))


def test_changes_of_the_farm() -> None:
    field = kinds.FarmChanged(part=kinds.Part.FIELD, name="f1,f2", values={"crop": "corn"})
    assert told(field).fields == {"f1", "f2"}
    machine = kinds.FarmChanged(part=kinds.Part.MACHINE, name="planter", values={"speed": "5 mph"})
    assert told(machine).things == {"planter"}
    assert told(kinds.FarmChanged(part=kinds.Part.PLAN, values={"seconds": 5})).everything
