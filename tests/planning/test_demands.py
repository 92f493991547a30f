"""What is demanded by a time: kept where it can be, refused with true rules where not; hours worked out by hand.

No source: the farm is `builders`' own, and each rule that is named is loosened to see that it was true.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.events.situation import Pinned, Situation
from scheduler.farm.operator import Shift
from scheduler.planning.demand_clash import Against, against, joined, span_text
from scheduler.planning.demands import Demand, in_view, still_open, unmet, with_demands
from scheduler.planning.plan import Plan
from scheduler.planning.schedule import make_plan
from scheduler.solver.result import Limits
from scheduler.windows.records import Outlook
from tests.planning import builders as make

LIMITS = Limits(0.3, 1, 0, deterministic=True, bound=False)


def planned(situation: Situation, outlook: Outlook, *demands: Demand, firm: bool = True) -> Plan:
    return make_plan(situation, outlook, make.horizon(), LIMITS, reasons=False, demands=demands, firm=firm)


def ended(plan: Plan, demand: Demand) -> list[str]:
    return [f"{b.end:%a %H:%M}" for b in plan.blocks if (b.field, b.pass_id) == demand.key]


def why(situation: Situation, outlook: Outlook, *demands: Demand) -> Against:
    return against(situation, outlook, make.horizon(), demands)


def test_a_demand_goes_before_what_is_dearer() -> None:
    """One planter, three fields of 20 to 34 ha ready to plant; the one that costs least to wait is demanded first."""
    farm = make.farm(3)
    done = {"finished": True, "finished_at": make.at(-2), "last_rig": "big+bar"}
    situation = make.situation(farm)
    for field in farm.fields:
        situation = make.with_pass(
            situation,
            field.id,
            "terminate",
            done_ha=field.area_ha,
            **{k: done[k] for k in ("finished", "finished_at")},
        )
        situation = make.with_pass(situation, field.id, "band", done_ha=field.area_ha, **done)
    outlook = make.outlook(farm)
    first = min(planned(situation, outlook).blocks, key=lambda block: block.start)
    other = next(field.id for field in farm.fields if field.id != first.field)
    # 20 to 34 ha at about 4.5 ha an hour: each field is done in a day, not two before the first evening.
    wanted = Demand(other, "plant", make.at(0, "18:00"))
    plan = planned(situation, outlook, wanted)
    assert unmet(plan, situation, (wanted,)) == ()
    assert all(end <= "Mon 18:00" for end in ended(plan, wanted))
    assert min(plan.blocks, key=lambda block: block.start).field == other


def test_the_order_of_passes_stands_against_it() -> None:
    """Terminating and banding come first, and planting half a day after banding: not by noon of the first day."""
    farm = make.farm(1)
    situation, outlook = make.situation(farm), make.outlook(farm)
    wanted = Demand("f1", "plant", make.at(0, "12:00"))
    plan = planned(situation, outlook, wanted)
    assert unmet(plan, situation, (wanted,)) == (wanted,)
    found = why(situation, outlook, wanted)
    assert found.proved and found.smallest
    said = " ".join(found.lines)
    assert "is to be done in F1" in said or "is to be done in f1" in said
    assert "at least 12 hours after" in said and "Mon 10 May 12:00" in said
    # Without that wait and its programme's order it can be: the band is done already, long enough ago.
    ready = make.with_pass(situation, "f1", "terminate", done_ha=20.0, finished=True, finished_at=make.at(-2))
    ready = make.with_pass(
        ready, "f1", "band", done_ha=20.0, finished=True, finished_at=make.at(-1), last_rig="big+bar"
    )
    later = replace(wanted, until=make.at(0, "14:00"))
    assert unmet(planned(ready, outlook, later), ready, (later,)) == ()


def test_fit_hours_stand_against_it_and_are_told() -> None:
    farm = make.farm(1)

    def dry_on_wednesday(field: str, name: str, day: int, hour: int) -> float:
        return 0.9 if (name != "plant" or day >= 2) and 7 <= hour < 20 else 0.0

    situation, outlook = make.situation(farm), make.outlook(farm, chance=dry_on_wednesday)
    wanted = Demand("f1", "plant", make.at(2, "00:00"))
    found = why(situation, outlook, wanted)
    assert found.proved and found.smallest and len(found.lines) == 2
    assert "by the end of Tue 11 May" in found.lines[0]
    assert "no hour that is fit enough before Wed 12 May 07:00" in found.lines[1]
    near = planned(situation, outlook, wanted, firm=False)
    assert ended(near, wanted) and all(end.startswith("Wed") for end in ended(near, wanted))


def test_hours_of_the_only_driver_stand_against_it() -> None:
    """Only ann plants, from 16 to 20 on Monday; with the whole day she does it."""
    farm = make.farm(1)
    short = make.person("ann", "plant", shifts=(Shift(start="16:00", end="17:00"),))
    situation = make.situation(replace_people(farm, short))
    for name in ("terminate", "band"):
        situation = make.with_pass(
            situation, "f1", name, done_ha=20.0, finished=True, finished_at=make.at(-2), last_rig="big+bar"
        )
    outlook = make.outlook(situation.farm)
    wanted = Demand("f1", "plant", make.at(0, "20:00"))
    found = why(situation, outlook, wanted)
    assert found.proved and ("open", "ann") in found.things
    assert any("at work only Mon 10 May 16:00-17:00" in line for line in found.lines)
    long = replace_people(farm, make.person("ann", "plant"))
    situation = replace(situation, farm=long)
    assert unmet(planned(situation, outlook, wanted), situation, (wanted,)) == ()


def replace_people(farm, person):  # type: ignore[no-untyped-def]
    return make.farm(1, operators=(person, make.person("bob", "terminate", "spray", "scout")))


def test_seed_stands_against_it() -> None:
    farm = make.farm(1)
    situation = make.situation(farm)
    supplies = dict(situation.supplies)
    supplies["seed"] = replace(supplies["seed"], stock=5 * 80000.0, deliveries=())
    situation = replace(situation, supplies=supplies)
    found = why(situation, make.outlook(farm), Demand("f1", "plant", make.at(4, "20:00")))
    assert found.proved and any("there are 5 bags" in line for line in found.lines)


def test_what_is_done_or_over_is_no_demand() -> None:
    farm = make.farm(2)
    situation = make.with_pass(make.situation(farm), "f1", "terminate", done_ha=20.0, finished=True)
    demands = (Demand("f1", "terminate", make.at(1)), Demand("f2", "terminate", make.at(1)))
    assert still_open(situation, demands) == demands[1:]
    assert in_view(demands, situation, make.horizon(), make.at(2)) == ()
    assert in_view(demands, situation, make.horizon(), make.at(0)) == demands[1:]
    far = (Demand("f2", "terminate", make.at(9)),)
    assert in_view(far, situation, make.horizon(), make.at(0)) == ()


def test_no_demand_changes_nothing() -> None:
    farm = make.farm(3)
    situation, outlook = make.situation(farm), make.outlook(farm)
    far = Demand("f1", "terminate", make.at(4, "20:00"))
    plan, bound_to = planned(situation, outlook), planned(situation, outlook, far)
    assert bound_to.value.total == pytest.approx(plan.value.total, rel=1e-3)
    from scheduler.planning.compile import compile_problem

    compiled = compile_problem(situation, outlook, make.horizon(), farm.plan)
    assert with_demands(compiled, ()) is compiled


def test_what_a_plan_does_is_never_called_impossible() -> None:
    """Every pass by the very minute at which a plan has done it, all at once: the way home may come after that."""
    farm = make.farm(4)
    situation, outlook = make.situation(farm), make.outlook(farm)
    plan = planned(situation, outlook)
    ends: dict[tuple[str, str], list] = {}  # type: ignore[type-arg]
    for block in plan.blocks:
        ends.setdefault((block.field, block.pass_id), []).append(block)
    whole = {
        key: max(b.end for b in blocks)
        for key, blocks in ends.items()
        if sum(b.area_ha for b in blocks) >= situation.left_ha(*key) - 0.05
    }
    demands = [Demand(*key, end) for key, end in whole.items()]
    assert len(demands) > 5
    assert why(situation, outlook, *demands).lines == ()
    for demand in demands:
        assert why(situation, outlook, demand).lines == ()
    early = replace(demands[0], until=make.at(0, "05:15"))
    assert why(situation, outlook, early, *demands).lines


def test_a_pin_behind_the_demand_is_no_clash_and_one_before_it_may_be() -> None:
    """Bob sprays f2 on Thursday: no matter for f1 by Tuesday; all Monday and Tuesday in f2: there is no other sprayer."""
    farm = make.farm(2)
    outlook = make.outlook(farm)
    wanted = Demand("f1", "terminate", make.at(1, "20:00"))
    behind = make.situation(farm, pins=(Pinned("p1", "f2", "terminate", make.at(3, "09:00"), None, "bob"),))
    assert why(behind, outlook, wanted) == Against((), proved=True, smallest=True)
    across = make.situation(farm, pins=(Pinned("p1", "f2", "terminate", make.at(1, "19:00"), None, "bob"),))
    assert why(across, outlook, wanted) == Against((), proved=True, smallest=True)
    early = replace(wanted, until=make.at(0, "09:00"))
    first = make.situation(farm, pins=(Pinned("p1", "f2", "terminate", make.at(0, "07:00"), None, "bob"),))
    found = why(first, outlook, early)
    assert found.proved and any("stands: Mon 10 May 07:00-" in line for line in found.lines)
    free = why(make.situation(farm), outlook, early)
    assert free.lines == ()


def test_what_nobody_may_do_is_said_at_once() -> None:
    """The only sprayer's licence is not there: no hour and no second machine would help."""
    people = (make.person("ann", "plant"), make.person("bob", "terminate", "spray", licences=()))
    farm = make.farm(1, operators=people)
    situation, outlook = make.situation(farm), make.outlook(farm)
    wanted = Demand("f1", "terminate", make.at(3, "20:00"))
    found = why(situation, outlook, wanted)
    assert found.proved and len(found.lines) == 1 and "licence" in found.lines[0]


def test_of_many_fields_few_are_named() -> None:
    """Thirty fields in a day of one planter: the answer fits a screen."""
    farm = make.farm(30)
    situation = make.situation(farm)
    for field in farm.fields:
        for name in ("terminate", "band"):
            situation = make.with_pass(
                situation,
                field.id,
                name,
                done_ha=field.area_ha,
                finished=True,
                finished_at=make.at(-2),
                last_rig="big+bar",
            )
    wanted = [Demand(field.id, "plant", make.at(1, "20:00")) for field in farm.fields]
    found = why(situation, make.outlook(farm), *wanted)
    assert found.proved and 0 < len(found.lines) <= 15
    assert all(len(line) < 400 for line in found.lines)
    assert any("planter" in line and "in one place at a time" in line for line in found.lines)


def test_words_of_hours() -> None:
    assert span_text(make.at(0, "07:00"), make.at(0, "19:00")) == "Mon 10 May 07:00-19:00"
    assert span_text(make.at(0, "07:00"), make.at(1, "00:00")) == "Mon 10 May 07:00-24:00"
    assert span_text(make.at(0, "07:00"), make.at(1, "02:00")) == "Mon 10 May 07:00 to Tue 11 May 02:00"
    assert joined([(5, 9), (0, 3), (3, 4), (8, 12)]) == [(0, 4), (5, 12)]
