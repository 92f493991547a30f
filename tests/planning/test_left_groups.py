"""What is left out or left to later weeks, put together: every field and hectare once, causes before what waits for them."""

from __future__ import annotations

from datetime import date

from scheduler.planning.left_groups import later_lines, left_out_lines
from scheduler.planning.plan import LaterWork, LeftOut, Plan
from shared.vocabulary import Reason
from tests.crew.builders import morning

PLAN, SITUATION, _ = morning()
FARM = SITUATION.farm
CORN = [field.id for field in FARM.fields if FARM.spec(field.id, "side-dress")]
ACRE = 0.40468564224


def out(field: str, pass_id: str, reason: Reason, loss: float, after: str = "") -> LeftOut:
    text = f"{pass_id} in {field}: {reason.value}."
    return LeftOut(
        field=field,
        pass_id=pass_id,
        area_ha=10 * ACRE,
        reason=reason.value,
        text=text,
        loss=loss,
        after=after,
    )


def plan(*rows: LeftOut, later: tuple[LaterWork, ...] = ()) -> Plan:
    return PLAN.model_copy(update={"left_out": rows, "later": later})


def test_a_cause_comes_before_the_dearer_work_that_waits_for_it() -> None:
    waiting = [out(field, "side-dress", Reason.WAITS_FOR_PASS, 900, "plant") for field in CORN[:4]]
    cause = [out(field, "plant", Reason.NO_OPERATOR, 100) for field in CORN[:3]]
    first, second = left_out_lines(plan(*waiting, *cause), FARM)
    names = [FARM.field_by_id[field].label for field in CORN]
    assert (
        first
        == f"Plant corn in 3 fields, 30 ac, worth $300: {Reason.NO_OPERATOR.value}: {', '.join(names[:3])}."
    )
    assert second.startswith(
        "Side-dress and interseed in 4 fields, 40 ac, worth $3,600: Plant corn comes too late or not at all there: "
    )
    assert second.endswith(", ".join(names[:4]) + ".")


def test_few_keep_their_own_sentences_and_reasons_stay_apart() -> None:
    rows = [
        out(CORN[0], "plant", Reason.NO_OPERATOR, 5),
        out(CORN[1], "plant", Reason.NO_OPERATOR, 50),
        out(CORN[2], "plant", Reason.LICENCE, 20),
    ]
    assert left_out_lines(plan(*rows), FARM) == [rows[1].text, rows[2].text, rows[0].text]
    assert left_out_lines(plan(), FARM) == []


def test_many_fields_are_counted_and_the_first_named() -> None:
    rows = [out(field, "plant", Reason.PRICE, 1) for field in CORN]
    (line,) = left_out_lines(plan(*rows), FARM)
    assert f"in {len(CORN)} fields" in line and line.endswith(f" and {len(CORN) - 5} more.")


def test_later_weeks_have_a_line_each() -> None:
    def week(field: str, pass_id: str, day: int, acres: float) -> LaterWork:
        return LaterWork(
            field=field,
            pass_id=pass_id,
            week_from=date(2027, 5, day),
            week_to=date(2027, 5, day + 6),
            area_ha=acres * ACRE,
        )

    later = (
        week(CORN[0], "plant", 24, 40),
        week(CORN[1], "plant", 24, 60),
        week(CORN[1], "scout", 24, 60),
        week(CORN[0], "plant", 17, 20),
    )
    name = FARM.field_by_id[CORN[1]].label
    assert later_lines(plan(later=later), FARM) == [
        f"Week of Mon 17 May: Plant corn 20 ac in {FARM.field_by_id[CORN[0]].label}.",
        f"Week of Mon 24 May: Plant corn 100 ac in 2 fields; Scout 60 ac in {name}.",
    ]
