"""The answer of `fitground stages`, normals behind it, and both against a second way of counting."""

from __future__ import annotations

import json
from datetime import date, timedelta

import numpy as np
import pytest

from scheduler.stages import (
    RYE_BASE_4_4,
    MeasuredHeight,
    Scouted,
    SettingRefused,
    StageOptions,
    daily_heat,
    extend_heat,
    heat_normals,
    stages_report,
)
from shared.weather_records import DailyWeather
from tests.stages.weather import central_iowa, steady, steady_weather

MAY_1 = date(2026, 5, 1)


def test_the_report_is_json_and_has_its_documented_shape() -> None:
    report = stages_report(steady_weather(MAY_1, 60, 25.0, 13.0), "corn", MAY_1)
    again = json.loads(json.dumps(report))
    assert set(again) == {"crop", "planted", "heat", "days", "stages", "notes"}
    assert set(again["days"][0]) == {
        "date", "heat", "heat_since_planting", "stage", "stage_number", "from_normals", "height_m",
    }  # fmt: skip
    assert set(again["stages"][0]) == {"stage", "heat_needed", "heat_sd", "date_10", "date_50", "date_90"}
    assert len(again["days"]) == 60
    assert again["stages"][0]["stage"] == "VE" and again["stages"][-1]["stage"] == "R1"
    assert again["stages"][-1]["date_50"] is None


def test_dates_agree_with_counting_by_hand() -> None:
    """25/13 degC is 77/55.4 degF: 16.2 degree-days a day by the 86/50 method; emergence needs 115, V1 197."""
    report = stages_report(steady_weather(MAY_1, 60, 25.0, 13.0), "corn", MAY_1)
    assert report["days"][0]["heat"] == pytest.approx(16.2)
    by_name = {row["stage"]: row for row in report["stages"]}
    for name, need in (("VE", 115.0), ("V1", 197.0), ("V6", 607.0)):
        day = MAY_1 + timedelta(days=int(np.ceil(need / 16.2)) - 1)
        assert by_name[name]["date_50"] == day.isoformat()
    assert by_name["VE"]["date_10"] < by_name["VE"]["date_50"] < by_name["VE"]["date_90"]


def test_median_stage_of_the_day_rows_agrees_with_the_stage_rows() -> None:
    report = stages_report(steady_weather(MAY_1, 90, 27.0, 14.0), "corn", MAY_1)
    first_seen: dict[str, str] = {}
    for row in report["days"]:
        first_seen.setdefault(row["stage"], row["date"])
    for row in report["stages"]:
        if row["date_50"] is not None:
            assert first_seen[row["stage"]] == row["date_50"]


def test_rye_sown_in_autumn_counts_heat_from_green_up_on() -> None:
    """Winter rye stands still over winter: sown in September it heads when rye that only greens up in March does."""
    days = steady_weather(date(2025, 9, 1), 300, 14.4, 4.4)
    sown = stages_report(days, "rye", date(2025, 9, 20))
    spring = stages_report(days, "rye", date(2026, 3, 1))
    assert sown["stages"] == spring["stages"] and sown["planted"] == "2025-09-20"
    assert all(row["date_50"] is None or row["date_50"] > "2026-03-01" for row in sown["stages"])
    assert any("greens up" in note for note in sown["notes"])


@pytest.mark.parametrize("crop", ["soybean", "rye"])
def test_other_crops(crop: str) -> None:
    report = stages_report(steady_weather(MAY_1, 60, 25.0, 13.0), crop, MAY_1)
    assert report["stages"][0]["date_50"] is not None
    assert ("height_m" in report["days"][0]) == (crop == "rye")


def test_sightings_and_heights_are_taken_in() -> None:
    weather = steady_weather(MAY_1, 60, 25.0, 13.0)
    plain = stages_report(weather, "corn", MAY_1)
    options = StageOptions(
        scouted=[Scouted(MAY_1 + timedelta(days=30), "V2")],
        measured=[MeasuredHeight(MAY_1 + timedelta(days=35), 0.12)],
    )
    told = stages_report(weather, "corn", MAY_1, options)
    assert told["stages"][6]["date_50"] > plain["stages"][6]["date_50"]
    assert told["days"][35]["height_m"]["50"] < plain["days"][35]["height_m"]["50"]


def test_short_holes_are_filled_and_said_long_ones_refused() -> None:
    weather = steady_weather(MAY_1, 60, 25.0, 13.0)
    weather.tmax_c[0, 10:13] = np.nan
    report = stages_report(weather, "corn", MAY_1)
    assert any("missing on 3 days" in note for note in report["notes"])
    assert report["days"][11]["heat"] == pytest.approx(16.2)
    weather.tmin_c[0, 20:30] = np.nan
    with pytest.raises(SettingRefused, match="10 days in a row"):
        stages_report(weather, "corn", MAY_1)


@pytest.mark.parametrize(
    ("crop", "planted", "says"),
    [
        ("barley", MAY_1, "allowed: corn, soybean, rye"),
        ("corn", MAY_1 - timedelta(days=1), "allowed: 2026-05-01 to 2026-06-29"),
        ("corn", MAY_1 + timedelta(days=365), "outside the weather"),
    ],
)
def test_bad_input_is_one_sentence(crop: str, planted: date, says: str) -> None:
    with pytest.raises(SettingRefused, match=says):
        stages_report(steady_weather(MAY_1, 60, 25.0, 13.0), crop, planted)


def two_years(first: float, second: float) -> DailyWeather:
    """Return a history of 2024 (leap) and 2025, each with its own steady maximum; minimum at 50 degF."""
    tmax = np.concatenate([np.full(366, first), np.full(365, second)])[None, :]
    return DailyWeather(date(2024, 1, 1), tmax * 0.0, tmax, tmax * 0.0 + 10.0)


def test_normals_are_the_mean_of_the_years() -> None:
    """Tmin at the base: heat is half of Tmax above 10 degC, in degF: 9 and 13.5."""
    normals = heat_normals(two_years(20.0, 25.0))
    assert normals.years == (2024, 2025)
    np.testing.assert_allclose(normals.usual(date(2026, 6, 1), 10), 11.25)
    np.testing.assert_allclose(normals.of_year(1, date(2026, 6, 1), 10), 13.5)


def test_weeks_ahead_every_member_goes_on_with_a_past_year() -> None:
    normals = heat_normals(two_years(20.0, 25.0))
    one = extend_heat(steady(5.0, 10), MAY_1, MAY_1 + timedelta(days=19), normals)
    assert one.shape == (2, 20)
    np.testing.assert_allclose(one[:, :10], 5.0)
    np.testing.assert_allclose(one[:, 10:], [[9.0] * 10, [13.5] * 10])
    many = extend_heat(steady(5.0, 10, members=4), MAY_1, MAY_1 + timedelta(days=19), normals)
    assert many.shape == (4, 20)
    # Nothing to add: the record is left as it is.
    assert extend_heat(one, MAY_1, MAY_1, normals) is one


def test_days_from_past_years_are_marked() -> None:
    options = StageOptions(normals=heat_normals(two_years(20.0, 25.0)), until=MAY_1 + timedelta(days=29))
    report = stages_report(steady_weather(MAY_1, 10, 25.0, 13.0), "corn", MAY_1, options)
    assert [row["from_normals"] for row in report["days"]] == [False] * 10 + [True] * 20
    assert any("past years stand in" in note for note in report["notes"])


def test_normals_need_every_day_of_the_year() -> None:
    with pytest.raises(ValueError, match="every day of the year"):
        heat_normals(steady_weather(MAY_1, 60, 20.0, 10.0))


def test_the_normals_must_count_heat_as_the_crop_does() -> None:
    normals = heat_normals(two_years(20.0, 25.0), RYE_BASE_4_4)
    with pytest.raises(SettingRefused, match=r"base 4\.4"):
        stages_report(steady_weather(MAY_1, 20, 25.0, 13.0), "corn", MAY_1, StageOptions(normals=normals))


def test_forecast_odds_hold_up_against_forty_real_springs() -> None:
    """Ames, Iowa: from the weather to 15 May and past years after, how often does the true weather's V6 date
    fall inside the stated 10-90 % band? Each spring is left out of the history that judges it. The model's
    own error is switched off on both sides, so this tests the climatological spread alone: 80 % is stated,
    40 springs are few, so the band of a binomial (99 %) is allowed."""
    from scipy.stats import binom

    from scheduler.stages import CornSetting, corn_curve, stage_dates

    history = central_iowa()
    heat, years = daily_heat(history), range(1980, 2020)
    curve = corn_curve(CornSetting(emergence_sd_degf_d=0.0, rate_sd=0.0))
    dates = np.array(history.dates())
    inside = 0
    for year in years:
        planted = date(year, 4, 28)
        start = (planted - history.first_day).days
        season = heat[:, start : start + 100]
        truth = stage_dates(curve, planted, planted, season).date_at("V6")
        other = np.array([day.year != year for day in dates])
        years_left = heat_normals_without(history, other)
        ahead = extend_heat(season[:, :18], planted, planted + timedelta(days=99), years_left)
        odds = stage_dates(curve, planted, planted, ahead)
        early, late = odds.date_at("V6", 0.1), odds.date_at("V6", 0.9)
        inside += early <= truth <= late
    low, high = binom.interval(0.99, 40, 0.8)
    assert low <= inside <= high


def heat_normals_without(history: DailyWeather, keep: np.ndarray):
    """Return the normals of a history with some days hidden."""
    hidden = np.where(keep[None, :], history.tmax_c, np.nan)
    normals = heat_normals(DailyWeather(history.first_day, history.rain_mm, hidden, history.tmin_c))
    left = sorted({day.year for day, used in zip(history.dates(), keep, strict=True) if used})
    rows = [normals.years.index(year) for year in left]
    return type(normals)(normals.rule, normals.mean, tuple(left), normals.traces[rows])
