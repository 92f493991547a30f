"""What the engine is told: windows, roads, costs, lags, stocks, weeks behind.

Outside: great-circle arithmetic (mean Earth radius of IUGG, 6371.0088 km: one degree of latitude is 111.195 km); the rest is
plain arithmetic on the farm of the tests.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from scheduler.events.situation import Supply
from scheduler.farm.operator import Licence
from scheduler.farm.product import ProductRate
from scheduler.farm.programme import After, PassSpec
from scheduler.farm.rig import rigs_of
from scheduler.planning.checker import check_plan
from scheduler.planning.compile import Compiled, compile_problem
from scheduler.planning.costs import EARLY_PER_HA_DAY
from scheduler.planning.order import ties_of
from scheduler.planning.places import Places
from scheduler.solver.resources import FAR
from shared.vocabulary import Operation, Reason
from tests.planning import builders as make
from tests.planning.steady import short_plan


def compiled(situation=None, outlook=None, days: int = 5) -> Compiled:
    """Return the engine's problem of a morning."""
    situation = situation or make.situation(make.farm(1))
    outlook = outlook or make.outlook(situation.farm, days)
    return compile_problem(situation, outlook, make.horizon(days), situation.farm.plan)


def task(found: Compiled, pass_id: str, field: str = "f1"):
    """Return task and modes of a pass."""
    k = next(k for k, job in enumerate(found.jobs) if job.key == (field, pass_id))
    return found.problem.tasks[k], found.modes[k]


# ---- windows and modes -----------------------------------------------------------------------------------


def test_windows_are_the_fit_hours_with_their_mean_odds():
    # By hours alone: what making up for them later costs comes on top (tests/planning/test_doubt.py).
    farm = make.farm(1, plan=make.farm(1).plan.model_copy(update={"risk_by": "hours"}))

    def chance(field: str, pass_id: str, day: int, hour: int) -> float:
        return {9: 0.6, 10: 0.8, 11: 0.3, 14: 0.7}.get(hour, 0.0) if day == 1 else 0.0

    found = compiled(make.situation(farm), make.outlook(farm, chance=chance))
    windows = task(found, "band")[0].modes[0].windows
    assert [(w.start - 96, w.end - 96, w.chance) for w in windows] == [(36, 44, 0.7), (56, 60, 0.7)]
    assert windows[0].risk_per_minute == pytest.approx(0.3 * 80 * 100 / 4)


def test_a_block_is_as_long_as_set_up_and_work():
    """Work rate after Hancock et al. 1991 (width x speed x efficiency): 9.144 m x 8 km/h x 0.65 = 4.755 ha/h."""
    found = compiled()
    plant = task(found, "plant")[0].modes[0]
    loads = 20.0 * 80_000 / 2.4e6
    exact = 5.0 + 20.0 / 4.75488 * 60.0 + loads * 20.0
    minutes = 15 * plant.minutes_for(200, 200)
    assert exact <= minutes < exact + 15
    for amount in range(1, 201, 7):
        share = amount / 200
        assert 15 * plant.minutes_for(amount, 200) >= 5.0 + (exact - 5.0) * share - 1e-6


def test_needs_name_rig_tender_driver_and_support():
    found = compiled()
    band, infos = task(found, "band")
    assert {info.option.id for info in infos} == {"big+bar+truck", "small+bar+truck"}
    names = [[found.names[r] for r in need.any_of] for need in band.modes[0].needs]
    assert names[1:] == [["bar"], ["truck"], ["ann", "cy"], ["ann", "bob", "cy"]]
    scout = task(found, "scout")[0]
    assert [[found.names[r] for r in need.any_of] for need in scout.modes[0].needs] == [["bob", "cy"]]


def test_a_licence_that_ends_splits_the_days():
    farm = make.farm(1)
    people = [*farm.operators, make.person("dan", "terminate")]
    people[1] = people[1].model_copy(
        update={"licences": (Licence(name="applicator", expires=make.FIRST_DAY + timedelta(days=1)),)}
    )
    situation = make.situation(make.farm(1, operators=tuple(people)))
    found = compiled(situation)
    modes = task(found, "terminate")[0].modes
    who = [({found.names[r] for r in m.needs[-1].any_of}, {w.start // 96 for w in m.windows}) for m in modes]
    assert who == [({"bob", "dan"}, {0, 1}), ({"dan"}, {2, 3, 4})]


def test_lines_keep_only_rigs_that_fit_together():
    wide = [
        m.model_copy(update={"id": "wide", "width_m": 12.192}) for m in make.machines() if m.id == "planter"
    ]
    situation = make.situation(make.farm(1, machines=(*make.machines(), *wide)))
    found = compiled(situation)
    assert {info.option.id for info in task(found, "plant")[1]} == {"big+planter", "small+planter"}
    laid = make.with_pass(situation, "f1", "band", finished=True, done_ha=20.0, last_rig="small+bar+truck")
    assert {info.option.id for info in task(compiled(laid), "plant")[1]} == {"big+planter", "small+planter"}


# ---- roads -----------------------------------------------------------------------------------------------


def test_road_quarters_from_the_great_circle():
    farm = make.farm(2)
    places = Places(farm)
    km = 1.3 * 111.195 * np.hypot(0.02, 0.025 * np.cos(np.radians(41.01)))
    home, far = 0, places.site["f2"]
    assert places.road_km[home, far] == pytest.approx(km, rel=1e-4)
    assert places.quarters(25.0)[home, far] == int(np.ceil(km / 25.0 * 4))
    moves = places.machine_moves(farm.machine_by_id["big"])
    rigs = {rig.id: rig for rig in rigs_of(farm)}
    passes = {spec.id: spec for spec in farm.programmes[0].passes}
    bar = places.family(rigs["big+bar+truck"], passes["band"])
    planter = places.family(rigs["big+planter"], passes["plant"])
    assert moves.change is not None and moves.change[bar, planter] == 2 and moves.change[bar, bar] == 0


# ---- costs -----------------------------------------------------------------------------------------------


def test_the_loss_of_a_day_holds_at_its_end_and_for_the_area_left():
    situation = make.with_pass(make.situation(make.farm(1)), "f1", "plant", done_ha=10.0)
    band_done = make.with_pass(situation, "f1", "band", finished=True, done_ha=20.0)
    plant = task(compiled(band_done), "plant")[0]
    assert plant.end_curve is not None
    early = EARLY_PER_HA_DAY * 10 * 100
    for day in (2, 3, 4):
        expected = 14.0 * 20 * (day - 1) * 0.5 * 100 + early * (day + 1 - 20 / 96)
        assert plant.end_curve.at((day + 1) * 96) == pytest.approx(expected, abs=2)
    assert plant.drop_cost == pytest.approx(
        make.window_of(make.fields(1)[0], band_done.farm.programmes[0].passes[2], 5).loss_undone * 50, abs=1
    )
    assert plant.size == 100


def test_curves_never_bend_back():
    for row in compiled(outlook=make.outlook(make.farm(1), weeks=4)).problem.tasks:
        assert row.end_curve is not None
        times, costs = map(np.array, zip(*row.end_curve.points, strict=True))
        slopes = np.diff(costs) / np.diff(times)
        assert np.all(np.diff(slopes) > 0) and row.end_curve.slope_after >= slopes[-1]


# ---- ties ------------------------------------------------------------------------------------------------


def test_ties_from_lags_planting_and_reentry():
    farm = make.farm(1)
    found = {
        (t.before, t.after): t for t in ties_of(make.situation(farm), farm.fields[0], make.outlook(farm))
    }
    assert found[("terminate", "band")].least_minutes == 720 and not found[("terminate", "band")].loose
    assert found[("band", "plant")].most_minutes == 10 * 1440
    assert found[("terminate", "plant")].reason is Reason.REENTRY
    assert found[("plant", "scout")].least_minutes == 1440


def test_what_is_done_bounds_what_follows():
    situation = make.with_pass(
        make.situation(make.farm(1)),
        "f1",
        "terminate",
        finished=True,
        done_ha=20.0,
        finished_at=make.at(-1, "20:00"),
    )
    situation = make.with_pass(
        situation, "f1", "band", finished=True, done_ha=20.0, finished_at=make.at(0, "03:00")
    )
    plant = task(compiled(situation), "plant")[0]
    assert plant.release == 15 * 4 and plant.latest_start == 10 * 96 + 12


def test_a_pass_that_nothing_can_do_takes_its_followers_along():
    people = tuple(p for p in make.farm(1).operators if p.id == "bob")
    found = compiled(make.situation(make.farm(1, operators=people)))
    assert [job.spec.id for job in found.jobs] == ["terminate"]
    assert [job.spec.id for job in found.left_aside] == ["band", "plant", "scout"]
    assert found.aside_cost > 0


# ---- stocks and weeks ------------------------------------------------------------------------------------


def test_deliveries_count_from_the_start_of_work():
    situation = make.situation(make.farm(1))
    supply = Supply(1000.4, ((make.FIRST_DAY + timedelta(days=1), 5000.0, "d"),))
    found = compiled(replace(situation, supplies={**situation.supplies, "n32": supply}))
    stock = next(s for s in found.problem.stocks if s.name == "n32")
    assert (stock.initial, stock.deliveries) == (1000, ((96 + 24, 5000),))
    taken = task(found, "band")[0].modes[0].consumes
    assert list(taken.values()) == [int(np.ceil(24 * 3.785411784 / 0.40468564224 * 20))]


def test_tissue_moves_the_rate_of_the_passes_it_steers_only():
    situation = replace(make.situation(make.farm(1)), rate_factor={"f1": 0.5})
    plain = task(compiled(situation), "band")[0].modes[0].consumes
    tissue = situation.farm.tissue.model_copy(update={"passes": ("band",)})
    steered = replace(situation, farm=situation.farm.model_copy(update={"tissue": tissue}))
    half = task(compiled(steered), "band")[0].modes[0]
    assert next(iter(half.consumes.values())) == pytest.approx(next(iter(plain.values())) / 2, abs=1)


def test_weeks_behind_hold_what_opens_and_closes_there():
    farm = make.farm(1)
    base = make.outlook(farm, weeks=4)
    start = make.FIRST_DAY + timedelta(days=5)
    windows = dict(base.windows)
    windows[("f1", "scout")] = replace(
        windows[("f1", "scout")], opens=start + timedelta(days=9), closes=start + timedelta(days=12)
    )
    windows[("f1", "plant")] = replace(windows[("f1", "plant")], closes=make.FIRST_DAY + timedelta(days=3))
    found = compiled(outlook=replace(base, windows=windows))
    assert len(found.problem.buckets) == 4
    scout, plant = task(found, "scout")[0], task(found, "plant")[0]
    assert scout.later and scout.release == found.problem.buckets[1].start
    assert scout.latest_end == found.problem.buckets[1].end
    assert not plant.later
    room = found.problem.buckets[0].capacity
    ann = found.names.index("ann")
    assert 0 < room[ann] <= 70 * 4


def test_at_most_one_lag_per_pair_and_no_lag_into_the_past():
    spec = (
        make.programme()
        .passes[3]
        .model_copy(update={"after": (After(pass_id="plant"), After(pass_id="plant", at_least_days=2.0))})
    )
    programme = make.programme().model_copy(update={"passes": (*make.programme().passes[:3], spec)})
    found = compiled(make.situation(make.farm(1, programmes=(programme,))))
    pairs = [(lag.before, lag.after) for lag in found.problem.lags]
    assert len(pairs) == len(set(pairs))
    assert max(lag.least or 0 for lag in found.problem.lags) == 192
    assert all(t.latest_start == FAR for t in found.problem.tasks)


def test_what_was_sprayed_before_its_turn_locks_the_field_for_all_other_work():
    """Somebody reports a spraying that belongs behind planting; its interval of 12 h counts for the work before it too."""
    farm = make.farm(1)
    programme = farm.programmes[0]
    late = PassSpec(
        id="post", operation=Operation.SPRAY, products=(ProductRate(product="burn", rate="1 L/ha"),),
        after=(After(pass_id="plant", at_least_days=1.0),),
    )  # fmt: skip
    farm = farm.model_copy(
        update={"programmes": (programme.model_copy(update={"passes": (*programme.passes, late)}),)}
    )
    sprayed = make.with_pass(
        make.situation(farm), "f1", "post", finished=True, done_ha=20.0, finished_at=make.at(0, "03:00")
    )
    assert task(compiled(sprayed), "terminate")[0].release == 15 * 4
    plan = short_plan(sprayed, make.outlook(farm))
    assert min(b.start for b in plan.blocks) >= make.at(0, "15:00")
    assert check_plan(plan, sprayed, make.outlook(farm)) == []
