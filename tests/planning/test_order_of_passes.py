"""What comes before what in a field: samples before the work whose rate they set, order without need, and what the checker says.

Common practice, no source: a tissue sample is taken to set the side-dress rate, and a laboratory takes days to answer; weeds are
scouted before they are sprayed.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from scheduler.events.situation import Running, Situation
from scheduler.events.skipped import skipped
from scheduler.farm.programme import After, PassSpec, Programme
from scheduler.planning.checker import check_plan
from scheduler.planning.plan import Plan
from scheduler.planning.schedule import make_plan
from scheduler.solver.result import Limits
from shared.vocabulary import Operation
from tests.planning import builders as make

PROGRAMME = Programme(
    id="corn", crop="corn",
    passes=(
        PassSpec(id="plant", operation=Operation.PLANT),
        PassSpec(id="scout", operation=Operation.SCOUT, on_foot=True, after=(After(pass_id="plant"),)),
        PassSpec(id="spray", operation=Operation.SPRAY, after=(After(pass_id="scout", required=False),)),
        PassSpec(id="tissue", operation=Operation.TISSUE_SAMPLE, on_foot=True),
        PassSpec(id="side-dress", operation=Operation.BAND_NITROGEN),
    ),
)  # fmt: skip
PEOPLE = (
    make.person("ann", "band-nitrogen", "tender"), make.person("bob", "spray", "tender"),
    make.person("cy", "scout", "tissue-sample", "tender"),
)  # fmt: skip


def field_planted(people=PEOPLE) -> Situation:
    """A field that is planted, with everything behind planting to do."""
    farm = make.farm(1, programmes=(PROGRAMME,), operators=people)
    start = make.with_pass(
        make.situation(farm), "f1", "plant", finished=True, done_ha=99.0, finished_at=make.at(-20)
    )
    return replace(start, planted={"f1": date(2027, 4, 20)})


def plan_of(situation: Situation, use_engine: bool = False) -> Plan:
    outlook = make.outlook(situation.farm)
    plan = make_plan(situation, outlook, make.horizon(), Limits(seconds=0.5), use_engine=use_engine)
    assert check_plan(plan, situation, outlook) == []
    return plan


def times(plan: Plan, pass_id: str):
    """Return first start and last end of a pass."""
    blocks = [b for b in plan.blocks if b.pass_id == pass_id]
    return (min(b.start for b in blocks), max(b.end for b in blocks)) if blocks else None


@pytest.mark.parametrize("use_engine", [False, True])
def test_the_result_of_a_sample_is_there_before_the_rate_is_needed(use_engine):
    plan = plan_of(field_planted(), use_engine)
    sample, feed = times(plan, "tissue"), times(plan, "side-dress")
    assert sample is not None and feed is not None
    assert feed[0] >= sample[1] + timedelta(days=2)


@pytest.mark.parametrize("use_engine", [False, True])
def test_scouting_comes_before_spraying(use_engine):
    plan = plan_of(field_planted(), use_engine)
    assert times(plan, "scout")[1] <= times(plan, "spray")[0]


def test_what_nobody_does_does_not_stop_the_work_behind_it():
    plan = plan_of(field_planted(PEOPLE[:2]))
    assert times(plan, "scout") is None and times(plan, "tissue") is None
    assert times(plan, "spray") is not None and times(plan, "side-dress") is not None


def test_a_result_that_is_known_and_work_that_has_begun_wait_for_no_sample():
    known = replace(field_planted(), rate_factor={"f1": 0.9})
    begun = make.with_pass(
        field_planted(), "f1", "side-dress", running=Running(make.at(0), "", "ann"), done_ha=1.0
    )
    for situation in (known, begun):
        sample, feed = times(plan_of(situation), "tissue"), times(plan_of(situation), "side-dress")
        assert feed[0] < sample[1] + timedelta(days=2)


def test_a_sample_taken_waits_for_its_result():
    taken = make.with_pass(
        field_planted(), "f1", "tissue", finished=True, done_ha=99.0, finished_at=make.at(0)
    )
    assert times(plan_of(taken), "side-dress")[0] >= make.at(0) + timedelta(days=2)


def test_the_checker_names_a_sample_too_late_and_scouting_after_the_spray():
    situation = field_planted()
    plan, outlook = plan_of(situation), make.outlook(situation.farm)

    def said(pass_id: str, start) -> str:
        old = next(b for b in plan.blocks if b.pass_id == pass_id)
        new = old.model_copy(update={"start": start, "end": start + (old.end - old.start)})
        blocks = tuple(new if b.id == old.id else b for b in plan.blocks)
        return "\n".join(check_plan(plan.model_copy(update={"blocks": blocks}), situation, outlook))

    assert "the result of tissue comes too late for side-dress" in said(
        "tissue", times(plan, "side-dress")[0]
    )
    assert "starts before the end of scout" in said("scout", times(plan, "spray")[0])


def test_no_report_is_missed_of_what_need_not_come_before():
    sprayed = make.with_pass(field_planted(), "f1", "spray", finished=True, done_ha=99.0)
    assert skipped(sprayed) == {}
