"""Reports of work with their times teach how long a machine's work takes; no outside source (the sums: test_learned_pace)."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from scheduler.events.decide import decide
from scheduler.events.paces import FROM_PHONE
from scheduler.events.report import Report
from scheduler.farm.farm import Farm
from scheduler.farm.learned_pace import Visit, learned_pace
from scheduler.farm.rig import pace, rigs_of
from scheduler.planning.pace_notes import pace_notes
from scheduler.planning.schedule import make_plan
from scheduler.solver.result import Limits
from shared.vocabulary import EventKind
from tests.events.builders import Told, at, farm
from tests.planning import builders

SPRAY = "sprayer"
SETUP = 5.0
"""Minutes in each field, of the tests' machines."""


def nominal_minutes(area_ha: float, of: Farm | None = None) -> float:
    """Return what the farm file says for terminating so much."""
    known = of or farm()
    rig = next(rig for rig in rigs_of(known) if rig.id == SPRAY)
    spec = known.spec("f1", "terminate")
    assert spec is not None
    return pace(known, rig, spec, known.field_by_id["f1"]).minutes(area_ha)


def sprayed(
    told: Told, began: datetime, minutes: float, area_ha: float, field: str = "f1", source: str = "page"
) -> None:
    """Tell a visit with both of its times."""
    ended = began + timedelta(minutes=minutes)
    body = {
        "field": field, "pass_id": "terminate", "area_ha": area_ha, "operator": "bob", "rig": SPRAY,
        "started_at": began.isoformat(), "ended_at": ended.isoformat(),
    }  # fmt: skip
    report = Report(EventKind.PASS_PROGRESSED, body, ended, "bob", source)
    told.put(decide(report, told.state, told.at(ended)).record)


def factor(told: Told, now: datetime) -> float:
    return told.at(now).farm.machine_by_id[SPRAY].time_factor


def test_a_visit_with_its_times_counts_from_the_next_morning_on() -> None:
    told, work = Told(), nominal_minutes(20.0)
    sprayed(told, at(0, "08:00"), 1.3 * work + SETUP, 20.0)
    wanted = learned_pace([Visit(1.3 * work, work)])
    assert wanted is not None
    assert factor(told, at(0, "20:00")) == 1.0
    assert factor(told, at(1, "05:00")) == pytest.approx(wanted.factor)
    assert 1.05 < wanted.factor < 1.3
    assert nominal_minutes(20.0, told.at(at(1, "05:00")).farm) == pytest.approx(work * wanted.factor)


def test_buttons_pressed_at_the_field_count_too_and_a_pause_does_not() -> None:
    again, work = at(0, "11:00"), nominal_minutes(20.0)
    half = again + timedelta(minutes=SETUP + 1.2 * work / 2)
    whole = half + timedelta(minutes=1.2 * work / 2)
    who = {"field": "f1", "pass_id": "terminate", "operator": "bob"}
    steps = (
        (at(0, "08:00"), EventKind.PASS_STARTED, {"rig": SPRAY}), (at(0, "08:30"), EventKind.PASS_PAUSED, {}),
        (again, EventKind.PASS_STARTED, {"rig": SPRAY}), (half, EventKind.PASS_PROGRESSED, {"area_ha": 10.0}),
        (whole, EventKind.PASS_FINISHED, {}),
    )  # fmt: skip
    phone, office = Told(), Told()
    for told, source in ((phone, FROM_PHONE), (office, "page")):
        for when, kind, more in steps:
            told.put(decide(Report(kind, who | more, when, "bob", source), told.state, told.at(when)).record)
    wanted = learned_pace([Visit(0.6 * work, work / 2)] * 2)
    assert wanted is not None and phone.at(at(1)).paces[SPRAY].visits == 2
    assert factor(phone, at(1)) == pytest.approx(wanted.factor)
    # What is told from an office may be told long after.
    assert office.at(at(1)).paces == {}


def test_what_has_no_times_or_nobody_reported_teaches_nothing() -> None:
    told = Told()
    told.say(at(0, "18:00"), "done", "f1", "terminate", "10 ha", operator="bob", rig=SPRAY)
    sprayed(told, at(0, "08:00"), 600, 20.0, "f2", source="what if")
    assert told.at(at(1)).paces == {} and factor(told, at(1)) == 1.0


def test_the_farm_file_may_say_that_nothing_is_learned() -> None:
    deaf = farm()
    deaf = deaf.model_copy(update={"plan": deaf.plan.model_copy(update={"learn_pace": False})})
    told = Told(deaf)
    sprayed(told, at(0, "08:00"), 1.5 * nominal_minutes(20.0), 20.0)
    now = told.at(at(1))
    assert factor(told, at(1)) == 1.0
    assert pace_notes(now)[0].endswith("plans do not count on it (plan.learn_pace)")


def test_plans_take_longer_and_say_so() -> None:
    told = Told()
    for field, area in (("f1", 20.0), ("f2", 27.0)):
        sprayed(
            told,
            at(0, "08:00" if field == "f1" else "12:00"),
            2.0 * nominal_minutes(area) + SETUP,
            area,
            field,
        )
    now = told.at(at(1, "05:00"))
    outlook = builders.outlook(
        now.farm, days=4, chance=lambda field, pass_id, day, hour: 0.9 if 7 <= hour < 20 else 0.0
    )
    plans = [
        make_plan(one, outlook, builders.horizon(4), Limits(0.3, 1, 1, deterministic=True), use_engine=False)
        for one in (now, replace(now, farm=farm(), paces={}))
    ]
    hours = [
        sum((b.end - b.start) / timedelta(hours=1) for b in plan.blocks if b.pass_id == "terminate")
        for plan in plans
    ]
    assert hours[0] > 1.1 * hours[1] > 0
    said = "sprayer has taken 100% longer than the farm file says (2 reports); plans count on "
    assert any(note.startswith(said) for note in plans[0].notes) and not any(
        "longer" in note for note in plans[1].notes
    )


def test_a_machine_that_nobody_named_is_the_only_one_that_can() -> None:
    told = Told()
    told.say(at(0, "18:00"), "done", "f1", "terminate", "20 ha", operator="bob", since="17:00")
    visits = {name: one.visits for name, one in told.at(at(1)).paces.items()}
    assert visits == {SPRAY: 1}
    two = farm()
    second = two.machine_by_id[SPRAY].model_copy(update={"id": "sprayer-2"})
    told = Told(two.model_copy(update={"machines": (*two.machines, second)}))
    told.say(at(0, "18:00"), "done", "f1", "terminate", "20 ha", operator="bob", since="17:00")
    assert told.at(at(1)).paces == {}
