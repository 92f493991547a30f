"""Days spread over hours: totals kept, extremes touched, gaps filled by the rules of FAO-56 and said."""

from __future__ import annotations

from datetime import UTC, date, datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.day_to_hours import hours_from_days
from shared.missing_weather import fill_missing, saturation_vapour_kpa
from shared.sun import sun_times
from shared.weather_records import DailyWeather, Place

PLACE = Place(42.0, -93.6, 300.0)
ZONE = "America/Chicago"


def some_days(count: int = 4, first: date = date(2026, 5, 4), **more) -> DailyWeather:
    tmax = 20 + np.arange(count, dtype=float)[None, :]
    rain = np.where(np.arange(count) % 2 == 1, 18.0, 0.0)[None, :]
    return DailyWeather(first, rain, tmax, tmax - 11, **more)


def by_day(hours, name: str) -> np.ndarray:
    return getattr(hours, name)[0].reshape(-1, 24)


def test_starts_at_local_midnight_and_counts_in_utc():
    hours = hours_from_days(some_days(), PLACE, ZONE)
    assert hours.start_utc == datetime(2026, 5, 4, 5, tzinfo=UTC) and hours.hours == 96


@pytest.mark.parametrize(("first", "length"), [(date(2026, 3, 8), 23), (date(2026, 11, 1), 25)])
def test_days_of_the_clock_change_keep_their_totals(first, length):
    days = some_days(3, date.fromordinal(first.toordinal() - 1))
    hours = hours_from_days(days, PLACE, ZONE)
    assert hours.hours == 48 + length
    assert hours.rain_mm[0, 24 : 24 + length].sum() == pytest.approx(18.0)


@settings(max_examples=25, deadline=None)
@given(
    rain=st.lists(st.floats(0, 120), min_size=3, max_size=6),
    span=st.floats(0, 25),
    latitude=st.floats(-60, 60),
)
def test_every_day_keeps_its_rain_and_light(rain, span, latitude):
    total = np.array([rain])
    tmax = np.full(total.shape, 15.0)
    days = DailyWeather(date(2026, 4, 1), total, tmax, tmax - span)
    place = Place(latitude, 0.0, 100.0)
    hours = hours_from_days(days, place, "UTC")
    np.testing.assert_allclose(by_day(hours, "rain_mm").sum(axis=1), total[0], atol=1e-9)
    np.testing.assert_allclose(
        by_day(hours, "solar_mj_m2").sum(axis=1), fill_missing(days, place).solar_mj_m2[0], atol=1e-9
    )
    assert hours.rain_mm.min() >= 0 and hours.solar_mj_m2.min() >= 0
    assert hours.rh_pct.min() > 0 and hours.rh_pct.max() <= 100 and hours.wind_m_s.min() > 0


def test_temperature_touches_both_extremes_and_is_coldest_near_sunrise():
    hours = hours_from_days(some_days(), PLACE, "Etc/GMT+6")
    temp = by_day(hours, "temp_c")[1]
    assert temp.max() == pytest.approx(21.0, abs=0.3) and temp.min() == pytest.approx(10.0, abs=0.3)
    assert 4 <= temp.argmin() <= 6 and 13 <= temp.argmax() <= 15


def test_known_hours_of_rain_are_used():
    shape = (1, 2)
    days = some_days(2, rain_from_h=np.full(shape, 15.0), rain_hours=np.full(shape, 3.0))
    hours = hours_from_days(days, PLACE, ZONE)
    np.testing.assert_allclose(by_day(hours, "rain_mm")[1, 15:18], 6.0)
    assert by_day(hours, "rain_mm")[1].sum() == pytest.approx(18.0)
    assert not any("hours of rain assumed" in note for note in hours.notes)


def test_rain_of_unknown_hour_falls_in_one_spell_and_is_said():
    hours = hours_from_days(some_days(), PLACE, ZONE, rain_centre_h=12.0)
    wet = np.flatnonzero(by_day(hours, "rain_mm")[1])
    assert wet.tolist() == list(range(9, 15))
    assert any("hours of rain assumed around 12:00 on 2 days" in note for note in hours.notes)


def test_missing_quantities_are_filled_by_the_rules_and_said():
    """FAO-56: dew point at the minimum temperature (Eq. 48), wind 2 m/s; mean wind of the day is kept."""
    hours = hours_from_days(some_days(), PLACE, ZONE)
    assert by_day(hours, "wind_m_s").mean() == pytest.approx(2.0, abs=1e-9)
    vapour = saturation_vapour_kpa(hours.temp_c) * hours.rh_pct / 100
    full = fill_missing(some_days(), PLACE)
    assert full.rh_max_pct[0, 0] == pytest.approx(100.0)
    assert vapour[0].reshape(-1, 24)[0].mean() == pytest.approx(float(saturation_vapour_kpa(9.0)), rel=0.02)
    for word in ("solar radiation", "humidity", "wind"):
        assert any(note.startswith(word) for note in hours.notes), word


def test_partly_known_quantities_are_kept_where_known():
    solar = np.array([[12.0, np.nan, 15.0, np.nan]])
    full = fill_missing(some_days(solar_mj_m2=solar, rh_max_pct=np.full((1, 4), 90.0)), PLACE)
    assert full.solar_mj_m2[0, [0, 2]].tolist() == [12.0, 15.0] and not np.isnan(full.solar_mj_m2).any()
    assert any("on 2 of 4 days" in note for note in full.notes)
    vapour = 0.9 * float(saturation_vapour_kpa(9.0))
    assert full.rh_min_pct[0, 0] == pytest.approx(100 * vapour / float(saturation_vapour_kpa(20.0)))


def test_estimated_light_never_beats_a_clear_sky():
    wide = DailyWeather(date(2026, 6, 1), np.zeros((1, 1)), np.array([[45.0]]), np.array([[-5.0]]))
    full = fill_missing(wide, PLACE)
    assert full.solar_mj_m2[0, 0] < 32.5


@pytest.mark.parametrize(
    ("day", "rise", "fall"),
    [
        # Des Moines-like place; almanac values of the US Naval Observatory, from memory, to 5 minutes.
        (date(2026, 6, 21), "05:41", "20:51"),
        (date(2026, 12, 21), "07:36", "16:47"),
        (date(2026, 3, 20), "07:17", "19:26"),
    ],
)
def test_sunrise_and_sunset(day, rise, fall):
    times = sun_times(day, Place(41.6, -93.6, 290), ZONE)
    assert times is not None
    for moment, text in zip(times, (rise, fall), strict=True):
        hours, minutes = map(int, text.split(":"))
        assert abs(moment.hour * 60 + moment.minute - hours * 60 - minutes) <= 5, moment


def test_the_polar_summer_has_no_sunset():
    assert sun_times(date(2026, 6, 21), Place(70.0, 20.0), "Europe/Oslo") is None
