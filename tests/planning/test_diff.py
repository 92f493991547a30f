"""Changes between two plans: what moved, from whom to whom, and because of which news.

No outside source: plans by hand, so that every row is known beforehand.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from scheduler.events.news import News
from scheduler.planning.diff import compare
from scheduler.planning.diff_words import ChangeKind
from scheduler.planning.plan import LeftOut, Plan, PlanBlock, Value
from tests.planning import builders as make

WORTH = Value(total=0, bound=0, gap=0, dispatch_total=0, parts={}, status="FEASIBLE")


def block(
    name: str, day: int, clock: str, operator: str = "ann", machines: str = "small+planter", **more: object
) -> PlanBlock:
    """Return a block ``field/pass/part`` of four hours."""
    field, pass_id, _ = name.split("/")
    start = make.at(day, clock)
    parts: dict[str, object] = {
        "id": name, "field": field, "pass_id": pass_id, "start": start, "end": start + timedelta(hours=4),
        "rig": machines, "machines": tuple(machines.split("+")), "operator": operator, "area_ha": 20.0,
    }  # fmt: skip
    return PlanBlock(**{**parts, **more})  # type: ignore[arg-type]


def plan(*blocks: PlanBlock, made: datetime | None = None, **more: object) -> Plan:
    """Return a plan made on the first morning."""
    parts: dict[str, object] = {
        "id": "plan", "farm": "Test Farm", "made_at": made or make.at(0), "first_day": make.FIRST_DAY, "days": 5,
        "time_zone": make.ZONE, "blocks": blocks, "value": WORTH,
    }  # fmt: skip
    return Plan(**{**parts, **more})  # type: ignore[arg-type]


DOWN = News(
    "e1", "Planter down until Tue 11 May 12:00", things=frozenset({"planter"}), span=(make.at(0), make.at(1, "12:00"))
)  # fmt: skip
RAIN = News("e2", "20 mm of rain on f2", ground=frozenset({"f2"}))
AWAY = News("e3", "Ann is away on Monday", things=frozenset({"ann"}), span=(make.at(0), make.at(1)))


def test_nothing_changed():
    old = plan(block("f1/plant/1", 0, "08:00"))
    found = compare(old, old, [DOWN])
    assert found.rows == () and found.lines() == [] and found.unchanged == 1


def test_a_block_moves_because_its_machine_broke():
    old = plan(block("f1/plant/1", 0, "08:00"))
    new = plan(block("f1/plant/1", 1, "13:00"))
    (row,) = compare(old, new, [RAIN, DOWN]).rows
    assert row.kinds == (ChangeKind.MOVED,)
    assert (row.event_id, row.direct) == ("e1", True)
    assert row.text == "plant in f1: from Mon 10 May 08:00 to Tue 11 May 13:00."
    assert row.because == "Because: Planter down until Tue 11 May 12:00."
    assert row.people == ("ann",)


def test_hands_rigs_and_areas_change():
    old = plan(block("f1/plant/1", 0, "08:00"))
    new = plan(block("f1/plant/1", 0, "08:00", "cy", "big+planter", area_ha=12.0))
    (row,) = compare(old, new, [AWAY]).rows
    assert row.kinds == (ChangeKind.REASSIGNED, ChangeKind.RESIZED)
    assert (row.from_operator, row.to_operator, row.event_id) == ("ann", "cy", "e3")
    assert (
        row.text
        == "plant in f1: from ann to cy, big + planter instead of small + planter, 12 ha instead of 20 ha."
    )
    assert row.people == ("ann", "cy")


def test_areas_that_read_alike_are_no_change_in_words_beside_others():
    old = plan(block("f1/plant/1", 0, "08:00", area_ha=20.0))
    (row,) = compare(old, plan(block("f1/plant/1", 0, "13:00", area_ha=20.3)), [AWAY]).rows
    assert row.kinds == (ChangeKind.MOVED, ChangeKind.RESIZED) and "instead of" not in row.text
    (row,) = compare(old, plan(block("f1/plant/1", 0, "08:00", area_ha=20.3)), [AWAY]).rows
    assert row.text == "plant in f1: 20.3 ha instead of 20.0 ha."


def test_two_who_change_places_are_said_to_once():
    old = plan(block("f1/band/1", 0, "08:00", "ann", support="cy"))
    (row,) = compare(old, plan(block("f1/band/1", 0, "08:00", "cy", support="ann")), []).rows
    assert row.text == "band in f1: cy drives and ann brings the tender, not the other way round."
    (row,) = compare(old, plan(block("f1/band/1", 0, "08:00", "ann", support="bo")), []).rows
    assert row.text == "band in f1: tender by bo instead of cy."


def test_the_news_of_machines_comes_before_that_of_fields_and_of_all():
    old, new = plan(block("f2/plant/1", 0, "08:00")), plan(block("f2/plant/1", 1, "08:00"))
    everywhere = News("e9", "other prices", everything=True)
    assert compare(old, new, [everywhere, RAIN]).rows[0].event_id == "e2"
    assert compare(old, new, [RAIN, DOWN, everywhere]).rows[0].event_id == "e1"
    assert compare(old, new, [everywhere]).rows[0].event_id == "e9"


def test_what_follows_from_another_change_names_its_news():
    """Rain moves f2; the same driver then takes f1 first, which the rain did not touch."""
    old = plan(
        block("f2/plant/1", 0, "08:00"),
        block("f1/plant/1", 1, "08:00"),
        block("f3/scout/1", 0, "09:00", "bob", "car"),
    )
    new = plan(
        block("f2/plant/1", 1, "08:00"),
        block("f1/plant/1", 0, "08:00"),
        block("f3/scout/1", 0, "10:00", "bob", "car"),
    )
    rows = {row.field: row for row in compare(old, new, [RAIN]).rows}
    assert (rows["f1"].event_id, rows["f1"].direct) == ("e2", False)
    assert rows["f1"].because == "Along with: 20 mm of rain on f2."
    assert rows["f3"].event_id is None and rows["f3"].because == "Because a better plan was found."


def test_a_new_forecast_is_named_where_no_news_fits():
    old = plan(block("f1/plant/1", 0, "08:00"), forecast_issued_at=make.at(-1))
    new = plan(block("f1/plant/1", 1, "08:00"), forecast_issued_at=make.at(0))
    assert compare(old, new, [RAIN]).rows[0].because == "Because of the new forecast."


def test_added_and_dropped_with_where_the_work_went():
    old = plan(block("f1/plant/1", 1, "08:00"))
    gone = LeftOut(field="f1", pass_id="plant", area_ha=20.0, reason="too wet", text="")
    new = plan(block("f2/plant/1", 1, "08:00"), left_out=(gone,))
    rows = {row.field: row for row in compare(old, new).rows}
    assert rows["f1"].kinds == (ChangeKind.DROPPED,)
    assert rows["f1"].text == "plant in f1: no longer on Tue 11 May 08:00 with ann, left out: too wet."
    assert rows["f2"].kinds == (ChangeKind.ADDED,)


def test_work_that_is_over_and_done_is_not_told():
    old = plan(block("f1/plant/1", 0, "08:00"), block("f2/plant/1", 1, "08:00"))
    new = plan(block("f2/plant/1", 1, "08:00"), made=make.at(0, "18:00"))
    assert compare(old, new).rows == ()


def test_work_that_should_be_over_and_is_not_moves():
    old = plan(block("f1/plant/1", 0, "08:00"))
    new = plan(block("f1/plant/1", 1, "08:00"), made=make.at(0, "18:00"))
    (row,) = compare(old, new).rows
    assert row.kinds == (ChangeKind.MOVED,)


def test_a_running_block_that_goes_on_is_no_change():
    old = plan(block("f1/plant/1", 0, "08:00"))
    on = block("f1/plant/1", 0, "10:00", under_way=True, area_ha=10.0).model_copy(
        update={"end": make.at(0, "12:00")}
    )
    assert compare(old, plan(on, made=make.at(0, "09:50"))).rows == ()


def test_each_person_hears_only_what_concerns_them():
    old = plan(block("f1/plant/1", 0, "08:00"), block("f3/scout/1", 0, "09:00", "bob", "car"))
    new = plan(block("f1/plant/1", 0, "08:00", "cy"), block("f3/scout/1", 0, "09:00", "bob", "car"))
    found = compare(old, new)
    assert [len(found.of_operator(p)) for p in ("ann", "bob", "cy")] == [1, 0, 1]


def test_names_of_the_farm_are_used():
    farm = make.farm(1)
    named = farm.model_copy(update={"fields": (farm.fields[0].model_copy(update={"name": "Willow Bend"}),)})
    old, new = plan(block("f1/plant/1", 0, "08:00")), plan(block("f1/plant/1", 1, "08:00"))
    assert compare(old, new, farm=named).rows[0].text.startswith("plant in Willow Bend: from Mon")
