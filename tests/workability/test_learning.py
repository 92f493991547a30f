"""Spade tests and gauges: they move a field the right way, one wrong report does not, and what is said
adds up.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from scheduler.workability import layout as at
from scheduler.workability.fit_rules import fit_rule
from scheduler.workability.gauges import GaugeReading, rain_by_field
from scheduler.workability.ground import Ground
from scheduler.workability.learning import GroundCheck, LearningPrior, learn_field
from scheduler.workability.soil_water import run_soil_water
from scheduler.workability.verdicts import judge
from shared.vocabulary import Fitness, Operation
from tests.workability.weather import PLACE, spring

RULE = replace(fit_rule(Operation.PLANT), soil_min_c=None, soil_marginal_c=None)
# Three rains, each followed by days of drying, so that drying pace can be told from the limit.
WEATHER = spring(
    [25, 10, 0, 0, 0, 0, 0, 0, 20, 12, 0, 0, 0, 0, 0, 0, 30, 5, 0, 0, 0, 0, 0, 0, 0], warmth_c=20
)


def moment(day: int, hour: int = 12):
    return WEATHER.start_utc + timedelta(days=day, hours=hour)


def checks_of(truth: Ground, days: list[int]) -> list[GroundCheck]:
    """What a spade would have told on a field that truly is `truth`."""
    trace = run_soil_water([truth], WEATHER, PLACE)
    verdicts = judge(replace(RULE, limit_sd=0.0), trace, WEATHER, PLACE)
    limit, band = RULE.wet_limit + truth.limit_shift, RULE.marginal_band
    found = []
    for day in days:
        wet = float(trace.surface_wetness[0, 0, WEATHER.hour_index(moment(day))])
        kind = Fitness.FIT if wet <= limit else Fitness.MARGINAL if wet <= limit + band else Fitness.UNFIT
        found.append(GroundCheck(moment(day), kind, RULE))
    assert verdicts.limits[0] == pytest.approx(limit)
    return found


DAYS = [2, 4, 5, 6, 10, 11, 12, 13, 18, 19, 20, 21, 22]


def test_no_reports_change_nothing():
    learned = learn_field(Ground(), [], WEATHER, PLACE)
    assert learned.drying_factor_after == learned.drying_factor_before
    assert learned.limit_shift_after.mean == pytest.approx(0.0, abs=1e-12)
    assert learned.wetness_after == learned.wetness_before and learned.doubted == ()


@pytest.mark.parametrize("factor", [0.6, 1.7])
def test_a_slow_or_fast_field_is_found_out(factor):
    learned = learn_field(Ground(), checks_of(Ground(drying_factor=factor), DAYS), WEATHER, PLACE)
    before, after = learned.drying_factor_before, learned.drying_factor_after
    # Slow drying and a low limit look alike to a spade; together they must point the right way.
    towards = (after.mean - before.mean) * (factor - 1) > 0 or learned.limit_shift_after.mean * (
        1 - factor
    ) > 0
    assert towards
    assert after.sd < before.sd
    assert learned.ground.drying_factor == pytest.approx(after.mean)


def test_learning_predicts_the_next_spade_better():
    """Learned on the first two rains, the third one is judged closer to the truth than without learning."""
    truth = Ground(drying_factor=1.8, limit_shift=-0.03)
    learned = learn_field(
        Ground(), checks_of(truth, [2, 3, 4, 5, 6, 7, 10, 11, 12, 13, 14, 15]), WEATHER, PLACE
    ).ground
    trace = run_soil_water([truth, Ground(), learned], WEATHER, PLACE)
    right, blind, taught = judge(RULE, trace, WEATHER, PLACE).fitness[:, 0, 24 * 17 :]
    assert (taught == right).mean() > (blind == right).mean()


def test_one_unfit_report_makes_the_field_wetter_and_its_limit_lower_not_drier():
    dry_noon = [GroundCheck(moment(6), Fitness.UNFIT, RULE)]
    learned = learn_field(Ground(), dry_noon, WEATHER, PLACE)
    assert learned.limit_shift_after.mean < 0
    assert learned.drying_factor_after.mean > learned.drying_factor_before.mean


def test_one_wrong_report_among_many_is_doubted_and_hardly_moves_the_field():
    honest = checks_of(Ground(), DAYS)
    wet_day = next(k for k, check in enumerate(honest) if check.verdict is Fitness.UNFIT)
    lie = replace(honest[wet_day], verdict=Fitness.FIT)
    true_view = learn_field(Ground(), honest, WEATHER, PLACE)
    fooled = learn_field(Ground(), [*honest, lie], WEATHER, PLACE)
    moved = abs(fooled.drying_factor_after.mean - true_view.drying_factor_after.mean)
    assert moved < 0.25 * true_view.drying_factor_before.sd
    assert (
        abs(fooled.limit_shift_after.mean - true_view.limit_shift_after.mean)
        < 0.25 * LearningPrior().limit_sd
    )
    assert fooled.doubted == (len(honest),)


def test_without_the_guard_the_same_wrong_report_would_move_it_more():
    honest = checks_of(Ground(), DAYS)
    wet_day = next(k for k, check in enumerate(honest) if check.verdict is Fitness.UNFIT)
    lies = [*honest, replace(honest[wet_day], verdict=Fitness.FIT)]

    def shift(wrong_share: float) -> float:
        prior = LearningPrior(wrong_share=wrong_share)
        truth = learn_field(Ground(), honest, WEATHER, PLACE, prior)
        fooled = learn_field(Ground(), lies, WEATHER, PLACE, prior)
        return abs(fooled.limit_shift_after.mean - truth.limit_shift_after.mean)

    assert shift(0.10) < shift(1e-6)


def test_the_order_of_reports_does_not_matter():
    checks = checks_of(Ground(drying_factor=1.5), DAYS)
    one, other = (learn_field(Ground(), c, WEATHER, PLACE) for c in (checks, checks[::-1]))
    assert one.drying_factor_after.mean == pytest.approx(other.drying_factor_after.mean, rel=1e-9)


def test_a_fresh_report_moves_today_s_wetness_and_an_old_one_does_not():
    late = learn_field(Ground(), [GroundCheck(moment(24, 18), Fitness.UNFIT, RULE)], WEATHER, PLACE)
    early = learn_field(Ground(), [GroundCheck(moment(3), Fitness.UNFIT, RULE)], WEATHER, PLACE)
    gained = late.wetness_after.mean - late.wetness_before.mean
    assert gained > 0.01
    assert abs(early.wetness_after.mean - early.wetness_before.mean) < gained
    state = run_soil_water([Ground()], WEATHER, PLACE).final
    moved = late.adjust(state, 0, 57.3)
    assert moved.values[0, 0, at.SURFACE] - state.values[0, 0, at.SURFACE] == pytest.approx(57.3 * gained)


def test_reports_from_outside_the_record_are_left_aside():
    outside = GroundCheck(WEATHER.end_utc + timedelta(days=3), Fitness.UNFIT, RULE)
    learned = learn_field(Ground(), [outside], WEATHER, PLACE)
    assert learned.limit_shift_after.mean == pytest.approx(0.0, abs=1e-12)


def test_a_gauge_speaks_for_its_own_fields_and_hours():
    reading = GaugeReading((1,), moment(8, 0), moment(10, 0), 40.0)
    rain = rain_by_field(3, WEATHER, [reading])
    assert np.isnan(rain[0]).all() and np.isnan(rain[2]).all()
    assert np.nansum(rain[1]) == pytest.approx(40.0)
    known = ~np.isnan(rain[1, 0])
    assert known.sum() == 48
    # Where the weather had no rain, the gauge's total puts none.
    assert (rain[1, 0][known & (WEATHER.rain_mm[0] == 0)] == 0).all()


def test_a_gauge_with_rain_on_a_day_the_weather_called_dry_is_spread_evenly():
    rain = rain_by_field(1, WEATHER, [GaugeReading((0,), moment(4, 0), moment(5, 0), 12.0)])
    assert np.nanmax(rain) == pytest.approx(0.5) and np.nansum(rain) == pytest.approx(12.0)


def test_absurd_gauge_readings_are_refused():
    with pytest.raises(ValueError, match="500 mm"):
        GaugeReading((0,), moment(1), moment(2), 1000.0)
    with pytest.raises(ValueError, match="end after"):
        GaugeReading((0,), moment(2), moment(1), 5.0)
