"""Suitable days of a district: shape of the answer, orders that must hold, and calibration to reports."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from scheduler.workability.calibrate import WeekReport, calibrate, compass_search
from scheduler.workability.district import FITTED, HANDBOOK, TYPICAL_GROUND
from scheduler.workability.workdays import judge_district, weekly_sums, workdays, workdays_report
from shared.weather_records import DailyWeather, Place

PLACE = Place(42.02, -93.6, 300.0)


def weather(
    count: int = 200, seed: int = 3, first: date = date(2025, 1, 1), rain_factor: float = 1.0
) -> DailyWeather:
    draw = np.random.default_rng(seed)
    rain = np.where(draw.random(count) < 0.3, draw.gamma(0.8, 11.0, count), 0.0) * rain_factor
    mean = 10 - 14 * np.cos(2 * np.pi * (np.arange(count) - 20) / 365) + draw.normal(0, 3, count)
    return DailyWeather(first, rain[None], mean[None] + 6, mean[None] - 6)


def test_one_record_a_day_within_bounds():
    result = workdays(weather(), PLACE)
    assert [day.date for day in result.days] == weather().dates()
    for day in result.days:
        assert 0 <= day.suitable_chance <= 1
        assert 0.2 < day.surface_wetness < 1.5 and 0.4 < day.subsoil_wetness < 1.5
        assert -25 < day.soil_temp_c < 40


def test_the_report_is_plain_json_with_the_documented_keys():
    report = json.loads(json.dumps(workdays_report(workdays(weather(40), PLACE))))
    assert set(report) == {"days", "notes"}
    assert set(report["days"][0]) == {
        "date", "surface_wetness", "subsoil_wetness", "soil_temp_c", "suitable_chance",
    }  # fmt: skip
    assert report["days"][0]["date"] == "2025-01-01"
    notes = " ".join(report["notes"])
    for word in ("solar radiation", "humidity", "wind", "silty clay loam", "field capacity"):
        assert word in notes


def test_longitude_does_not_matter_and_frozen_midwinter_is_shut():
    here, there = (workdays(weather(60), Place(42.0, lon, 300)).days for lon in (-93.6, 11.0))
    assert here == there
    assert np.mean([day.suitable_chance for day in here[:30]]) < 0.25


def test_a_rainier_spring_has_fewer_days():
    usual, wet = (workdays(weather(rain_factor=f), PLACE).days for f in (1.0, 1.6))
    total = [sum(day.suitable_chance for day in days[90:180]) for days in (usual, wet)]
    assert total[1] < total[0] - 3


def test_more_rain_on_one_day_never_raises_that_day_s_chance():
    base = weather()
    for index in (95, 120, 150):
        rain = base.rain_mm.copy()
        rain[0, index] += 15
        more = workdays(replace(base, rain_mm=rain), PLACE).days[index]
        less = workdays(base, PLACE).days[index]
        assert more.suitable_chance <= less.suitable_chance
        assert more.surface_wetness >= less.surface_wetness


def test_ground_that_drains_badly_or_is_covered_has_fewer_days():
    def total(**change) -> float:
        days = workdays(weather(), PLACE, replace(TYPICAL_GROUND, **change)).days
        return sum(day.suitable_chance for day in days[90:180])

    assert total(tiled=False) < total(tiled=True)
    assert total(residue_pct=90.0) < total(residue_pct=10.0)


def test_weekly_sums_take_the_seven_days_up_to_the_date():
    rows = workdays(weather(30), PLACE, settings=HANDBOOK).days
    plain, earlier, outside = weekly_sums(
        rows, [date(2025, 1, 20), date(2025, 1, 20), date(2025, 1, 3)][:1]
    ) + (weekly_sums(rows, [date(2025, 1, 20)], ends_before_d=1) + weekly_sums(rows, [date(2025, 1, 3)]))
    assert plain == pytest.approx(sum(row.suitable_chance for row in rows[13:20]))
    assert earlier == pytest.approx(sum(row.suitable_chance for row in rows[12:19]))
    assert np.isnan(outside)


def reports_from(settings, days: DailyWeather, noise: float = 0.0) -> list[WeekReport]:
    chance = judge_district(days, PLACE, None, settings).chance()
    draw = np.random.default_rng(5)
    found = []
    for end in range(97, 300, 7):
        told = float(np.clip(chance[end - 6 : end + 1].sum() + noise * draw.normal(), 0, 7))
        found.append(WeekReport(days.first_day + timedelta(days=end), told))
    return found


def test_calibration_finds_a_limit_that_was_hidden_in_the_reports():
    """Reports made with a limit 0.12 lower than the start: the search must come back to it."""
    days = weather(320)
    hidden = replace(FITTED, rule=replace(FITTED.rule, limit=FITTED.rule.limit - 0.12))
    found = calibrate(days, PLACE, reports_from(hidden, days))
    assert found.after.rule.limit == pytest.approx(hidden.rule.limit, abs=0.02)
    assert found.fitted_after.mae < 0.1 < found.fitted_before.mae
    assert found.worth_taking and found.held_after.mae < 0.1


def test_calibration_without_anything_to_learn_says_so():
    days = weather(320)
    found = calibrate(days, PLACE, reports_from(FITTED, days))
    assert found.after.rule.limit == pytest.approx(FITTED.rule.limit, abs=0.02)
    assert found.held_after.mae <= found.held_before.mae + 0.02


def test_too_few_weeks_and_absurd_reports_are_refused():
    days = weather(320)
    with pytest.raises(ValueError, match="at least 20"):
        calibrate(days, PLACE, reports_from(FITTED, days)[:5])
    with pytest.raises(ValueError, match="between 0 and 7"):
        WeekReport(date(2025, 5, 4), 9.0)


def test_the_search_finds_the_foot_of_a_bowl_inside_its_bounds():
    table = np.array([[-5.0, 5.0, 1.0], [-5.0, 0.5, 1.0]])
    found = compass_search(lambda x: float(((x - 1.3) ** 2).sum()), np.zeros(2), table, 200)
    assert found == pytest.approx([1.3, 0.5], abs=2e-3)


def test_a_stretch_after_a_hole_is_judged_as_if_it_stood_alone():
    first, second = weather(100), replace(weather(120), first_day=date(2026, 1, 1))
    both = workdays([first, second], PLACE)
    alone = workdays(second, PLACE)
    assert len(both.days) == 220 and both.days[100:] == alone.days
    assert any("after each hole" in note for note in both.notes)
    assert any(note.endswith("on 220 of 220 days") for note in both.notes)
    judged = judge_district([first, second], PLACE, None, FITTED)
    assert judged.holds(first.first_day + timedelta(days=99))
    assert not judged.holds(second.first_day + timedelta(days=5))
    assert judged.holds(second.first_day + timedelta(days=6))
