"""Forecasts held against what fell."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from properscoring import brier_score as reference_brier

from scheduler.windows.verification import brier_score, usual_chance, verify
from shared.weather_records import DailyWeather, HourlyWeather

ZONE = ZoneInfo("America/Chicago")
FIRST = datetime(2027, 5, 1, 5, tzinfo=UTC)
"""Local midnight."""


def hours(start: datetime, rain_by_day: np.ndarray, temp_c: float = 12.0) -> HourlyWeather:
    """Return hours with each day's rain in one hour; `rain_by_day` (members, days) [mm]."""
    members, days = rain_by_day.shape
    rain = np.zeros((members, days * 24))
    rain[:, 13::24] = rain_by_day
    flat = np.full(rain.shape, 50.0)
    return HourlyWeather(start, rain, flat * 0 + temp_c, flat, flat, flat, source="one", issued_at=start)


def years() -> DailyWeather:
    """Return ten past years in which three days of seven are wet: nine of any 21."""
    days = 3653
    rain = np.where(np.arange(days) % 7 < 3, 8.0, 0.0)[None]
    return DailyWeather(date(2015, 1, 1), rain, rain * 0 + 20, rain * 0 + 8)


def test_the_brier_score_is_that_of_a_reference_library() -> None:
    """properscoring, brier_score."""
    rng = np.random.default_rng(3)
    chance, wet = rng.random(200), rng.random(200) < 0.4
    assert brier_score(wet, chance) == pytest.approx(float(np.mean(reference_brier(wet, chance))), abs=1e-12)


def test_a_worked_example_by_hand() -> None:
    """Six mornings, four members; said 10 mm by one member in four, fell on every other day: all by pencil."""
    fell = np.array([[6.0, 0.0] * 4])
    observed = hours(FIRST, fell, temp_c=12.0)
    said = np.zeros((4, 3))
    said[0] = 10.0
    forecasts = [
        (FIRST + timedelta(days=d, hours=5), hours(FIRST + timedelta(days=d), said, 13.5)) for d in range(6)
    ]
    found = verify(forecasts, observed, years(), ZONE)
    today, tomorrow, _ = found.leads
    assert (today.lead_days, today.cases) == (0, 6)
    assert today.said_mm == pytest.approx(2.5)
    assert today.fell_mm == pytest.approx(3.0)
    assert today.bias_mm == pytest.approx(-0.5)
    assert today.off_mm == pytest.approx((3.5 + 2.5) / 2)
    assert today.warmth_bias_c == pytest.approx(1.5)
    assert today.brier == pytest.approx((0.75**2 + 0.25**2) / 2)
    assert today.brier_usual == pytest.approx((4**2 + 3**2) / 7**2 / 2)
    assert today.skill == pytest.approx(1 - 0.3125 * 98 / 25)
    assert tomorrow.cases == 6
    assert found.useful_to is None
    (row,) = found.reliability
    assert (row.low, row.said, row.wet, row.cases) == (0.1, 0.25, 0.5, 18)


def test_perfect_forecasts_score_nothing_and_are_useful_to_the_end() -> None:
    fell = np.array([[6.0, 0.0, 0.0, 9.0] * 6])
    observed = hours(FIRST, fell)
    forecasts = [
        (
            FIRST + timedelta(days=d, hours=5),
            hours(FIRST + timedelta(days=d), np.repeat(fell[:, d : d + 5], 3, axis=0)),
        )
        for d in range(12)
    ]
    found = verify(forecasts, observed, years(), ZONE)
    assert [lead.brier for lead in found.leads] == [0.0] * 5
    assert found.useful_to == 4
    assert [(row.said, row.wet) for row in found.reliability] == [(0.0, 0.0), (1.0, 1.0)]


def test_of_several_forecasts_of_a_morning_the_first_counts_and_half_days_do_not() -> None:
    observed = hours(FIRST, np.zeros((1, 8)))
    right, wrong = np.zeros((2, 2)), np.full((2, 2), 30.0)
    forecasts = [
        (FIRST + timedelta(days=d, hours=h), hours(FIRST + timedelta(days=d, hours=h - 4), said))
        for d in range(7)
        for h, said in ((5, right), (11, wrong))
    ]
    found = verify(forecasts, observed, years(), ZONE)
    assert [(lead.lead_days, lead.said_mm) for lead in found.leads] == [(1, 0.0)]


def test_nothing_kept_says_nothing() -> None:
    found = verify([], hours(FIRST, np.zeros((1, 8))), years(), ZONE)
    assert (found.leads, found.reliability, found.useful_to, found.first_day) == ((), (), None, None)


def test_the_usual_chance_never_looks_at_the_year_in_question() -> None:
    normals = years()
    rain = normals.rain_mm.copy()
    rain[0, [k for k, day in enumerate(normals.dates()) if day.year == 2020]] = 99.0
    spoilt = DailyWeather(normals.first_day, rain, normals.tmax_c, normals.tmin_c)
    assert usual_chance(spoilt, date(2020, 6, 1)) == pytest.approx(
        usual_chance(normals, date(2020, 6, 1)), abs=0.02
    )
    assert usual_chance(spoilt, date(2021, 6, 1)) > usual_chance(normals, date(2021, 6, 1)) + 0.03
