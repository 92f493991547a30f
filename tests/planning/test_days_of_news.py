"""Days of news on a small farm with two yards: every plan on the way passes the checker, whatever comes in.

No outside source; the judge is the checker. Faults found this way: a field so small that its set-up filled
the whole quarter hour; the way to a block under way being counted twice against the day's hours; of work that nobody reported, one
person taken to be at two places, and a field begun late taken to be done as fast as one begun in time.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from scheduler.events.news import News
from scheduler.events.situation import Pinned, Rain, Running, Situation, Span
from scheduler.farm.farm import Farm
from scheduler.farm.land import Yard
from scheduler.planning.check_presumed import presumed_faults
from scheduler.planning.checker import check_plan
from scheduler.planning.diff import compare
from scheduler.planning.plan import Plan
from scheduler.planning.presumed import known_now
from scheduler.planning.schedule import make_plan
from scheduler.solver.result import Limits
from tests.planning import builders as make

YARDS = (
    Yard(id="home", latitude_deg=41.0, longitude_deg=-90.0),
    Yard(id="mill", latitude_deg=41.06, longitude_deg=-89.9),
)


def some_farm(rng: np.random.Generator) -> Farm:
    """Return a farm whose machines and people live in two yards and may work more or less long."""
    farm = make.farm(int(rng.integers(2, 7)), yards=YARDS)
    machines = tuple(
        m.model_copy(update={"yard": "mill"}) if m.id in ("bar", "truck") and rng.random() < 0.5 else m
        for m in farm.machines
    )
    people = tuple(
        p.model_copy(
            update={
                "yard": str(rng.choice(["home", "mill"])),
                "most_hours_per_day": float(rng.choice([9, 12, 14])),
                "most_hours_per_week": float(rng.choice([30, 45, 70])),
            }
        )
        for p in farm.operators
    )
    return farm.model_copy(update={"machines": machines, "operators": people})


def with_news(situation: Situation, rng: np.random.Generator) -> Situation:
    """Return the situation with a breakdown, an absence or a pin, each now and then."""
    now = situation.now
    until = now + timedelta(hours=float(rng.integers(2, 40)))
    if rng.random() < 0.3:
        situation = replace(
            situation, machine_down={str(rng.choice(["small", "sprayer", "truck"])): (Span(now, until),)}
        )
    if rng.random() < 0.3:
        situation = replace(
            situation, operator_away={str(rng.choice(["ann", "bob", "cy"])): (Span(now, until),)}
        )
    if rng.random() < 0.3:
        field = str(rng.choice([f.id for f in situation.farm.fields]))
        start = now + timedelta(hours=int(rng.integers(1, 60)))
        pin = Pinned("p", field, str(rng.choice(["terminate", "band", "plant"])), start)
        situation = replace(situation, pins=(pin,))
    return situation


def with_reports(situation: Situation, plan: Plan, until_hour: int, rng: np.random.Generator) -> Situation:
    """Return the situation after most of the day's blocks were reported done, some of them by half."""
    worked = dict(situation.worked_minutes)
    day = situation.now.date()
    for block in plan.blocks:
        if block.start.date() != day or block.end.hour >= until_hour or rng.random() < 0.2:
            continue
        state = situation.passes[(block.field, block.pass_id)]
        total = state.done_ha + block.area_ha * float(rng.choice([1.0, 1.0, 0.5]))
        whole = total >= situation.farm.field_by_id[block.field].area_ha - 0.01
        situation = make.with_pass(
            situation, block.field, block.pass_id, done_ha=total, finished=whole, finished_at=block.end if whole else None,
            started_at=state.started_at or block.start, last_rig=block.rig, last_operator=block.operator,
            last_report_at=block.end,
        )  # fmt: skip
        for name in {block.operator, block.support or block.operator}:
            minutes = (block.end - block.start) / timedelta(minutes=1)
            worked[(name, day)] = worked.get((name, day), 0.0) + minutes
    return replace(situation, worked_minutes=worked, machine_down={}, operator_away={}, pins=())


@pytest.mark.parametrize("seed", [33, 102, 204])
def test_every_plan_through_two_days_of_news(seed: int, monkeypatch: pytest.MonkeyPatch):
    rng = np.random.default_rng(seed)
    farm = some_farm(rng)
    odds = rng.choice([0.0, 0.3, 0.6, 0.95], (len(farm.fields), 7, 4), p=[0.2, 0.1, 0.3, 0.4])
    rows = {field.id: k for k, field in enumerate(farm.fields)}
    situation, plan = make.situation(farm), None
    limits = Limits(seconds=0.15, workers=1, seed=seed, deterministic=True)
    first = make.FIRST_DAY
    for k in range(2):
        monkeypatch.setattr(make, "FIRST_DAY", first + timedelta(days=k))

        def chance(field: str, pass_id: str, day: int, hour: int, k: int = k) -> float:
            return float(odds[rows[field], day + k, min(3, (hour - 6) // 4)]) if 6 <= hour < 21 else 0.0

        outlook = make.outlook(farm, chance=chance, weeks=int(rng.integers(0, 4)))
        for clock, until in (("05:00", 11), ("10:10", 21)):
            situation = with_news(
                replace(situation, now=make.at(0, clock), sequence=situation.sequence + 1), rng
            )
            new = make_plan(situation, outlook, make.horizon(), limits, plan)
            assert check_plan(new, situation, outlook) == []
            assert not any("refused by the checker" in note for note in new.notes)
            new = Plan.model_validate_json(new.model_dump_json())
            if plan is not None:
                told = compare(plan, new, [News("e", "news", everything=True)], farm)
                assert all(line.strip().endswith(".") for line in told.lines())
            plan = new
            situation = with_reports(situation, plan, until, rng)


def with_few_words(situation: Situation, plan: Plan, rng: np.random.Generator) -> Situation:
    """Return the situation after some words about the blocks of today: begun by whomever, stopped, done in part; of most none."""
    now, day = situation.now, situation.now.date()
    for block in plan.blocks:
        key, luck = (block.field, block.pass_id), rng.random()
        state = situation.passes[key]
        if block.start.date() != day or block.start > now or state.finished:
            continue
        if luck < 0.15:
            since = max(block.start, now - timedelta(minutes=int(rng.integers(0, 200))))
            run = Running(since, block.rig, str(rng.choice([p.id for p in situation.farm.operators])))
            situation = make.with_pass(situation, *key, running=run, started_at=state.started_at or since)
        elif luck < 0.25:
            stop = now - timedelta(minutes=int(rng.integers(0, 100)))
            situation = make.with_pass(situation, *key, running=None, paused_at=stop)
        elif luck < 0.45:
            told = min(now, block.end)
            share = float(rng.uniform(0.5, 1.0)) * ((told - block.start) / (block.end - block.start))
            done = min(situation.farm.field_by_id[block.field].area_ha, state.done_ha + block.area_ha * share)
            situation = make.with_pass(
                situation, *key, done_ha=done, started_at=state.started_at or block.start, last_rig=block.rig,
                last_operator=block.operator, last_report_at=told,
            )  # fmt: skip
    rain = Rain(None, now - timedelta(hours=int(rng.integers(1, 8))), now, 5.0)
    return replace(situation, rain=(*situation.rain, rain)) if rng.random() < 0.2 else situation


@pytest.mark.parametrize("seed", [15, 16, 18])
def test_every_plan_through_a_day_on_which_hardly_anybody_reports(seed: int):
    rng = np.random.default_rng(seed)
    farm = some_farm(rng)
    odds = rng.choice([0.0, 0.3, 0.6, 0.95], (len(farm.fields), 5, 4), p=[0.1, 0.1, 0.3, 0.5])
    rows = {field.id: k for k, field in enumerate(farm.fields)}
    situation, plan = make.situation(farm), None
    limits = Limits(seconds=0.15, workers=1, seed=seed, deterministic=True)

    def chance(field: str, pass_id: str, day: int, hour: int) -> float:
        return float(odds[rows[field], day, min(3, (hour - 6) // 4)]) if 6 <= hour < 21 else 0.0

    outlook, presumed = make.outlook(farm, chance=chance), 0
    for clock in (
        "05:00",
        *sorted(f"{hour:02d}:{minute:02d}" for hour, minute in rng.integers((6, 0), (20, 60), (6, 2))),
    ):
        situation = replace(situation, now=make.at(0, clock), sequence=situation.sequence + 1)
        situation = situation if plan is None else with_few_words(situation, plan, rng)
        known = known_now(situation, plan, outlook)
        assert presumed_faults(known.presumed, known.situation.on_way, situation) == []
        plan = make_plan(situation, outlook, make.horizon(), limits, plan)
        assert check_plan(plan, situation, outlook) == []
        assert not any("refused by the checker" in note for note in plan.notes)
        presumed += len(plan.presumed)
    assert presumed > 0
