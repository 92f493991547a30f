"""The outlook as a whole: rain, light, time, odds and reasons keep their promises."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scheduler.events.situation import Check, PassState, Rain
from scheduler.windows.build import build_outlook
from shared.clock import Horizon
from shared.errors import FarmFileError, WeatherUnavailable
from shared.vocabulary import Fitness, LoadClass, Reason
from tests.windows.builders import (
    FIRST_DAY,
    ZONE,
    at,
    days_of,
    farm,
    forecast,
    land,
    living,
    look,
    observed,
    situation,
)

REASONS = list(Reason)
DRY = [0.0] * 12
HEAVY, MEDIUM, LIGHT = (LoadClass.HEAVY, False), (LoadClass.MEDIUM, False), (LoadClass.LIGHT, False)


def reason_at(hours, hour: int) -> Reason:
    return REASONS[int(hours.reason[hour])]


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    day=st.integers(0, 5),
    more_mm=st.floats(0.5, 40.0),
    base=st.lists(st.sampled_from([0.0, 0.0, 3.0, 12.0]), min_size=10, max_size=10),
    cover=st.booleans(),
)
def test_more_rain_never_adds_a_fit_hour_on_that_day(
    day: int, more_mm: float, base: list[float], cover: bool
):
    of = situation(farm(living() if cover else land()))
    wetter = list(base)
    wetter[day] += more_mm
    before, after = (look(of, forecast(FIRST_DAY, rain, members=10), days=6) for rain in (base, wetter))
    for key, kinds in before.fit.items():
        for rig, hours in kinds.items():
            ours = slice(24 * day, 24 * day + 24)
            assert not (after.fit[key][rig].fit[:, ours] & ~hours.fit[:, ours]).any()
            assert (after.fit[key][rig].chance[ours] <= hours.chance[ours] + 1e-9).all()


def test_every_unfit_hour_carries_a_reason_and_every_fit_one_none():
    outlook = look(
        situation(farm(land(), living())), forecast(FIRST_DAY, [0, 9, 0, 0, 25, 0, 0, 4, 0, 0, 0, 0])
    )
    for kinds in outlook.fit.values():
        for hours in kinds.values():
            assert ((hours.reason == REASONS.index(Reason.FIT)) == (hours.chance >= 0.5)).all()
            assert ((hours.chance >= 0) & (hours.chance <= 1)).all()


def test_rain_today_is_the_reason_while_it_falls_and_wet_ground_after():
    hours = look(situation(farm()), forecast(FIRST_DAY, [0, 30, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0])).fit[
        ("low", "plant")
    ][HEAVY]
    assert reason_at(hours, 24 + 14) is Reason.RAINING
    assert reason_at(hours, 48 + 12) is Reason.TOO_WET
    assert hours.margin_mm[48 + 12] > 0


def test_hours_of_today_that_are_over_have_no_chance():
    outlook = look(situation(farm(), now=at(0, "13:40")), forecast(FIRST_DAY, DRY))
    hours = outlook.fit[("low", "plant")][HEAVY]
    assert (hours.chance[:13] == 0).all() and not hours.fit[:, :13].any()
    assert {reason_at(hours, k) for k in range(13)} == {Reason.PAST}
    assert hours.chance[13] > 0, "the running hour can still be used"


def test_a_light_rig_may_go_where_a_planter_may_not():
    wet = observed(at(0), last=[0, 0, 14, 0])
    kinds = look(situation(farm()), forecast(FIRST_DAY, DRY), seen=wet).fit[("low", "plant")]
    light, heavy = kinds[LIGHT], kinds[HEAVY]
    assert (light.chance >= heavy.chance - 1e-12).all()
    only_light = (light.chance >= 0.5) & (heavy.chance < 0.5)
    assert only_light.any()
    assert REASONS[int(heavy.reason[np.flatnonzero(only_light)[0]])] is Reason.TOO_WET


def test_a_gauge_in_the_field_outweighs_the_weather_record():
    of = situation(farm(land("low"), land("far", latitude_deg=42.2)))
    quiet = look(of, forecast(FIRST_DAY, DRY))
    told = replace(of, rain=(Rain("low", at(-1, "00:00"), at(0, "04:00"), 40.0),))
    wet = look(told, forecast(FIRST_DAY, DRY))
    assert wet.fit[("low", "plant")][HEAVY].chance[60] < quiet.fit[("low", "plant")][HEAVY].chance[60] - 0.2
    same = wet.fit[("far", "plant")][HEAVY].chance == quiet.fit[("far", "plant")][HEAVY].chance
    assert same.all(), "a gauge says nothing about a field 22 km away"


def test_a_gauge_speaks_for_neighbours_within_reach_but_their_own_goes_first():
    of = situation(farm(land("low"), land("near", latitude_deg=41.99), land("own", latitude_deg=42.01)))
    rains = (
        Rain("own", at(-1, "00:00"), at(0, "04:00"), 0.0),
        Rain("low", at(-1, "00:00"), at(0, "04:00"), 40.0),
    )
    fields = look(replace(of, rain=rains), forecast(FIRST_DAY, DRY)).fields
    low, near, own = (float(fields[name].surface_wetness[1, 8]) for name in ("low", "near", "own"))
    assert low == pytest.approx(near, abs=1e-6)
    assert own < near - 0.05


def test_a_dry_gauge_takes_away_rain_that_the_record_has():
    seen = observed(at(0), last=[0, 0, 0, 20])
    of = situation(farm())
    dry = replace(of, rain=(Rain(None, at(-1, "00:00"), at(0, "00:00"), 0.0),))
    before, after = (
        look(s, forecast(FIRST_DAY, DRY), seen=seen).fields["low"].surface_wetness[1, 8] for s in (of, dry)
    )
    assert after < before - 0.05


def test_rain_of_the_running_hour_is_not_lost():
    of = situation(farm(), now=at(0, "05:20"), rain=(Rain("low", at(0, "05:05"), at(0, "05:15"), 25.0),))
    wet = look(of, forecast(FIRST_DAY, DRY)).fields["low"].surface_wetness[1, 6]
    dry = look(replace(of, rain=()), forecast(FIRST_DAY, DRY)).fields["low"].surface_wetness[1, 6]
    assert wet > dry + 0.03


@pytest.mark.parametrize(("verdict", "sign"), [(Fitness.UNFIT, -1), (Fitness.FIT, 1)])
def test_a_spade_test_moves_the_odds_its_way_and_is_told(verdict: Fitness, sign: int):
    seen = observed(at(0, "08:00"), last=[0, 0, 10, 0])
    of = situation(farm(), now=at(0, "08:00"))
    checked = replace(of, checks=(Check("low", at(0, "07:30"), verdict, "plant"),))
    before, after = (look(s, forecast(FIRST_DAY, DRY), seen=seen) for s in (of, checked))
    moved = after.fit[("low", "plant")][HEAVY].chance[12] - before.fit[("low", "plant")][HEAVY].chance[12]
    assert sign * moved > 0.03
    assert after.fields["low"].learned.startswith("ground checks:")
    assert before.fields["low"].learned == ""


def test_without_a_forecast_past_years_stand_in_and_it_is_said():
    outlook = look(situation(farm()), None)
    assert outlook.known_hours == 5, "only the observed hours of today are known"
    assert any("no forecast" in note for note in outlook.notes)
    assert outlook.forecast_issued_at is None
    assert outlook.weather.members == 6, "one member per past year"
    hours = outlook.fit[("low", "plant")][HEAVY]
    assert 0 < hours.chance[24 * 5 :].mean() < 1


def test_behind_the_forecast_past_years_go_on_without_a_gap():
    outlook = look(situation(farm()), forecast(FIRST_DAY, [0.0, 0.0, 0.0]), days=7)
    assert outlook.known_hours == 72
    assert outlook.weather.hours == 7 * 24 and not np.isnan(outlook.weather.rain_mm).any()
    rain = outlook.weather.rain_mm
    assert rain[:, 5:72].sum() == 0 and rain[:, 72:].sum() > 0, "it never makes up dry days"
    assert any("after 12 May past years" in note for note in outlook.notes)


def test_a_forecast_of_one_member_still_gets_odds_from_past_years():
    outlook = look(situation(farm()), forecast(FIRST_DAY, [0.0, 0.0], members=1), days=7)
    assert outlook.weather.members == 6


def test_an_old_forecast_is_used_and_called_old():
    old = forecast(FIRST_DAY - timedelta(days=7), [0.0] * 12, issued=at(-7))
    outlook = look(situation(farm()), old)
    assert any("7 days old" in note for note in outlook.notes)
    assert outlook.known_hours == 5 * 24


def test_a_forecast_that_has_run_out_is_not_used():
    outlook = look(situation(farm()), forecast(FIRST_DAY - timedelta(days=9), [0.0] * 4))
    assert any("has run out" in note for note in outlook.notes)
    assert outlook.known_hours == 5


def test_too_little_past_is_said_and_none_at_all_is_refused():
    short = observed(at(0), spin_up_d=10)
    assert any(
        "only 10 days" in note for note in look(situation(farm()), forecast(FIRST_DAY, DRY), seen=short).notes
    )
    none = observed(at(0)).between(at(0, "03:00"), at(0, "05:00"))
    with pytest.raises(WeatherUnavailable, match="no observed weather before today"):
        look(situation(farm()), forecast(FIRST_DAY, DRY), seen=none)


def test_past_years_with_holes_are_refused_in_a_sentence():
    half = days_of(date(2026, 1, 1), [0.0] * 150)
    with pytest.raises(WeatherUnavailable, match="past years"):
        build_outlook(
            situation(farm()), Horizon(FIRST_DAY, 3, ZONE), observed(at(0)), forecast(FIRST_DAY, DRY), half
        )


def test_people_on_foot_need_daylight_and_wait_for_the_re_entry_interval():
    of = situation(farm(land(planted_on=date(2027, 4, 20), done=("plant",))), now=at(0, "05:00"))
    sprayed = dict(of.passes) | {
        ("low", "terminate"): PassState(finished=True, finished_at=at(0, "00:30"), done_ha=30.0)
    }
    free = look(of, forecast(FIRST_DAY, DRY)).fit[("low", "scout")][LIGHT]
    held = look(replace(of, passes=sprayed), forecast(FIRST_DAY, DRY)).fit[("low", "scout")][LIGHT]
    assert reason_at(free, 23) is Reason.DARK
    assert reason_at(free, 9) is Reason.FIT
    assert {reason_at(held, k) for k in range(5, 13)} == {Reason.REENTRY}, "12 h from 00:30: until 12:30"
    assert reason_at(held, 13) is Reason.FIT


def test_the_label_wind_limit_of_a_product_counts():
    of = situation(farm(land(planted_on=date(2027, 4, 15), done=("terminate", "plant"))))
    calm = look(of, forecast(FIRST_DAY, DRY)).fit[("low", "post")][MEDIUM]
    label = farm(land(planted_on=date(2027, 4, 15), done=("terminate", "plant")))
    products = tuple(p.model_copy(update={"wind_most_m_s": 2.0}) for p in label.products)
    strict = look(situation(label.model_copy(update={"products": products})), forecast(FIRST_DAY, DRY))
    windy = strict.fit[("low", "post")][MEDIUM]
    assert (windy.chance <= calm.chance + 1e-12).all()
    assert Reason.WIND_HIGH in {reason_at(windy, k) for k in range(24 * 2 + 11, 24 * 2 + 18)}


def test_limits_of_the_farm_file_move_the_odds_and_unknown_keys_are_refused():
    wet = observed(at(0), last=[0, 0, 14, 0])
    usual = (
        look(situation(farm()), forecast(FIRST_DAY, DRY), seen=wet).fit[("low", "plant")][HEAVY].chance[12]
    )
    own = farm(fit_limits={"plant": {"wet_limit": 1.3}})
    assert (
        look(situation(own), forecast(FIRST_DAY, DRY), seen=wet).fit[("low", "plant")][HEAVY].chance[12]
        > usual
    )
    wrong = farm(fit_limits={"plant": {"wett_limit": 1.3}})
    with pytest.raises(FarmFileError, match=r"fit_limits\.plant.*wett_limit"):
        look(situation(wrong), forecast(FIRST_DAY, DRY))


@pytest.mark.parametrize(("first", "hours"), [(date(2027, 3, 13), 23), (date(2027, 11, 6), 25)])
def test_a_day_of_the_clock_change_has_its_own_length(first: date, hours: int):
    now = datetime(first.year, first.month, first.day, 5, tzinfo=ZoneInfo(ZONE))
    outlook = look(situation(farm(), now=now), forecast(first, [0.0] * 10), days=3)
    day = Horizon(first, 3, ZONE).day_interval(1)
    assert (day[1] - day[0]) // 60 == hours
    assert outlook.weather.hours == 48 + hours
    for kinds in outlook.fit.values():
        assert all(one.chance.size == 48 + hours for one in kinds.values())


def test_a_pass_that_is_done_is_not_judged_and_a_pass_without_a_rig_has_a_window_only():
    without = farm(land(done=("terminate",)), machines=())
    outlook = look(situation(without), forecast(FIRST_DAY, DRY))
    assert ("low", "terminate") not in outlook.windows
    assert outlook.fit[("low", "plant")] == {}
    assert outlook.windows[("low", "plant")].closes == date(2027, 6, 20)


def test_same_facts_same_outlook():
    of = situation(farm(land(), living()))
    one, two = (look(of, forecast(FIRST_DAY, [0, 8, 0, 0, 0, 3, 0, 0])) for _ in range(2))
    for key, kinds in one.fit.items():
        for rig, hours in kinds.items():
            assert np.array_equal(hours.chance, two.fit[key][rig].chance)


def test_the_season_behind_is_a_share_by_week_for_every_job():
    shares = look(situation(farm()), forecast(FIRST_DAY, DRY)).season_fit_share
    assert {"plant", "spray", "terminate", "side-dress", "interseed", "scout"} <= set(shares)
    for share in shares.values():
        assert share.shape == (8,) and ((share >= 0) & (share <= 1)).all()
    assert (shares["scout"] >= shares["plant"]).all(), "people on foot go where machines cannot"


def test_start_is_the_farm_midnight():
    outlook = look(situation(farm()), forecast(FIRST_DAY, DRY))
    assert outlook.start_utc == datetime(2027, 5, 10, 5, tzinfo=UTC)
    assert outlook.weather.start_utc == outlook.start_utc
