"""A machine that changes hands in a day is told to both who drive it; no outside source.

The plan is the wet week's first one with its blocks put on one sprayer by hand.
"""

from __future__ import annotations

from scheduler.crew.day_list import day_list
from scheduler.crew.handed import comes_hitched, handed
from scheduler.crew.language import Words
from scheduler.planning.plan import Plan, PlanBlock
from tests.crew.builders import morning

PLAN, SITUATION, OUTLOOK = morning()
FARM = SITUATION.farm
EN, ES = Words("en"), Words("es")


def two_on_one_machine() -> tuple[Plan, PlanBlock, PlanBlock]:
    """Return a plan in which Oskari has the sprayer until noon and Ilse after."""
    first, second = sorted((b for b in PLAN.blocks if b.machines[:1] == ("sprayer",)), key=lambda b: b.start)[
        :2
    ]
    day = first.start.replace(hour=9, minute=0)
    one = first.model_copy(
        update={"start": day, "end": day.replace(hour=12), "operator": "oskari", "support": None}
    )
    two = second.model_copy(
        update={
            "start": day.replace(hour=13),
            "end": day.replace(hour=16),
            "operator": "ilse",
            "support": None,
        }
    )
    return PLAN.model_copy(update={"blocks": (one, two)}), one, two


def test_both_are_told_and_nothing_is_hitched_at_the_yard() -> None:
    plan, one, two = two_on_one_machine()
    there, here = FARM.field_by_id[one.field].label, FARM.field_by_id[two.field].label
    assert handed(plan, FARM, one, EN) == (
        f"Ilse needs Sprayer next, in {here} from 13:00: agree where you hand it over",
    )
    assert handed(plan, FARM, two, EN) == (
        f"Oskari has Sprayer until 12:00, in {there}: agree where you take it over",
    )
    assert handed(plan, FARM, two, ES)[0].startswith("Oskari tiene Sprayer hasta las 12:00")
    assert comes_hitched(plan, two) and not comes_hitched(plan, one)
    day = one.start.date()
    lists = [day_list(plan, SITUATION, OUTLOOK, who, day) for who in ("oskari", "ilse")]
    assert [one.hitch for one in lists] == [("Take Sprayer",), ()]
    assert [len(one.stops[0].handed) for one in lists] == [1, 1]


def test_nobody_is_told_of_a_machine_that_stays_with_its_driver_or_rests_a_night() -> None:
    plan, one, two = two_on_one_machine()
    alone = plan.model_copy(update={"blocks": (one, two.model_copy(update={"operator": "oskari"}))})
    assert handed(alone, FARM, one, EN) == ()
    tomorrow = two.model_copy(
        update={
            "start": two.start.replace(day=two.start.day + 1),
            "end": two.end.replace(day=two.end.day + 1),
        }
    )
    assert handed(plan.model_copy(update={"blocks": (one, tomorrow)}), FARM, one, EN) == ()
