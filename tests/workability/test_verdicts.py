"""Fit, marginal, unfit: the limits act, the first cause is named, and the orders that must hold do hold."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.workability import fit_rules
from scheduler.workability import layout as at
from scheduler.workability.fit_rules import FitRule, fit_rule
from scheduler.workability.ground import (
    Ground,
    SoilOptions,
    off_reference_scale,
    on_reference_scale,
    pore_scales,
)
from scheduler.workability.published import rows
from scheduler.workability.soil_water import run_soil_water
from scheduler.workability.verdicts import REASON_CODES, judge
from shared.vocabulary import Cover, Fitness, LoadClass, Operation, Reason, Texture
from shared.weather_records import HourlyWeather
from tests.workability.weather import PLACE, ZONE, spring, years

OPTIONS = SoilOptions(time_zone=ZONE)


def verdicts(rule: FitRule, weather: HourlyWeather, grounds: list[Ground] | None = None):
    trace = run_soil_water(grounds or [Ground()], weather, PLACE, options=OPTIONS)
    return judge(rule, trace, weather, PLACE), trace


GROUND_ONLY = fit_rule(Operation.BAND_NITROGEN)


def test_every_operation_has_a_default_with_its_source():
    table = {row["operation"]: row["source"] for row in rows("fit_limits")}
    assert set(table) == {operation.value for operation in Operation}
    assert all(len(source) > 10 for source in table.values())
    for operation in Operation:
        assert fit_rule(operation).operation is operation


def test_the_ladder_of_tolerance():
    """Tillage needs the driest ground, spraying tolerates the wettest (order: extension article on spring
    soils).
    """
    limits = [
        fit_rule(Operation(name)).wet_limit for name in ("strip-till", "plant", "band-nitrogen", "spray")
    ]
    assert limits == sorted(limits) and len(set(limits)) == 4


def test_rig_and_cover_shift_the_limit():
    heavy, medium, light = (fit_rule(Operation.PLANT, load).wet_limit for load in reversed(LoadClass))
    assert heavy < medium < light
    assert fit_rule(Operation.PLANT, tracks=True).wet_limit > medium
    assert fit_rule(Operation.PLANT, cover=Cover.RYE).wet_limit > medium
    assert fit_rule(Operation.PLANT, overrides={"wet_limit": 0.9}).wet_limit == 0.9


def test_unknown_or_absurd_overrides_are_refused():
    with pytest.raises(ValueError, match="unknown fit rule key 'wetlimit'"):
        fit_rule(Operation.PLANT, overrides={"wetlimit": 0.9})
    with pytest.raises(ValueError, match="wet_limit must lie between"):
        fit_rule(Operation.PLANT, overrides={"wet_limit": 95.0})
    with pytest.raises(ValueError, match="soil_marginal_c"):
        fit_rule(Operation.PLANT, overrides={"soil_min_c": 5.0})


def test_a_wet_field_dries_from_unfit_over_marginal_to_fit():
    result, trace = verdicts(replace(GROUND_ONLY, limit_sd=0.0), spring([30] + [0] * 9))
    codes = result.fitness[0, 0, 24:]
    assert codes[0] == 2 and codes[-1] == 0 and 1 in codes
    assert (np.diff(codes.astype(int)) <= 0).all()
    assert result.margin_mm[0, 0, 24] < 0 < result.margin_mm[0, 0, -1]
    limit_mm = result.limits[0] * trace.capacity_mm[0]
    assert result.margin_mm[0, 0, -1] == pytest.approx(
        limit_mm - trace.final.values[0, 0, at.SURFACE], abs=1e-3
    )
    first = int(np.argmax(codes == 0)) + 24
    assert result.hours_to_fit()[0, 0, 24] == first - 24 and result.hours_to_fit()[0, 0, first] == 0


def test_never_fit_again_is_said_as_minus_one():
    result, _ = verdicts(GROUND_ONLY, spring([40, 40]))
    assert result.hours_to_fit()[0, 0, -1] == -1


def test_causes_are_named_and_the_first_one_binds():
    result, _ = verdicts(GROUND_ONLY, spring([0, 40, 0]))
    hour = 24 + 4
    causes = result.all_reasons(0, 0, hour)
    assert Reason.RAINING in causes and Reason.STICKY in causes and Reason.TOO_WET in causes
    assert REASON_CODES[result.reason[0, 0, hour]] is causes[0]
    assert result.reason_share()[Reason.RAINING][0, hour] == 1.0
    dry, _ = verdicts(GROUND_ONLY, spring([0] * 12, warmth_c=25))
    assert REASON_CODES[dry.reason[0, 0, -1]] is Reason.FIT and dry.all_reasons(0, 0, 250) == ()


def test_a_single_cause_is_the_true_one():
    """Taking away the one cause that is named makes the hour fit: cold soil stops planting, and nothing
    else does.
    """
    rule = fit_rule(Operation.PLANT)
    result, _ = verdicts(rule, spring([0] * 10, warmth_c=12))
    hour = 9 * 24 + 12
    assert result.all_reasons(0, 0, hour) == (Reason.SOIL_COLD,)
    freed, _ = verdicts(replace(rule, soil_min_c=None, soil_marginal_c=None), spring([0] * 10, warmth_c=12))
    assert freed.fitness[0, 0, hour] == 0


def test_frozen_ground_stops_a_planter_and_carries_a_seeder():
    winter = spring([0] * 12, first=date(2026, 2, 1), warmth_c=-2.0)
    planter, _ = verdicts(fit_rule(Operation.PLANT), winter)
    seeder, _ = verdicts(fit_rule(Operation.SEED_COVER), winter)
    assert Reason.FROZEN in planter.all_reasons(0, 0, -1) and planter.fitness[0, 0, -1] == 2
    assert seeder.fitness[0, 0, -1] == 0


def test_unknown_weather_is_not_taken_as_fit():
    weather = spring([0] * 4)
    trace = run_soil_water([Ground()], weather, PLACE)
    rain = trace.rain_mm.copy()
    rain[..., 50] = np.nan
    result = judge(GROUND_ONLY, replace(trace, rain_mm=rain), weather, PLACE)
    assert result.fitness[0, 0, 50] == 2 and Reason.UNKNOWN_WEATHER in result.all_reasons(0, 0, 50)


def test_trace_and_weather_must_belong_together():
    weather = spring([0, 0])
    trace = run_soil_water([Ground()], weather, PLACE)
    with pytest.raises(ValueError, match="same members and hours"):
        judge(GROUND_ONLY, trace, spring([0, 0, 0]), PLACE)


def test_chance_grades_over_members_and_over_the_limit():
    weather = spring([[12] + [0] * 5, [45] + [0] * 5])
    sure, _ = verdicts(replace(GROUND_ONLY, limit_sd=0.0), weather)
    unsure, _ = verdicts(GROUND_ONLY, weather)
    assert set(np.unique(sure.chance())) <= {0.0, 0.5, 1.0}
    assert ((unsure.chance() > 0.02) & (unsure.chance() < 0.98) & (sure.chance() != 0.5)).any()
    np.testing.assert_array_equal(sure.chance(), sure.member_share(Fitness.FIT))


def test_the_field_s_own_limit_moves_its_verdicts():
    result, _ = verdicts(GROUND_ONLY, spring([25] + [0] * 6), [Ground(), Ground(limit_shift=-0.1)])
    assert (result.fitness[1] >= result.fitness[0]).all() and (result.fitness[1] > result.fitness[0]).any()


@settings(max_examples=20, deadline=None)
@given(
    rain=st.lists(st.one_of(st.just(0.0), st.floats(0, 40)), min_size=8, max_size=8),
    extra=st.floats(0.1, 60),
    day=st.integers(2, 7),
    operation=st.sampled_from(list(Operation)),
    warmth=st.floats(8, 30),
    texture=st.sampled_from(list(Texture)),
)
def test_more_rain_never_adds_a_fit_hour_that_day(rain, extra, day, operation, warmth, texture):
    more = list(rain)
    more[day] += extra
    ground = [Ground(texture=texture)]
    less_rain, _ = verdicts(fit_rule(operation), spring(rain, warmth_c=warmth), ground)
    more_rain, _ = verdicts(fit_rule(operation), spring(more, warmth_c=warmth), ground)
    today = slice(24 * day, 24 * day + 24)
    assert (more_rain.fitness[0, 0, today] >= less_rain.fitness[0, 0, today]).all()
    assert (more_rain.odds[0, 0, today] <= less_rain.odds[0, 0, today] + 1e-5).all()


@pytest.mark.parametrize(
    ("before_mm", "rain_mm", "extra_mm", "warmth_c", "operation"),
    [
        ([0.0, 0.0, 0.0, 0.0], 21.0, 1.0, 12.0, Operation.TERMINATE),
        ([3.23, 0.0, 0.0, 0.0], 22.68, 0.6, 22.66, Operation.SIDE_DRESS),
        ([0.0, 8.23, 0.0, 27.94], 31.12, 3.84, 11.62, Operation.SCOUT),
    ],
    ids=["melting snow", "rain over midnight", "ground full to the brim"],
)
def test_more_rain_on_a_wet_day_adds_no_odds(before_mm, rain_mm, extra_mm, warmth_c, operation):
    """Once a storm was forgotten by its rain, not by what had soaked in; the curve number was read anew in
    the sun's midnight, an hour into the farm's day; and water without room counted as soaked in. Each let a
    wetter storm leave the ground drier.
    """
    less, more = (
        spring([*before_mm, rain, 0.0, 0.0, 0.0], warmth_c=warmth_c) for rain in (rain_mm, rain_mm + extra_mm)
    )
    odds = [verdicts(fit_rule(operation), weather)[0].odds[0, 0, 96:120] for weather in (less, more)]
    assert (odds[1] <= odds[0] + 1e-5).all()


@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 10**6), operation=st.sampled_from(list(Operation)), tracks=st.booleans())
def test_a_lighter_rig_is_never_less_fit(seed, operation, tracks):
    weather = years(60, seed=seed, first=date(2025, 3, 20))
    trace = run_soil_water([Ground()], weather, PLACE)
    light, medium, heavy = (
        judge(fit_rule(operation, load, tracks), trace, weather, PLACE).fitness for load in LoadClass
    )
    assert (light <= medium).all() and (medium <= heavy).all()


def test_tillage_days_are_at_most_planting_days_at_most_spraying_ground_days():
    """Test use (iii) of the workday literature: tillage <= planting <= spraying, judged on the ground
    alone.
    """
    weather = years(200, first=date(2025, 3, 1))
    trace = run_soil_water([Ground()], weather, PLACE)
    counts = []
    for name in ("strip-till", "plant", "spray"):
        rule = replace(
            fit_rule(Operation(name)), soil_min_c=None, soil_marginal_c=None, spray=None, dew_matters=False,
            rain_now_mm_h=0.3, sticky_h=6, subsoil_limit=1.25,
        )  # fmt: skip
        counts.append(int((judge(rule, trace, weather, PLACE).fitness == 0).sum()))
    assert 0 < counts[0] < counts[1] < counts[2] < weather.hours


def test_dew_and_calm_nights_stop_a_sprayer_not_a_planter():
    weather = spring([0] * 14, warmth_c=25)
    trace = run_soil_water([Ground()], weather, PLACE)
    sprayer = judge(fit_rule(Operation.SPRAY), trace, weather, PLACE)
    planter = judge(fit_rule(Operation.PLANT), trace, weather, PLACE)
    night = weather.hour_index(weather.start_utc + timedelta(days=13, hours=5))
    assert Reason.DEW in sprayer.all_reasons(0, 0, night) and planter.fitness[0, 0, night] == 0


def test_other_soils_are_read_by_how_full_their_large_pores_are():
    """Halfway from field capacity to saturation is the same on the scale of limits, whatever the soil."""
    grounds = [Ground(texture=texture) for texture in Texture]
    scales = pore_scales(grounds)
    own = np.array([(1 + ground.limits()[2] / ground.limits()[1]) / 2 for ground in grounds])
    told = on_reference_scale(own, scales)
    np.testing.assert_allclose(told, told[grounds.index(Ground(texture=Texture.SILTY_CLAY_LOAM))])
    np.testing.assert_allclose(off_reference_scale(told, scales), own)
    np.testing.assert_array_equal(on_reference_scale(np.full(len(own), 0.9), scales), 0.9)


def test_sand_carries_soon_after_a_rain_that_keeps_a_silty_clay_loam_shut():
    sand, loam = Ground(texture=Texture.SAND), Ground(texture=Texture.SILTY_CLAY_LOAM)
    result, _ = verdicts(fit_rule(Operation.SIDE_DRESS), spring([10, 20, 0, 0, 0]), [sand, loam])
    fit = (result.fitness[:, 0] == 0).sum(axis=1)
    assert fit[0] > fit[1] + 24


def test_band_outlook_comes_with_bands_only():
    weather = spring([0] * 6)
    trace = run_soil_water([Ground()], weather, PLACE)
    assert judge(fit_rule(Operation.SIDE_DRESS), trace, weather, PLACE).band is not None
    assert judge(fit_rule(Operation.PLANT), trace, weather, PLACE).band is None
    assert fit_rules.BandRule().incorporate_mm == 6.0
