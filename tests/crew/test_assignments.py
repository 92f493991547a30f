"""Assignments over issued plans: a change counts up, what is called off says so, what was worked stays."""

from __future__ import annotations

from datetime import timedelta

from scheduler.crew.assignments import machines_at_work, of_machine, of_person
from scheduler.planning.plan import Plan, PlanBlock, Value
from tests.events.builders import at, farm

FARM = farm()
PERSON = FARM.operators[0].id
MACHINE = FARM.machines[0].id


def block(name: str, day: int, clock: str, hours: float = 4, **more: object) -> PlanBlock:
    start = at(day, clock)
    parts: dict[str, object] = {
        "rig": MACHINE,
        "machines": (MACHINE,),
        "operator": PERSON,
        "area_ha": 10.0,
    } | more
    return PlanBlock(
        id=name, field="f1", pass_id="plant", start=start, end=start + timedelta(hours=hours), **parts
    )  # type: ignore[arg-type]


def plan(day: int, clock: str, *blocks: PlanBlock) -> Plan:
    value = Value(total=1, bound=0, gap=1, dispatch_total=1, parts={}, status="FEASIBLE")
    made = at(day, clock)
    return Plan(id=f"p{day}{clock}", farm="f", made_at=made, first_day=made.date(), days=14, time_zone="America/Chicago", blocks=blocks, value=value)  # fmt: skip


def test_an_unchanged_assignment_keeps_number_and_stamp() -> None:
    plans = [plan(0, "05:00", block("a", 1, "08:00")), plan(0, "12:00", block("a", 1, "08:00"))]
    (one,) = of_person(plans, FARM, PERSON, at(0, "13:00"))
    assert (one.number, one.changed_at, one.cancelled) == (0, at(0, "05:00"), False)


def test_moved_work_counts_up_and_keeps_its_name() -> None:
    plans = [plan(0, "05:00", block("a", 1, "08:00")), plan(0, "12:00", block("a", 2, "09:00"))]
    before, after = (of_person(some, FARM, PERSON, at(0, "13:00"))[0] for some in (plans[:1], plans))
    assert before.name == after.name
    assert (after.number, after.changed_at, after.start) == (1, at(0, "12:00"), at(2, "09:00"))


def test_work_called_off_is_cancelled_and_comes_back_with_a_higher_number() -> None:
    plans = [
        plan(0, "05:00", block("a", 1, "08:00")),
        plan(0, "12:00"),
        plan(0, "18:00", block("a", 1, "10:00")),
    ]
    (off,) = of_person(plans[:2], FARM, PERSON, at(0, "13:00"))
    assert (off.cancelled, off.number, off.changed_at) == (True, 1, at(0, "12:00"))
    (again,) = of_person(plans, FARM, PERSON, at(0, "19:00"))
    assert (again.cancelled, again.number, again.start) == (False, 2, at(1, "10:00"))


def test_what_had_begun_or_was_done_is_not_called_off() -> None:
    plans = [
        plan(0, "05:00", block("a", 0, "06:00"), block("b", 0, "13:00")),
        plan(0, "12:00", block("b", 0, "14:00")),
    ]
    first, second = of_person(plans, FARM, PERSON, at(0, "15:00"))
    assert not first.cancelled and first.start == at(0, "06:00")
    assert second.start == at(0, "14:00")


def test_work_under_way_keeps_the_start_that_people_know() -> None:
    plans = [plan(0, "05:00", block("a", 0, "06:00", 8)), plan(0, "12:00", block("a", 0, "12:00", 3))]
    (one,) = of_person(plans, FARM, PERSON, at(0, "13:00"))
    assert (one.start, one.end, one.number) == (at(0, "06:00"), at(0, "15:00"), 1)


def test_work_handed_to_somebody_else_leaves_one_calendar_and_enters_another() -> None:
    other = FARM.operators[1].id
    plans = [
        plan(0, "05:00", block("a", 1, "08:00")),
        plan(0, "12:00", block("a", 1, "08:00", operator=other)),
    ]
    (mine,) = of_person(plans, FARM, PERSON, at(0, "13:00"))
    (theirs,) = of_person(plans, FARM, other, at(0, "13:00"))
    assert mine.cancelled and not theirs.cancelled and mine.name != theirs.name
    (rig,) = of_machine(plans, FARM, MACHINE, at(0, "13:00"))
    assert rig.number == 1 and machines_at_work(plans) == [MACHINE]


def test_old_work_is_let_go() -> None:
    plans = [plan(0, "05:00", block("a", 0, "06:00"))]
    assert of_person(plans, FARM, PERSON, at(13, "05:00"))
    assert not of_person(plans, FARM, PERSON, at(16, "05:00"))
