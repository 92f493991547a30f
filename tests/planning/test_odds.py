"""How a plan may go: sure weather gives the planned day, lost hours are caught up, odds are shares of members."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scheduler.planning.odds import plan_odds
from scheduler.planning.plan import Plan
from scheduler.planning.schedule import make_plan
from scheduler.solver.result import Limits
from scheduler.windows.records import FitHours, Outlook
from tests.planning import builders as make

SHORT = Limits(seconds=0.3, workers=1, seed=1, deterministic=True)


def morning(fields: int = 2, days: int = 6):
    farm = make.farm(fields)
    situation = make.situation(farm)
    outlook = make.outlook(farm, days)
    return situation, outlook, make_plan(situation, outlook, make.horizon(days), SHORT)


def with_members(outlook: Outlook, rows: dict[str, np.ndarray]) -> Outlook:
    """Return the outlook with the members of some passes replaced, in all fields and for all rigs."""
    fit = {
        key: {
            rig: (replace(one, odds_pct=(rows[key[1]] * 100).astype(np.uint8)) if key[1] in rows else one)
            for rig, one in rigs.items()
        }
        for key, rigs in outlook.fit.items()
    }
    return replace(outlook, fit=fit)


def hours_of(outlook: Outlook) -> int:
    one: FitHours = next(iter(next(iter(outlook.fit.values())).values()))
    return one.fit.shape[1]


def sure(outlook: Outlook, members: int = 4) -> dict[str, np.ndarray]:
    return dict.fromkeys(make.LOSS_PER_HA_DAY, np.ones((members, hours_of(outlook)), bool))


def test_in_sure_weather_everything_planned_is_done_and_costs_what_the_plan_says() -> None:
    situation, outlook, plan = morning()
    odds = plan_odds(plan, situation, with_members(outlook, sure(outlook)))
    assert all((done == pytest.approx(1.0)) for row in odds.done.values() for done in row)
    assert odds.finished and set(odds.finished.values()) == {1.0}
    # The plan counts a block's whole loss at its end; here each hour's hectares count at the end of their day.
    assert odds.loss == pytest.approx(np.full(4, odds.loss[0]))
    assert odds.loss[0] == pytest.approx(sum_of_days(plan, outlook, situation), rel=1e-6)


def sum_of_days(plan: Plan, outlook: Outlook, situation) -> float:
    """Return the loss of the planned blocks by the window's own points, worked out by hand."""
    total = 0.0
    for block in plan.blocks:
        points = dict(outlook.windows[(block.field, block.pass_id)].loss_points)
        total += points[block.end.date()] * block.area_ha / situation.farm.field_by_id[block.field].area_ha
    return total


def test_a_day_lost_is_caught_up_where_rig_and_people_are_free() -> None:
    situation, outlook, plan = morning()
    rows = sure(outlook, 2)
    # The first day of planting: each day that planting comes later costs (the days before it are free in these windows,
    # so what a day of spraying costs there hangs on who happens to be with which rig).
    first = min(block.start for block in plan.blocks if block.pass_id == "plant").date()
    lost = (first - plan.first_day).days
    for row in rows.values():
        row[1, lost * 24 : lost * 24 + 24] = False
    rows = {name: row.copy() for name, row in rows.items()}
    odds = plan_odds(plan, situation, with_members(outlook, rows))
    hit = [block for block in plan.blocks if block.start.date() == first]
    assert hit and all(odds.done[block.id][0] == pytest.approx(1.0) for block in hit)
    assert any(odds.done[block.id][1] > 0 for block in hit), "nothing was caught up on later days"
    assert odds.loss[1] > odds.loss[0]


def test_never_fit_is_never_done_and_odds_are_shares_of_members() -> None:
    situation, outlook, plan = morning()
    rows = sure(outlook, 4)
    rows["plant"] = rows["plant"].copy()
    rows["plant"][:3] = False
    odds = plan_odds(plan, situation, with_members(outlook, rows))
    plants = [block.id for block in plan.blocks if block.pass_id == "plant"]
    assert plants and all(list(odds.done[name] > 0.9) == [False, False, False, True] for name in plants)
    assert odds.finished.get("plant") == 0.25
    scouts = [block.id for block in plan.blocks if block.pass_id == "scout"]
    assert all(odds.done[name][0] == 0.0 for name in scouts), "scouting waits for planting"


def test_a_wetter_set_of_members_never_helps() -> None:
    situation, outlook, plan = morning(3)
    rng = np.random.default_rng(3)
    rows = {name: rng.random((6, hours_of(outlook))) < 0.8 for name in make.LOSS_PER_HA_DAY}
    fewer = {name: row & (rng.random(row.shape) < 0.6) for name, row in rows.items()}
    wet = plan_odds(plan, situation, with_members(outlook, fewer))
    dry = plan_odds(plan, situation, with_members(outlook, rows))
    assert wet.loss.mean() >= dry.loss.mean()
    assert all(wet.finished[name] <= share for name, share in dry.finished.items())
