"""Heat units against published worked values; local days cut from hourly weather."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.stages import daily_extremes, degree_days_c, degree_days_f
from shared.weather_records import HourlyWeather


def in_c(temp_f: float) -> float:
    return (temp_f - 32.0) / 1.8


# Purdue University (Nielsen), "Heat unit concepts", example 1; a Wisconsin farm column of 25 April 2018
# (three rows, as quoted); a seed-industry glossary (inputs; answer by hand); last row by hand.
PUBLISHED_DAYS = [
    (80, 55, 17.5),
    (90, 65, 25.5),
    (72, 46, 11.0),
    (63, 42, 6.5),
    (90, 48, 18.0),
    (45, 30, 0.0),
]


@pytest.mark.parametrize(("tmax_f", "tmin_f", "expected"), PUBLISHED_DAYS)
def test_86_50_method_gives_the_published_days(tmax_f: float, tmin_f: float, expected: float) -> None:
    assert float(degree_days_f(in_c(tmax_f), in_c(tmin_f))) == pytest.approx(expected, abs=1e-9)


def test_three_published_days_add_up() -> None:
    """The same farm column prints 43 for its three days together."""
    highs, lows = np.array([90, 72, 63]), np.array([65, 46, 42])
    assert float(degree_days_f(in_c(highs), in_c(lows)).sum()) == pytest.approx(43.0, abs=1e-9)


def test_nine_day_series_of_downs_illinois() -> None:
    """15 to 23 April 2015, Downs, Illinois: daily values printed in an agronomy blog (read quoted)."""
    highs = np.array([72, 73, 78, 81, 62, 58, 60, 54, 60])
    lows = np.array([40, 53, 50, 56, 54, 43, 38, 35, 30])
    got = degree_days_f(in_c(highs), in_c(lows))
    np.testing.assert_allclose(got, [11, 13, 14, 18.5, 8, 4, 5, 2, 5], atol=1e-9)


def test_base_only_heat_clips_the_mean() -> None:
    """The two readings of McMaster & Wilhelm 1997 differ exactly when only Tmin is below the base."""
    assert float(degree_days_c(12.0, 0.0, 4.4)) == pytest.approx(1.6)
    assert float(degree_days_c(6.0, -4.0, 4.4)) == 0.0


temps = st.floats(-30, 45)


@given(temps, temps, st.floats(0, 20))
def test_more_heat_never_gives_less(tmax: float, tmin: float, more: float) -> None:
    assert degree_days_f(tmax + more, tmin) >= degree_days_f(tmax, tmin) - 1e-12
    assert degree_days_f(tmax, tmin + more) >= degree_days_f(tmax, tmin) - 1e-12
    assert 0.0 <= float(degree_days_f(tmax, tmin)) <= 36.0 + 1e-9


def hourly(start: datetime, hours: int) -> HourlyWeather:
    zone = ZoneInfo("America/Chicago")
    local_hour = np.array([(start + timedelta(hours=h)).astimezone(zone).hour for h in range(hours)])
    temp = np.where(local_hour == 15, 30.0, np.where(local_hour == 5, 10.0, 20.0))[None, :]
    same = np.ones((1, hours))
    return HourlyWeather(start, same, temp, same * 50, same * 2, same * 0.5)


def test_days_are_local_and_summer_time_days_have_23_or_25_hours() -> None:
    """8 March 2026 and 1 November 2026 are the switching days of the United States."""
    spring = daily_extremes(hourly(datetime(2026, 3, 7, 6, tzinfo=UTC), 24 * 3 - 1), "America/Chicago")
    assert spring.first_day == date(2026, 3, 7)
    np.testing.assert_allclose(spring.rain_mm, [[24, 23, 24]])
    autumn = daily_extremes(hourly(datetime(2026, 10, 31, 5, tzinfo=UTC), 24 * 3 + 1), "America/Chicago")
    np.testing.assert_allclose(autumn.rain_mm, [[24, 25, 24]])
    np.testing.assert_allclose(autumn.tmax_c, 30.0)
    np.testing.assert_allclose(autumn.tmin_c, 10.0)


def test_broken_edge_days_are_left_out() -> None:
    days = daily_extremes(hourly(datetime(2026, 5, 1, 15, tzinfo=UTC), 60), "America/Chicago")
    assert days.first_day == date(2026, 5, 2)
    assert days.days == 1
    with pytest.raises(ValueError, match="no local day"):
        daily_extremes(hourly(datetime(2026, 5, 1, 15, tzinfo=UTC), 10), "America/Chicago")
