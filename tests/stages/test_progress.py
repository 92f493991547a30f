"""Stage dates with odds: exact cases, what wider error and more heat may do, what a scout's word does."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from scheduler.stages import (
    CornSetting,
    Scouted,
    SettingRefused,
    StageOdds,
    corn_curve,
    learn_stage,
    soybean_curve,
    stage_dates,
)
from scheduler.stages.normal_odds import error_nodes, normal_cdf
from tests.stages.weather import fan, steady

MAY_1 = date(2026, 5, 1)
EXACT = CornSetting(emergence_sd_degf_d=0.0, rate_sd=0.0)


def odds_of(heat, setting: CornSetting | None = None, planted: date = MAY_1, scouted=()) -> StageOdds:
    return stage_dates(corn_curve(setting or CornSetting()), planted, MAY_1, heat, scouted)


def test_without_error_the_date_is_the_day_the_heat_is_full() -> None:
    """361 degree-days to V3 at 19 a day: the 19th day from planting on, planting day counted."""
    odds = odds_of(steady(19.0, 60), EXACT)
    assert odds.date_at("V3") == MAY_1 + timedelta(days=18)
    assert odds.date_at("V3", 0.1) == odds.date_at("V3", 0.9)
    assert odds.member_dates("V3") == [MAY_1 + timedelta(days=18)]


def test_heat_before_planting_does_not_count() -> None:
    late = odds_of(steady(19.0, 60), EXACT, planted=MAY_1 + timedelta(days=10))
    assert late.date_at("V3") == MAY_1 + timedelta(days=28)
    assert late.reached("planted")[0, 9] == 0.0
    assert late.reached("planted")[0, 10] == 1.0


def test_odds_are_the_normal_odds_of_the_needed_heat() -> None:
    """Against scipy's normal distribution: V6 needs 607 +- hypot(15, 0.06 * 492)."""
    odds = odds_of(steady(10.0, 80))
    mean, sd = odds.need("V6")
    assert (mean, sd) == (pytest.approx(607.0), pytest.approx(np.hypot(15.0, 0.06 * 492.0)))
    np.testing.assert_allclose(odds.reached("V6")[0], norm.cdf((odds.heat[0] - mean) / sd), atol=1e-7)


def test_normal_table_against_scipy() -> None:
    z = np.linspace(-9, 9, 4001)
    np.testing.assert_allclose(normal_cdf(z), norm.cdf(z), atol=4e-8)
    assert np.isclose(np.std(error_nodes(9)), 1.0)


def test_stages_after_the_record_have_no_date() -> None:
    assert odds_of(steady(10.0, 30)).date_at("V10") is None
    assert odds_of(steady(10.0, 30)).date_at("R3") is None


@settings(max_examples=40, deadline=None)
@given(
    start=st.floats(0, 40),
    rate=st.floats(0, 0.2),
    more=st.floats(0, 0.1),
    stage=st.sampled_from(["VE", "V3", "V8"]),
)
def test_wider_error_never_narrows_the_spread(start: float, rate: float, more: float, stage: str) -> None:
    """For one weather: the 10 % date never later, the 90 % date never earlier. (Over members the pooled
    spread of a rare extreme can shrink when every member gets wider, so it is not claimed there.)"""
    narrow = odds_of(steady(15.0, 150), CornSetting(emergence_sd_degf_d=start, rate_sd=rate))
    wide = odds_of(
        steady(15.0, 150), CornSetting(emergence_sd_degf_d=start * (1 + more), rate_sd=rate + more)
    )
    assert wide.date_at(stage, 0.1) <= narrow.date_at(stage, 0.1)
    assert wide.date_at(stage, 0.9) >= narrow.date_at(stage, 0.9)


@settings(max_examples=40, deadline=None)
@given(
    heat=st.lists(st.floats(0, 30), min_size=90, max_size=90),
    day=st.integers(0, 89),
    more=st.floats(0, 20),
    crop=st.sampled_from(["corn", "soybean"]),
)
def test_more_heat_is_never_later(heat: list[float], day: int, more: float, crop: str) -> None:
    curve = corn_curve() if crop == "corn" else soybean_curve()
    cool = np.array([heat])
    warm = cool.copy()
    warm[0, day] += more
    for stage in ("VE", "V2", "V5"):
        a = stage_dates(curve, MAY_1, MAY_1, cool).reached(stage)
        b = stage_dates(curve, MAY_1, MAY_1, warm).reached(stage)
        assert (b >= a - 1e-9).all()


@settings(max_examples=40, deadline=None)
@given(heat=st.lists(st.floats(0, 30), min_size=60, max_size=60), odds=st.floats(0.05, 0.95))
def test_stages_follow_each_other(heat: list[float], odds: float) -> None:
    field = odds_of(np.array([heat]))
    for early, late in (("VE", "V1"), ("V1", "V4"), ("V4", "V9")):
        assert (field.reached(early) >= field.reached(late) - 1e-9).all()
        first, second = field.date_at(early, odds), field.date_at(late, odds)
        assert second is None or (first is not None and first <= second)
    assert (np.diff(field.reached("V4"), axis=1) >= -1e-12).all()


def test_chance_inside_a_window_is_the_mean_over_members() -> None:
    odds = odds_of(fan(90))
    inside = odds.member_chance("V3", "V6")
    np.testing.assert_allclose(odds.chance("V3", "V6"), inside.mean(axis=0))
    assert inside.max() <= 1.0 and inside.min() >= 0.0
    # V3 to V6 and everything before and after it fill the whole.
    total = inside + (1.0 - odds.reached("V3", "midday")) + odds.reached("V7", "midday")
    np.testing.assert_allclose(total, 1.0, atol=1e-9)


def test_soybean_keeps_days_after_emergence() -> None:
    """Cool or hot after emergence, a node takes the same days (trade press: 3.7 from V1 on)."""
    gap = []
    for per_day in (9.0, 25.0):
        heat = steady(20.0, 100)
        heat[:, 20:] = per_day
        odds = stage_dates(soybean_curve(), MAY_1, MAY_1, heat)
        one, eleven = odds.date_at("V1"), odds.date_at("V11")
        assert one is not None and eleven is not None
        gap.append((eleven - one).days)
    assert gap[0] == gap[1] == 37


def seen_from(true_shift: float, true_rate: float, day: int, heat) -> str:
    """Return the stage that a field with this shift and rate shows at midday of `day`."""
    curve = corn_curve()
    start = curve.start_heat + true_shift
    middle = float((heat[0, : day + 1].sum() + heat[0, :day].sum()) / 2.0)
    base = curve.start_heat + (middle - start) / (1.0 + true_rate)
    return curve.name_at(float(curve.stage_at(base)))


def test_a_sighting_moves_the_dates_towards_what_was_seen_and_narrows_them() -> None:
    heat = fan(90)
    before = odds_of(heat)
    seen = seen_from(30.0, 0.08, 28, heat)
    after = learn_stage(before, Scouted(MAY_1 + timedelta(days=28), seen))
    assert after.date_at("V8") >= before.date_at("V8")
    assert after.need("V8")[1] < before.need("V8")[1]
    truth = corn_curve().start_heat + 30.0 + 1.08 * (771.0 - 115.0)
    assert abs(after.need("V8")[0] - truth) < abs(before.need("V8")[0] - truth)


def test_many_sightings_find_a_slow_field() -> None:
    """Eight looks at a field that needs 25 degree-days more to emerge and 9 % more per leaf."""
    heat = steady(18.0, 90)
    looks = [Scouted(MAY_1 + timedelta(days=d), seen_from(25.0, 0.09, d, heat)) for d in range(15, 55, 5)]
    odds = odds_of(heat, scouted=looks)
    truth = 115.0 + 25.0 + 1.09 * (771.0 - 115.0)
    assert odds.need("V8")[0] == pytest.approx(truth, abs=20.0)
    assert odds.need("V8")[1] < 0.6 * odds_of(heat).need("V8")[1]


def test_order_of_sightings_given_does_not_matter() -> None:
    heat = steady(18.0, 90)
    looks = [Scouted(MAY_1 + timedelta(days=d), s) for d, s in ((14, "V1"), (25, "V3"), (40, "V6"))]
    a, b = odds_of(heat, scouted=looks), odds_of(heat, scouted=looks[::-1])
    np.testing.assert_allclose(a.shift, b.shift)
    np.testing.assert_allclose(a.cov, b.cov)


def test_one_wrong_report_cannot_turn_the_forecast_over() -> None:
    """V12 reported where the model expects V3: a slip of the pen moves V8 by under a week, and is said."""
    heat = steady(18.0, 90)
    before, slip = odds_of(heat), odds_of(heat, scouted=[Scouted(MAY_1 + timedelta(days=20), "V12")])
    assert abs((slip.date_at("V8") - before.date_at("V8")).days) <= 7
    assert any("look again" in note for note in slip.notes)


def test_not_yet_up_pushes_emergence_back() -> None:
    heat = steady(10.0, 60)
    before = odds_of(heat)
    day = 12  # 125 of heat: the crop should be up by now
    after = learn_stage(before, Scouted(MAY_1 + timedelta(days=day), "planted"))
    assert after.need("VE")[0] > 125.0
    assert after.date_at("VE") > before.date_at("VE")
    # Against scipy's truncated normal: mean of N(115, 15) cut off below 125.
    from scipy.stats import truncnorm

    cut = truncnorm((125.0 - 115.0) / 15.0, np.inf, loc=115.0, scale=15.0)
    assert after.need("VE")[0] == pytest.approx(cut.mean(), rel=1e-6)
    assert after.need("VE")[1] == pytest.approx(cut.std(), rel=1e-6)


def test_one_wrong_not_up_yet_cannot_stop_the_season_but_a_second_is_believed_more() -> None:
    """450 of heat and "nothing up": likely the wrong field. One report moves V3 by under a week."""
    heat = steady(15.0, 90)
    look = Scouted(MAY_1 + timedelta(days=29), "planted")
    before, once = odds_of(heat), odds_of(heat, scouted=[look])
    twice = learn_stage(once, replace(look, day=look.day + timedelta(days=1)))
    assert 0 < (once.date_at("V3") - before.date_at("V3")).days < 7
    assert twice.need("VE")[0] > once.need("VE")[0]
    assert any("look again" in note for note in once.notes)


@pytest.mark.parametrize(
    ("day", "stage", "says"),
    [(-5, "V1", "allowed: planting"), (400, "V1", "allowed: planting"), (30, "R4", "not predicted")],
)
def test_a_sighting_that_cannot_be_used_is_refused(day: int, stage: str, says: str) -> None:
    with pytest.raises(SettingRefused, match=says):
        learn_stage(odds_of(steady(15.0, 60)), Scouted(MAY_1 + timedelta(days=day), stage))


def test_missing_heat_after_planting_is_refused() -> None:
    heat = steady(15.0, 30)
    heat[0, 5] = np.nan
    with pytest.raises(ValueError, match="missing"):
        odds_of(heat)
    with pytest.raises(SettingRefused, match="weather from planting on"):
        stage_dates(corn_curve(), MAY_1 - timedelta(days=1), MAY_1, steady(15.0, 30))


def test_the_median_stage_lies_between_the_careful_ones() -> None:
    odds = odds_of(fan(90))
    low, middle, high = (odds.stage_on(q) for q in (0.1, 0.5, 0.9))
    assert (low <= middle).all() and (middle <= high).all()
    assert high[-1] - low[-1] > 2.0
