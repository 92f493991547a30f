"""The room in a plan, held against the independent checker: where nothing refuses a block, the checker agrees.

`room` works in the engine's quarters, the checker in minutes and hectares; they share no code. Reasons in words rest
on `room`, so what it calls free must be free.
"""

from __future__ import annotations

from datetime import timedelta

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scheduler.events.situation import Situation
from scheduler.planning.checker import check_plan
from scheduler.planning.compile import compile_problem
from scheduler.planning.decode import plan_blocks
from scheduler.planning.order import ties_of
from scheduler.planning.plan import LeftOut, Plan, Value
from scheduler.planning.room import Room
from scheduler.solver.dispatch import dispatch
from scheduler.windows.records import Outlook
from tests.planning import builders as make
from tests.planning.test_schedule import mornings

WORTH = Value(total=0, bound=0, gap=0, dispatch_total=0, parts={}, status="FEASIBLE")


def laid_out(situation: Situation, outlook: Outlook) -> tuple[Room, Plan]:
    """Return the rule's plan in both forms."""
    compiled = compile_problem(situation, outlook, make.horizon(), situation.farm.plan)
    core = dispatch(compiled.problem)
    ties = {f.id: ties_of(situation, f, outlook) for f in situation.farm.fields}
    blocks = plan_blocks(compiled, core, outlook, ties, None)
    out = []
    for key in situation.passes:
        rest = situation.left_ha(*key) - sum(b.area_ha for b in blocks if (b.field, b.pass_id) == key)
        if rest > 0.01:
            out.append(LeftOut(field=key[0], pass_id=key[1], area_ha=rest, reason="", text=""))
    plan = Plan(
        id="p", farm=situation.farm.name, made_at=situation.now, first_day=make.FIRST_DAY, days=5, time_zone=make.ZONE,
        blocks=blocks, left_out=tuple(out), value=WORTH, notes=compiled.notes,
    )  # fmt: skip
    return Room(compiled, core, situation, outlook), plan


@given(mornings(), st.integers(0, 10_000))
@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
def test_what_nothing_refuses_the_checker_allows(morning: tuple[Situation, Outlook], seed: int):
    room, plan = laid_out(*morning)
    free = [k for k, b in enumerate(plan.blocks) if b.support is None and not b.pinned]
    if not free:
        return
    rng = np.random.default_rng(seed)
    k = int(rng.choice(free))
    core, block = sorted(room.core.blocks)[k], plan.blocks[k]
    job, option = room.compiled.jobs[core.task], room.compiled.modes[core.task][core.mode].option
    person = room.situation.farm.operator_by_id[block.operator]
    (found,) = room.refusals(job, option, core.end - core.start, block.area_ha, [person], without=core)
    count = found.count()
    assert count[core.start] == 0, found.at(core.start)
    slots = np.flatnonzero(count == 0)
    for slot in rng.choice(slots, min(6, len(slots)), replace=False):
        start = room.compiled.grid.moment(int(slot))
        moved = block.model_copy(update={"start": start, "end": start + (block.end - block.start)})
        blocks = tuple(moved if b.id == block.id else b for b in plan.blocks)
        assert check_plan(plan.model_copy(update={"blocks": blocks}), *morning) == []


def test_each_cause_is_seen_where_it_is():
    farm = make.farm(2)

    def chance(field: str, pass_id: str, day: int, hour: int) -> float:
        return 0.1 if day == 2 else make.always(field, pass_id, day, hour)

    room, plan = laid_out(make.situation(farm), make.outlook(farm, chance=chance))
    k = next(k for k, b in enumerate(plan.blocks) if b.pass_id == "terminate")
    core, block = sorted(room.core.blocks)[k], plan.blocks[k]
    job, option = room.compiled.jobs[core.task], room.compiled.modes[core.task][core.mode].option
    bob = farm.operator_by_id["bob"]
    (found,) = room.refusals(job, option, core.end - core.start, block.area_ha, [bob], without=core)
    other = next(b for b in plan.blocks if b.pass_id == "terminate" and b.id != block.id)
    busy = room.compiled.grid.up(other.start + timedelta(minutes=15))
    assert {c.name for c in found.at(busy)} == {"RIG_BUSY", "OPERATOR_BUSY"}
    noon_of_the_wet_day = room.compiled.grid.up(make.at(2, "12:00"))
    assert "TOO_WET" in {c.name for c in found.at(noon_of_the_wet_day)}
    assert "OFF_SHIFT" in {c.name for c in found.at(room.compiled.grid.up(make.at(1, "03:00")))}
