"""Where a doubtful field turns out unfit: second choices. No source; odds by hand, what comes out judged by the checker."""

from __future__ import annotations

from dataclasses import replace
from unittest.mock import patch

import pytest

from scheduler.planning import instead
from scheduler.planning.instead import with_instead
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.windows.records import Outlook
from tests.planning import builders as make
from tests.planning.steady import short_plan

FARM = make.farm(3)
MORNING = make.situation(FARM)


def outlook(**early: float) -> Outlook:
    """Return an outlook in which a field's spraying has other odds before ten o'clock; weather alone makes them."""

    def chance(field: str, pass_id: str, day: int, hour: int) -> float:
        usual = make.always(field, pass_id, day, hour)
        if pass_id == "terminate" and day == 0 and hour < 10 and usual > 0:
            return early.get(field, usual)
        return usual

    return make.outlook(FARM, chance=chance)


def seconds(plan: Plan, seen: Outlook) -> dict[str, PlanBlock | None]:
    """Return the second choices by field."""
    by_id = {block.id: block for block in plan.blocks}
    found = with_instead(plan, MORNING, seen).instead
    assert all(one.operator in (by_id[one.block].operator, by_id[one.block].support) for one in found)
    return {by_id[one.block].field: one.then for one in found}


def first_spraying(plan: Plan) -> PlanBlock:
    return min((b for b in plan.blocks if b.pass_id == "terminate"), key=lambda b: b.start)


SURE = short_plan(MORNING, outlook())
FIRST = first_spraying(SURE)


def test_sure_work_needs_no_second_choice():
    assert with_instead(SURE, MORNING, outlook()).instead == ()


def test_who_stands_in_front_of_an_unfit_field_goes_to_one_that_is_fit():
    """The plan has FIRST at seven; half of the weathers say no before ten."""
    then = seconds(SURE, outlook(**{FIRST.field: 0.5}))[FIRST.field]
    assert then is not None
    assert (then.operator, then.pass_id) == (FIRST.operator, "terminate")
    assert then.field != FIRST.field and then.start.date() == FIRST.start.date()
    assert then.start >= FIRST.start and then.chance > 0.75


def test_where_all_are_unfit_they_look_again_when_the_odds_have_risen():
    """Every other spraying is done; given that it is unfit at seven (weathers 5 to 9), of these 4 in 5 are fit from ten on."""
    rest = MORNING
    for field in {f.id for f in FARM.fields} - {FIRST.field}:
        rest = make.with_pass(
            rest, field, "terminate", done_ha=FARM.field_by_id[field].area_ha, finished=True
        )

    def chance(field: str, pass_id: str, day: int, hour: int) -> float:
        if pass_id != "terminate":
            return 0.0
        return 0.5 if day == 0 and 7 <= hour < 10 else make.always(field, pass_id, day, hour)

    seen = make.outlook(FARM, chance=chance)
    plan = short_plan(rest, seen)
    early = first_spraying(plan).model_copy(update={"start": FIRST.start, "end": FIRST.end, "chance": 0.5})
    plan = plan.model_copy(update={"blocks": (early,)})
    (one,) = with_instead(plan, rest, seen).instead
    assert one.then is not None
    assert (one.then.field, one.then.start.hour) == (FIRST.field, 10)
    assert one.then.chance == pytest.approx(0.8)


def test_where_nothing_is_left_that_is_said():
    def never_again(field: str, pass_id: str, day: int, hour: int) -> float:
        return 0.5 if day == 0 and field == FIRST.field and pass_id == "terminate" and 7 <= hour < 20 else 0.0

    seen = make.outlook(FARM, chance=never_again)
    assert seconds(short_plan(MORNING, seen), seen) == {FIRST.field: None}


def test_others_keep_what_they_were_told_and_a_second_choice_is_given_once():
    """Two sprayers with a doubtful field each, one field more: it is promised to one of them."""
    sprayer = next(m for m in FARM.machines if m.id == "sprayer")
    people = (*FARM.operators, make.person("dee", "terminate", "spray"))
    two = make.farm(
        3, machines=(*FARM.machines, sprayer.model_copy(update={"id": "second"})), operators=people
    )
    start = make.situation(two)

    def seen_with(third: float) -> Outlook:
        def chance(field: str, pass_id: str, day: int, hour: int) -> float:
            if pass_id != "terminate" or day > 0 or not 7 <= hour < 9:
                return 0.0
            return third if field == "f1" else 0.5

        return make.outlook(two, chance=chance)

    seen = seen_with(0.9)
    plan = short_plan(start, seen_with(0.0))
    assert {b.field for b in plan.blocks} == {"f2", "f3"} and len({b.operator for b in plan.blocks}) == 2
    found = with_instead(plan, start, seen).instead
    assert len(found) == 2
    assert [one.then.field for one in found if one.then is not None] == ["f1"]


def test_only_what_the_checker_passes_goes_out():
    seen = outlook(**{FIRST.field: 0.5})
    with patch.object(instead, "check_plan", lambda *_: ["a rule is broken"]):
        assert with_instead(SURE, MORNING, seen).instead == ()


def test_large_farms_look_at_fewer():
    seen = outlook(**{f.id: 0.5 for f in FARM.fields})
    told: list[tuple[int, int]] = []
    with patch.object(instead, "EFFORT_FIELDS", 3):
        with_instead(SURE, MORNING, seen, lambda number, of: told.append((number, of)))
    assert told == [(0, 1)]


def test_what_is_under_way_or_far_ahead_has_none():
    seen = outlook(**{f.id: 0.5 for f in FARM.fields})
    running = [b.model_copy(update={"under_way": True}) for b in SURE.blocks]
    assert with_instead(SURE.model_copy(update={"blocks": tuple(running)}), MORNING, seen).instead == ()
    before = replace(MORNING, now=make.at(-2))
    assert with_instead(SURE, before, seen).instead == ()
