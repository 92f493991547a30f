"""Replanning upsets people as little as it pays: unrest is priced, calm plans win among equals.

No outside source: the prices are assumptions of this project, held here as arithmetic.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from unittest.mock import patch

import pytest

from scheduler.events.news import News
from scheduler.events.situation import Span
from scheduler.planning import schedule
from scheduler.planning.before import faded
from scheduler.planning.compile import compile_problem
from scheduler.planning.compiled import Compiled
from scheduler.planning.costs import CENTS
from scheduler.planning.diff import compare
from scheduler.planning.plan import Plan
from scheduler.planning.replan import all_in, calm_problem, touched, unrest
from scheduler.planning.steadier import moved, moved_and_shifted, plans_between
from scheduler.solver.dispatch import dispatch
from scheduler.solver.evaluate import evaluate
from scheduler.solver.result import CorePlan, Limits
from tests.planning import builders as make
from tests.planning.steady import steady_plan

FARM = make.farm(4)
SITUATION, OUTLOOK = make.situation(FARM), make.outlook(FARM)
PLAN = steady_plan(SITUATION, OUTLOOK, effort=1.0)


def compiled(**news: object) -> Compiled:
    """Return the problem of a morning with the plan that people know."""
    return compile_problem(replace(SITUATION, **news), OUTLOOK, make.horizon(), FARM.plan, PLAN)  # type: ignore[arg-type]


def test_the_plan_that_stands_costs_no_unrest_and_is_found_again():
    found = compiled()
    assert found.start is not None
    assert len(found.start.blocks) == len(PLAN.blocks)
    assert unrest(found, found.start, 60.0) == 0.0
    assert all_in(found, found.start, 60.0) == pytest.approx(100 * PLAN.value.total, abs=1)


def test_unrest_fades_with_the_days_and_is_less_within_the_day():
    found = compiled()
    assert found.start is not None
    blocks = sorted(found.start.blocks)
    for block in (blocks[0], blocks[-1]):
        day = block.start // 96
        gone = CorePlan(tuple(b for b in blocks if b != block))
        assert unrest(found, gone, 60.0) == pytest.approx(6000 * faded(day))
        shifted = CorePlan(
            tuple(replace(b, start=b.start + 1, end=b.end + 1) if b == block else b for b in blocks)
        )
        assert unrest(found, shifted, 60.0) == pytest.approx(1500 * faded(day))
    assert [faded(k) for k in (0, 1, 2, 9)] == [1.0, 0.5, 0.25, 0.1]


def test_the_calm_search_lets_sound_near_blocks_stand_and_no_broken_one():
    """Away is who has the first work of the second day: it falls, the first day stands, the third is free."""
    known = compiled()
    assert known.start is not None
    tomorrow = min(b for b in known.start.blocks if b.start >= 96)
    people = {
        name: k for k, name in enumerate([m.id for m in FARM.machines] + [p.id for p in FARM.operators])
    }
    absent = next(p.id for p in FARM.operators if people[p.id] in tomorrow.resources)
    found = compiled(operator_away={absent: (Span(make.at(1), make.at(2)),)})
    calm = calm_problem(found, dispatch(found.problem, start=found.start))
    assert calm is not None and calm.pins
    assert all(pin.start < 2 * 96 for pin in calm.pins)
    assert not any(people[absent] in pin.resources and pin.start >= 96 for pin in calm.pins)
    first_day = {(b.task, b.start) for b in known.start.blocks if b.start < 96}
    assert first_day <= {(pin.task, pin.start) for pin in calm.pins}


def keys(plan: Plan) -> set[tuple[str, str, object, str]]:
    """Return what a crew would notice of the first three days."""
    return {(b.field, b.pass_id, b.start, b.operator) for b in plan.blocks if b.start < make.at(3)}


def test_a_new_day_without_news_leaves_the_near_plan_alone(monkeypatch: pytest.MonkeyPatch):
    """All of Monday was done as planned; on Tuesday morning the days that people know still stand."""
    situation = SITUATION
    for block in PLAN.of_day(make.FIRST_DAY):
        situation = make.with_pass(
            situation, block.field, block.pass_id, done_ha=block.area_ha, finished=True, finished_at=block.end,
            last_rig=block.rig, last_operator=block.operator, last_report_at=block.end,
        )  # fmt: skip
    tuesday = replace(situation, now=make.at(1))
    monkeypatch.setattr(make, "FIRST_DAY", make.FIRST_DAY + timedelta(days=1))
    again = steady_plan(tuesday, make.outlook(FARM), PLAN)
    known = {key for key in keys(PLAN) if key[2] >= make.at(0)}  # type: ignore[operator]
    assert len(known & keys(again)) >= 0.95 * len(known)


def test_far_news_moves_under_a_twentieth_of_what_it_does_not_touch():
    """A driver of the last day falls out: of the blocks of the first days, under 5 % move."""
    news = replace(SITUATION, now=make.at(0, "05:30"), operator_away={"cy": (Span(make.at(4), make.at(5)),)})
    again = steady_plan(news, OUTLOOK, PLAN)
    assert len(keys(PLAN) - keys(again)) < 0.05 * len(keys(PLAN))
    cy_away = News("e", "Cy is away on Friday", things=frozenset({"cy"}), span=(make.at(4), make.at(5)))
    touched = [row for row in compare(PLAN, again, [cy_away], FARM).rows if row.direct]
    assert all(
        "cy" in (row.from_operator, row.to_operator, row.from_support, row.to_support) for row in touched
    )


def test_moved_counts_blocks_that_leave_their_day_or_their_people():
    found = compiled()
    assert found.start is not None
    blocks = sorted(found.start.blocks)
    assert moved(found, found.start) == 0
    later = [replace(b, start=b.start + 1, end=b.end + 1) if b == blocks[0] else b for b in blocks]
    assert moved(found, CorePlan(tuple(later))) == 0, (
        "another hour of the same day with the same people is no move"
    )
    tomorrow = [replace(b, start=b.start + 96, end=b.end + 96) if b == blocks[0] else b for b in blocks]
    assert moved(found, CorePlan(tuple(tomorrow))) == 1
    assert moved(found, CorePlan(tuple(blocks[1:]))) == 1


def test_shifts_of_more_than_an_hour_are_counted_behind_moves():
    found = compiled()
    assert found.start is not None
    blocks = sorted(found.start.blocks)

    def shifted(quarters: int) -> CorePlan:
        return CorePlan(
            tuple(replace(b, start=b.start + quarters, end=b.end + quarters) for b in blocks[-1:])
        )

    rest = tuple(blocks[:-1])
    assert moved_and_shifted(found, CorePlan((*rest, *shifted(0).blocks))) == (0, 0)
    assert moved_and_shifted(found, CorePlan((*rest, *shifted(-4).blocks))) == (0, 0)
    assert moved_and_shifted(found, CorePlan((*rest, *shifted(-5).blocks))) == (0, 1)
    assert moved_and_shifted(found, CorePlan((*rest, *shifted(-96).blocks))) == (1, 0)


def test_dearer_moves_move_no_more_and_everything_stays_within_the_rules():
    """A person is away for two days: what lies between the calmest plan and the free one breaks no rule."""
    found = compiled(operator_away={"bob": (Span(make.at(0), make.at(2, "12:00")),)})
    limits = Limits(0.6, 1, 3, deterministic=True)
    assert found.start is not None
    calm = dispatch(found.problem, start=found.start)
    still = plans_between(found, [calm], limits, 0.0, move_cost=1e6)
    loose = plans_between(found, [calm], limits, 0.0, move_cost=1e-6)
    for core in (*still, *loose):
        assert not evaluate(found.problem, core).violations
    assert max(moved(found, p) for p in still) <= moved(found, calm)
    before = all_in(found, calm, 0.0)
    after = [all_in(found, core, 0.0) for core in loose]
    assert before is not None
    assert min(price for price in after if price is not None) <= before


def test_the_news_touches_what_cannot_stand_and_what_follows_it_in_its_field():
    """Ann is away on Tuesday: her blocks of that day, and all that comes later in these fields."""
    day, over = make.at(1, "00:00"), make.at(2, "00:00")
    found = compiled(operator_away={"ann": (Span(day, over),)})
    assert found.start is not None
    hers = [b for b in PLAN.blocks if "ann" in (b.operator, b.support) and day <= b.start < over]
    since = {f.id: min((b.start for b in hers if b.field == f.id), default=None) for f in FARM.fields}
    named = {
        (found.jobs[b.task].field.id, found.grid.moment(b.start))
        for b in touched(found, dispatch(found.problem, start=found.start))
    }
    expected = {(b.field, b.start) for b in PLAN.blocks if (first := since[b.field]) and b.start >= first}
    assert hers and named == expected
    assert touched(compiled(), found.start) == set()
    one = next(b for b in found.start.blocks if b.start > found.grid.up(over))
    without = CorePlan(tuple(b for b in found.start.blocks if b != one))
    assert moved(found, without) == 1 and moved(found, without, {one}) == 0


def test_a_moved_block_has_to_save_its_price():
    """Two plans of the same morning: the known one, and one that moves two blocks and saves 1,500 a block, or 2,000."""
    found = compiled()
    assert found.start is not None
    free = CorePlan(found.start.blocks[2:])
    price = {found.start: 10_000.0, free: 0.0}
    assert moved(found, free) == 2

    def cents(_: object, core: CorePlan, __: float) -> float:
        return price[core] * CENTS

    for saved, taken in ((1_500.0, found.start), (2_000.0, free)):
        price[free] = 10_000.0 - 2 * saved
        with patch.object(schedule, "all_in", cents):
            core, how, _ = schedule._chosen(found, [(free, "engine"), (found.start, "mended")], 60.0, True)
            assert core == taken and how == ("engine" if taken is free else "mended")
            assert (
                schedule._chosen(found, [(free, "engine"), (found.start, "mended")], 60.0, False)[0] == free
            )


def test_where_changes_cost_nothing_the_cheapest_plan_is_taken_whatever_people_know():
    """A what-if asks what a way is worth: a plan a little dearer than need be must not stay because it is known."""
    later = [plan for block in PLAN.blocks if (plan := _later(block.id)) is not None]
    known = max(later, key=lambda plan: plan.value.total)
    assert known.value.total > PLAN.value.total + 20
    farm = FARM.model_copy(update={"plan": FARM.plan.model_copy(update={"change_cost": 0.0})})
    assert steady_plan(make.situation(farm), OUTLOOK, known).value.total <= PLAN.value.total + 0.02


def _later(block_id: str) -> Plan | None:
    """Return the plan with one block two hours later, with its price; None where that cannot be."""
    late = timedelta(hours=2)
    blocks = tuple(
        b.model_copy(update={"start": b.start + late, "end": b.end + late}) if b.id == block_id else b
        for b in PLAN.blocks
    )
    plan = PLAN.model_copy(update={"blocks": blocks, "fingerprint": ""})
    found = compile_problem(SITUATION, OUTLOOK, make.horizon(), FARM.plan, plan)
    price = (
        None
        if found.start is None or len(found.start.blocks) < len(blocks)
        else all_in(found, found.start, 0.0)
    )
    return (
        None
        if price is None
        else plan.model_copy(update={"value": plan.value.model_copy(update={"total": price / 100})})
    )
