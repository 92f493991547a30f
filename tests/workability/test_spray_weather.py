"""Spray weather, band weather and heat index."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from scheduler.workability.spray_weather import (
    AIR_CAUSES,
    BandRule,
    SprayRule,
    band_outlook,
    delta_t_c,
    heat_index_c,
    heat_index_f,
    inversion_likely,
    judge_air,
    rain_after_mm,
    wet_bulb_c,
)
from shared.vocabulary import Reason
from shared.weather_records import HourlyWeather, Place

PLACE = Place(42.0, -93.6, 300)


def one_day(**changes: object) -> HourlyWeather:
    """A mild, breezy, dry day from local midnight (06 UTC)."""
    hours = np.arange(24)
    values = {
        "rain_mm": np.zeros(24), "temp_c": 18 + 6 * np.sin((hours - 9) / 24 * 2 * np.pi),
        "rh_pct": np.full(24, 60.0), "wind_m_s": np.full(24, 2.5), "solar_mj_m2": np.zeros(24),
    }  # fmt: skip
    values.update(changes)
    arrays = {
        name: np.broadcast_to(np.asarray(value, float), (24,))[None, :] for name, value in values.items()
    }
    return HourlyWeather(start_utc=datetime(2026, 5, 12, 6, tzinfo=UTC), **arrays)


@pytest.mark.parametrize(
    ("temp_f", "rh_pct", "expected"),
    [
        (90, 70, 105.92), (86, 60, 91.10), (95, 50, 105.22), (100, 40, 109.26), (82, 90, 91.99),
        (100, 10, 94.12), (96, 65, 121.03), (75, 50, 74.78), (80, 40, 79.79),
    ],
)  # fmt: skip
def test_heat_index_of_the_weather_service(temp_f, rh_pct, expected):
    """Values of the NWS equation (Rothfusz, SR 90-23); 80 F / 40 % shows 80 on the printed chart."""
    assert heat_index_f(temp_f, rh_pct) == pytest.approx(expected, abs=0.01)


def test_heat_index_in_celsius_is_the_same_number():
    assert heat_index_c((90 - 32) / 1.8, 70) == pytest.approx((105.92 - 32) / 1.8, abs=0.01)


def test_wet_bulb_of_stull():
    """Worked value of Stull (2011), J. Appl. Meteor. Climatol. 50:2267: 20 degC and 50 % give 13.7 degC."""
    assert wet_bulb_c(20, 50) == pytest.approx(13.7, abs=0.05)
    assert delta_t_c(20, 50) == pytest.approx(6.3, abs=0.05)


def test_rain_after_counts_only_the_hours_that_follow():
    rain = np.array([0.0, 5.0, 0.0, 1.0])
    assert rain_after_mm(rain, 2).tolist() == [5.0, 1.0, 1.0, 0.0]


def causes_at(weather: HourlyWeather, hour: int, rule: SprayRule | None = SprayRule()) -> set[Reason]:  # noqa: B008
    bits = int(judge_air(weather, PLACE, rule, dew_matters=True)[1][0, hour])
    return {cause for bit, cause in enumerate(AIR_CAUSES) if bits >> bit & 1}


def test_a_mild_breezy_morning_is_fit():
    fitness, causes = judge_air(one_day(), PLACE, SprayRule(), dew_matters=True)
    assert fitness[0, 11] == 0 and causes[0, 11] == 0


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"wind_m_s": 5.0}, Reason.WIND_HIGH),
        ({"wind_m_s": 0.5}, Reason.WIND_LOW),
        ({"temp_c": 5.0}, Reason.AIR_COLD),
        ({"temp_c": 33.0}, Reason.AIR_HOT),
        ({"rh_pct": 95.0}, Reason.DEW),
        ({"rain_mm": np.where(np.arange(24) == 13, 3.0, 0.0)}, Reason.RAIN_SOON),
    ],
)
def test_each_limit_names_its_own_cause(change, reason):
    weather = one_day(**change)
    assert reason in causes_at(weather, 11)
    assert judge_air(weather, PLACE, SprayRule(), dew_matters=True)[0][0, 11] == 2


def test_an_inversion_needs_calm_air_and_a_low_sun():
    calm, breezy = one_day(wind_m_s=1.2), one_day(wind_m_s=2.0)
    rule = SprayRule(wind_min_m_s=0.0)
    assert inversion_likely(calm, PLACE, rule)[0, 3] and inversion_likely(calm, PLACE, rule)[0, 20]
    assert not inversion_likely(calm, PLACE, rule)[0, 14]
    assert not inversion_likely(breezy, PLACE, rule).any()


def test_band_outlook_tells_washing_from_moving_in():
    rain = np.zeros(24)
    rain[10] = 30.0
    outlook = band_outlook(one_day(rain_mm=rain), BandRule())
    assert outlook.wash_chance[5] == 1 and outlook.moved_in_chance[5] == 1
    assert outlook.wash_chance[12] == 0 and outlook.moved_in_chance[12] == 0
    hot = band_outlook(one_day(temp_c=30.0), BandRule())
    assert hot.loss_chance[5] == 1 and outlook.loss_chance[5] == 0
