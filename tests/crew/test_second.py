"""Second choices on lists, and for the manager: what can hurt and what must be taken along is told with them. No source."""

from __future__ import annotations

from datetime import timedelta

from scheduler.crew.day_list import day_list
from scheduler.crew.language import Words
from scheduler.crew.plan_text import plan_text
from scheduler.crew.second import Second, second_lines
from scheduler.crew.show import day_list_text
from scheduler.events.situation import Situation
from scheduler.farm.farm import Farm
from scheduler.planning.plan import Instead, Plan, PlanBlock
from scheduler.planning.still_there import still_there
from tests.crew.builders import morning

EN = Words("en")
PLAN, SITUATION, OUTLOOK = morning()
FIRST = min(
    (
        b
        for b in PLAN.blocks
        if b.pass_id == "plant" and SITUATION.farm.field_by_id[b.field].crop.value == "corn"
    ),
    key=lambda b: (b.start, b.id),
).model_copy(update={"chance": 0.4})
DAY = FIRST.start.date()


def other(**changes: object) -> PlanBlock:
    """Return the same block as other work of its people, in a field that nobody has that day."""
    taken = {b.field for b in PLAN.of_day(DAY)}
    field = next(
        f for f in SITUATION.farm.fields if f.id not in taken and f.crop.value == "soybean" and f.hazards
    )
    later = {"start": FIRST.start + timedelta(hours=1), "end": FIRST.end + timedelta(hours=1)}
    return FIRST.model_copy(update={"id": "", "field": field.id, "chance": 0.62, **later, **changes})


def plan_with(then: PlanBlock | None, block: PlanBlock = FIRST) -> Plan:
    blocks = tuple(block if b.id == block.id else b for b in PLAN.blocks)
    return PLAN.model_copy(
        update={"blocks": blocks, "instead": (Instead(block=block.id, operator=block.operator, then=then),)}
    )


def second_of(plan: Plan, language: str = "en") -> Second | None:
    one = day_list(plan, in_language(SITUATION, language), OUTLOOK, FIRST.operator, DAY)
    return next(stop.second for stop in one.stops if stop.block == FIRST.id)


def in_language(situation: Situation, language: str) -> Situation:
    people = tuple(p.model_copy(update={"language": language}) for p in situation.farm.operators)
    farm: Farm = situation.farm.model_copy(update={"operators": people})
    return Situation(**{**situation.__dict__, "farm": farm})


def test_another_field_is_named_with_time_odds_hazards_and_what_it_takes():
    then = other()
    second = second_of(plan_with(then))
    field = SITUATION.farm.field_by_id[then.field]
    assert second is not None
    assert second.text == (
        f"If it is not fit: report it, then: Plant soybeans in {field.label}, about {then.start:%H:%M} (odds 62 %)."
    )
    assert second.hazards == tuple(f"{field.label}: {hazard}" for hazard in field.hazards)
    assert any(line.startswith(f"For {field.label} have with you: Seed soybeans") for line in second.notes)
    assert f"{field.label}: First clean out Planter 12, 30 min: Seed corn was in it" in second.notes


def test_in_spanish():
    second = second_of(plan_with(other()), "es")
    assert second is not None
    assert second.text.startswith("Si no está apto: infórmelo; después: Sembrar en ")
    assert any("tenga consigo" in line for line in second.notes)


def test_the_same_field_later_and_nothing_at_all():
    again = second_of(
        plan_with(FIRST.model_copy(update={"start": FIRST.start + timedelta(hours=4), "chance": 0.5}))
    )
    assert again is not None and again.hazards == ()
    assert again.text.endswith(f"look again about {FIRST.start + timedelta(hours=4):%H:%M} (odds 50 %).")
    nothing = second_of(plan_with(None))
    assert nothing is not None and "Nothing else is left for you that day" in nothing.text
    assert second_of(PLAN) is None


def test_another_rig_is_named():
    rig = next(b for b in PLAN.blocks if b.rig and b.rig != FIRST.rig)
    second = second_of(plan_with(other(rig=rig.rig, machines=rig.machines)))
    assert second is not None
    assert f" with {SITUATION.farm.machine_label(rig.machines[0])}" in second.text


def test_it_stands_on_the_list_only_where_the_odds_are_poor():
    sure = FIRST.model_copy(update={"chance": 0.9})
    for block, shown in ((FIRST, True), (sure, False)):
        text = day_list_text(day_list(plan_with(other(), block), SITUATION, OUTLOOK, FIRST.operator, DAY))
        assert ("If it is not fit: report it" in text) == shown


def test_the_manager_reads_them_by_field_with_people_together():
    support = next(p.id for p in SITUATION.farm.operators if p.id != FIRST.operator)
    then = other(support=support)
    pair = FIRST.model_copy(update={"support": support})
    plan = plan_with(then, pair)
    both = tuple(Instead(block=FIRST.id, operator=name, then=then) for name in (FIRST.operator, support))
    plan = plan.model_copy(update={"instead": both})
    farm = SITUATION.farm
    who = f"{farm.operator_label(FIRST.operator)} and {farm.operator_label(support)}"
    line = (
        f"{farm.field_label(FIRST.field)} at {EN.short_day(DAY)} {FIRST.start:%H:%M} ({who}): "
        f"Plant soybeans in {farm.field_label(then.field)} about {then.start:%H:%M}, 62%."
    )
    assert second_lines(plan, farm, EN) == [line]
    text = plan_text(plan, farm, None, ())
    assert "If it is not fit when they get there" in text and line in " ".join(text.split())
    assert "If it is not fit when they get there" not in plan_text(PLAN, farm, None, ())


def test_a_field_that_is_gone_is_nobodys_second_choice():
    gone = plan_with(other(field="sold-field"))
    assert still_there(gone, SITUATION.farm, SITUATION.now).instead == ()
