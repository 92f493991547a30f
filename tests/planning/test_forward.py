"""Who lost their work of today does their own later work, where a field of theirs is fit. No source; the checker and prices judge."""

from __future__ import annotations

from dataclasses import replace

from scheduler.planning.before import previous_blocks
from scheduler.planning.checker import check_plan
from scheduler.planning.compile import compile_problem
from scheduler.planning.compiled import Compiled
from scheduler.planning.forward import brought_forward
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.planning.replan import all_in
from scheduler.solver.dispatch import dispatch
from scheduler.solver.result import CorePlan
from scheduler.windows.records import Outlook
from tests.planning import builders as make
from tests.planning.steady import steady_plan

FARM = make.farm(3)
MORNING = make.situation(FARM)


def seen(shut: str = "", only: bool = True) -> Outlook:
    """Return an outlook in which only spraying can run, in one field not at all today."""

    def chance(field: str, pass_id: str, day: int, hour: int) -> float:
        if pass_id != "terminate" and only:
            return 0.0
        return 0.0 if field == shut and day == 0 else make.always(field, pass_id, day, hour)

    return make.outlook(FARM, chance=chance)


FIRST = steady_plan(MORNING, seen())


def known(**moved_to: int) -> Plan:
    """Return a known plan in which some fields are sprayed on another day at the time they had."""
    blocks = []
    for block in FIRST.blocks:
        shift = make.at(moved_to.get(block.field, 0)) - make.at(0)
        blocks.append(block.model_copy(update={"start": block.start + shift, "end": block.end + shift}))
    return FIRST.model_copy(update={"blocks": tuple(blocks)})


def at_news(plan: Plan, shut: str) -> tuple[Compiled, CorePlan]:
    """Return the problem after the news that a field is shut today, and the plan with nothing in its place."""
    found = compile_problem(MORNING, seen(shut), make.horizon(), FARM.plan, plan)
    return found, dispatch(found.problem, start=found.start)


def today(found: Compiled, core: CorePlan) -> dict[str, int]:
    """Return by field the first quarter hour of its spraying of today."""
    end = found.problem.days[0][1]
    return {found.jobs[b.task].field.id: b.start for b in core.blocks if b.start < end}


def only_one() -> tuple[PlanBlock, str]:
    """Return the spraying that comes first, and another field."""
    block = min(FIRST.blocks, key=lambda b: b.start)
    return block, next(f.id for f in FARM.fields if f.id != block.field)


def test_later_fields_of_the_same_person_are_done_one_after_the_other_in_the_hours_left_empty():
    lost, _ = only_one()
    plan = known(**{f.id: 3 for f in FARM.fields if f.id != lost.field})
    found, core = at_news(plan, lost.field)
    start = found.grid.up(lost.start)
    assert found.lost == ((start, frozenset({lost.operator})),)
    assert found.start is not None
    still = CorePlan(found.start.blocks)
    assert today(found, still) == {}
    after = brought_forward(found, still, 60.0)
    others = {f.id for f in FARM.fields} - {lost.field}
    assert set(today(found, after)) == others and min(today(found, after).values()) >= start
    before, price = all_in(found, still, 60.0), all_in(found, after, 60.0)
    assert before is not None and price is not None and price < before
    moved = [b for b in still.blocks if b not in after.blocks]
    assert len(moved) == len(others), "nobody else's work moves"
    assert core.blocks  # the rule alone finds a plan too


def test_who_is_busy_in_these_hours_gets_nothing_more():
    lost, other = only_one()
    plan = known(**{f.id: 3 for f in FARM.fields if f.id not in (lost.field, other)})
    found, _ = at_news(plan, lost.field)
    assert found.start is not None
    still = CorePlan(found.start.blocks)
    busy = today(found, still)
    assert list(busy) == [other]
    assert busy[other] >= found.grid.up(lost.start)
    assert brought_forward(found, still, 60.0) == still


def test_what_saves_less_than_it_costs_stays():
    """Two days late cost a little less than the trip and the change of one more day out."""
    lost, _ = only_one()
    found, _ = at_news(known(**{f.id: 2 for f in FARM.fields if f.id != lost.field}), lost.field)
    assert found.start is not None
    still = CorePlan(found.start.blocks)
    assert brought_forward(found, still, 60.0) == still


def test_where_nothing_was_lost_nothing_moves():
    found = compile_problem(MORNING, seen(), make.horizon(), FARM.plan, known(f1=3, f2=3))
    assert found.lost == () and found.start is not None
    still = CorePlan(found.start.blocks)
    assert brought_forward(found, still, 60.0) == still


def test_the_plan_made_on_the_news_has_it():
    """The whole road: news at dawn that the first field is shut; the sprayer goes to another one instead of staying home."""
    lost, _ = only_one()
    plan = known(**{f.id: 3 for f in FARM.fields if f.id != lost.field})
    new = steady_plan(replace(MORNING, sequence=1), seen(lost.field), plan)
    assert [b.field for b in new.blocks if b.start.date() == lost.start.date()]
    assert check_plan(new, replace(MORNING, sequence=1), seen(lost.field)) == []


def test_what_is_lost_is_remembered_by_its_people():
    lost, _ = only_one()
    bare = compile_problem(MORNING, seen(lost.field), make.horizon(), FARM.plan)
    assert bare.lost == ()
    with_it = previous_blocks(bare, MORNING, FIRST)
    assert {name for _, people in with_it.lost for name in people} == {lost.operator}


def test_who_should_have_begun_by_now_and_has_not_is_idle_from_now_on():
    lost, _ = only_one()
    late = replace(MORNING, now=lost.start + (lost.end - lost.start) / 2)
    plan = known(**{f.id: 3 for f in FARM.fields if f.id != lost.field})
    found = compile_problem(late, seen(lost.field), make.horizon(), FARM.plan, plan)
    now = found.grid.up(late.now)
    assert found.lost == ((now, frozenset({lost.operator})),)
    assert found.start is not None
    after = brought_forward(found, CorePlan(found.start.blocks), 60.0)
    assert len(today(found, after)) == 2 and min(today(found, after).values()) >= now
