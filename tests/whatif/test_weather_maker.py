"""The weather generator against the open daily weather it was fitted on (Ames, Iowa, 1980-2019; source beside the file).

Bounds: Richardson (1981) and later users of the model call the means of such generators indistinguishable from the data
when they lie within sampling error; the bounds here are wider than the standard errors of 40 years and stated one by one.
"""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from scheduler.whatif.weather_maker import WET_MM, WeatherMaker, fit_maker
from shared.errors import WeatherUnavailable
from shared.weather_records import DailyWeather
from tests.workability.open_data import ames

YEARS = 400


@pytest.fixture(scope="module")
def past() -> DailyWeather:
    return ames("1980-01-01", "2019-12-31")


@pytest.fixture(scope="module")
def maker(past: DailyWeather) -> WeatherMaker:
    return fit_maker(past)


@pytest.fixture(scope="module")
def made(maker: WeatherMaker) -> DailyWeather:
    return maker.years(date(2001, 1, 1), date(2001, 12, 31), YEARS, np.random.default_rng(7))


def months(weather: DailyWeather) -> np.ndarray:
    return np.array([day.month for day in weather.dates()])


def spells(wet: np.ndarray) -> np.ndarray:
    """Return the lengths of runs of True, row by row."""
    out: list[int] = []
    for row in np.atleast_2d(wet):
        edges = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(int), [0]])))
        out += list(edges[1::2] - edges[::2])
    return np.array(out)


@pytest.mark.parametrize("month", range(1, 13))
def test_each_month_is_like_its_data(past: DailyWeather, made: DailyWeather, month: int) -> None:
    real, drawn = months(past) == month, months(made) == month
    rain, more = past.rain_mm[0, real], made.rain_mm[:, drawn].ravel()
    assert (more >= WET_MM).mean() == pytest.approx((rain >= WET_MM).mean(), abs=0.02)
    assert more[more >= WET_MM].mean() == pytest.approx(rain[rain >= WET_MM].mean(), rel=0.10)
    for name, off in (("tmax_c", 0.8), ("tmin_c", 0.8)):
        data, values = getattr(past, name)[0, real], getattr(made, name)[:, drawn].ravel()
        assert values.mean() == pytest.approx(data.mean(), abs=off), name
        assert values.std() == pytest.approx(data.std(), rel=0.10), name


def test_wet_and_dry_spells_of_spring_are_as_long(past: DailyWeather, made: DailyWeather) -> None:
    spring = np.isin(months(made), (4, 5, 6))
    years = np.array([day.year for day in past.dates()])
    real = np.isin(months(past), (4, 5, 6))
    rows = [past.rain_mm[0, real & (years == year)] >= WET_MM for year in np.unique(years)]
    for state in (True, False):
        data = np.concatenate([spells(row == state) for row in rows])
        drawn = spells((made.rain_mm[:, spring] >= WET_MM) == state)
        assert drawn.mean() == pytest.approx(data.mean(), rel=0.10)
        assert np.quantile(drawn, 0.9) == pytest.approx(np.quantile(data, 0.9), abs=1.0)


def test_wet_days_are_cooler_and_darker_as_in_the_data(past: DailyWeather, made: DailyWeather) -> None:
    for name in ("tmax_c", "solar_mj_m2"):
        gaps = []
        for weather in (past, made):
            summer = np.isin(months(weather), (5, 6, 7, 8))
            values, wet = getattr(weather, name)[:, summer], weather.rain_mm[:, summer] >= WET_MM
            gaps.append(values[~wet].mean() - values[wet].mean())
        assert gaps[1] == pytest.approx(gaps[0], abs=0.25 * abs(gaps[0])) and gaps[0] > 0


def test_warm_follows_warm_as_in_the_data(past: DailyWeather, made: DailyWeather) -> None:
    """Day-to-day correlation of the maximum in May and June, season taken out by month."""
    out = []
    for weather in (past, made):
        chosen = np.isin(months(weather), (5, 6))
        values = weather.tmax_c - weather.tmax_c[:, chosen].mean()
        pair = np.flatnonzero(chosen[:-1] & chosen[1:])
        out.append(np.corrcoef(values[:, pair].ravel(), values[:, pair + 1].ravel())[0, 1])
    assert out[1] == pytest.approx(out[0], abs=0.10)


def test_the_same_seed_makes_the_same_weather(maker: WeatherMaker) -> None:
    one, two = (
        maker.years(date(2027, 4, 1), date(2027, 6, 30), 3, np.random.default_rng(5)) for _ in range(2)
    )
    assert np.array_equal(one.rain_mm, two.rain_mm) and np.array_equal(one.tmin_c, two.tmin_c)
    assert (one.tmin_c < one.tmax_c).all() and (one.rain_mm >= 0).all()


def test_too_short_a_history_is_one_sentence() -> None:
    short = DailyWeather(date(2020, 1, 1), np.zeros((1, 900)), np.ones((1, 900)), np.zeros((1, 900)))
    with pytest.raises(WeatherUnavailable, match=r"at least 5 past years; the history holds 2\.5"):
        fit_maker(short)
