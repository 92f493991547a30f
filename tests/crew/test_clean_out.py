"""A machine to clean out is said on the list of who drives it, in their language, with the caution for sprayers.

The plan is the wet week's first one with two blocks put on one machine by hand; the caution: Delaware Weed Facts WF-8.
"""

from __future__ import annotations

from datetime import timedelta

from scheduler.crew.day_list import DayList, day_list
from scheduler.crew.language import Words
from scheduler.crew.remarks import remarks
from scheduler.planning.plan import Plan, PlanBlock
from tests.crew.builders import morning

PLAN, SITUATION, OUTLOOK = morning()
FARM = SITUATION.farm
MORNING = min(PLAN.blocks, key=lambda b: b.start).start.replace(hour=8, minute=0)


def listed(first: tuple[str, str], second: tuple[str, str], machines: tuple[str, ...], who: str) -> DayList:
    """Return the list of somebody with two blocks of four hours on one rig."""
    base = next(b for b in PLAN.blocks if b.machines)

    def block(number: int, key: tuple[str, str]) -> PlanBlock:
        start = MORNING + timedelta(hours=5 * number)
        return base.model_copy(
            update={
                "id": f"b{number}", "field": key[0], "pass_id": key[1], "machines": machines, "rig": "+".join(machines),
                "operator": who, "support": None, "start": start, "end": start + timedelta(hours=4),
            }
        )  # fmt: skip

    plan: Plan = PLAN.model_copy(update={"blocks": (block(0, first), block(1, second)), "on_way": {}})
    return day_list(plan, SITUATION, OUTLOOK, who, MORNING.date())


def test_another_seed_is_said_in_the_drivers_language() -> None:
    one = listed(("kiln", "plant"), ("alder-bottom", "plant"), ("big", "planter"), "benat")
    assert [stop.clean_out for stop in one.stops] == [
        "",
        "Primero vacíe y limpie Planter 12, 30 min: tenía Seed corn",
    ]
    assert one.stops[1].clean_out in [line.text for line in remarks(one.stops[1], Words("es"))]
    assert not any("amoníaco" in line for line in one.cautions)


def test_the_same_seed_at_another_rate_is_not() -> None:
    one = listed(("kiln", "plant"), ("long-acre", "plant"), ("big", "planter"), "ilse")
    assert [stop.clean_out for stop in one.stops] == ["", ""]
    rates = [stop.loads[0].rate_text for stop in one.stops]
    assert rates == ["32,000 seeds/ac", "34,000 seeds/ac"]


def test_another_spray_comes_with_its_caution() -> None:
    one = listed(("stone-row", "terminate"), ("upper-mill", "post"), ("sprayer",), "ilse")
    assert one.stops[1].clean_out == "First clean out Sprayer, 40 min: Burn-down herbicide was in it"
    assert any("never mix ammonia and chlorine bleach" in line for line in one.cautions)
    same = listed(("stone-row", "terminate"), ("far-west", "terminate"), ("sprayer",), "ilse")
    assert not any("ammonia" in line for line in same.cautions)
