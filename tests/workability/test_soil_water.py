"""The soil-water loop: it balances, stays in bounds, continues where it stopped, and reacts the right way
round.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from scheduler.workability import layout as at
from scheduler.workability.ground import Ground, SoilOptions, curve_number, ground_parameters
from scheduler.workability.soil_temperature import soil_days
from scheduler.workability.soil_water import first_guess, run_soil_water, stored_mm
from shared.vocabulary import Cover, Crop, Texture
from tests.workability.weather import PLACE, ZONE, spring, years

GROUNDS = [
    Ground(),
    Ground(texture=Texture.SAND, tiled=False, residue_pct=0),
    Ground(texture=Texture.CLAY, tiled=False, hydrologic_group="D", residue_pct=100, depression_share=0.5),
    Ground(cover=Cover.RYE, crop=Crop.SOYBEAN, planted=date(2025, 5, 10),
           cover_until=datetime(2025, 5, 1, tzinfo=UTC)),
]  # fmt: skip


def balance_error(grounds, weather, options=None, rain=None, start=None):
    trace = run_soil_water(grounds, weather, PLACE, rain, start, options)
    begin = start or first_guess(grounds, weather, options or SoilOptions())
    gained = trace.totals_mm[:, :, at.RAIN] - trace.totals_mm[:, :, at.RUNOFF :].sum(axis=2)
    return np.abs(
        stored_mm(trace.final) - stored_mm(begin.for_members(weather.members)) - gained
    ).max(), trace


def test_every_drop_is_accounted_for_over_a_year():
    """Rain = runoff + evaporation + transpiration + drainage + change in storage, to 1e-9 mm."""
    error, trace = balance_error(GROUNDS, years(365, members=3))
    assert error < 1e-9
    assert (trace.totals_mm[:, :, at.RAIN] > 300).all()
    assert trace.totals_mm[3, :, at.TRANSPIRATION].min() > 100


@settings(max_examples=25, deadline=None)
@given(
    rain=st.lists(st.floats(0, 150), min_size=4, max_size=12),
    texture=st.sampled_from(list(Texture)),
    residue=st.floats(0, 100),
    warmth=st.floats(-5, 35),
    coupling=st.floats(0, 3),
)
def test_balance_and_bounds_hold_for_any_rain(rain, texture, residue, warmth, coupling):
    ground = Ground(texture=texture, residue_pct=residue)
    options = SoilOptions(coupling=coupling)
    error, trace = balance_error([ground], spring(rain, warmth_c=warmth), options)
    assert error < 1e-9
    row = ground_parameters([ground], options)[0]
    surface, subsoil = trace.surface_wetness * row[at.FC1], trace.subsoil_wetness * row[at.FC2]
    assert surface.min() >= 0.5 * row[at.WP1] - 1e-4 and surface.max() <= row[at.SAT1] + 1e-3
    assert subsoil.min() >= row[at.WP2] - 1e-3 and subsoil.max() <= row[at.SAT2] + 1e-3
    assert trace.pond_mm.min() >= 0 and trace.snow_mm.min() >= 0
    assert np.isfinite(trace.soil_temp_c).all()


@pytest.mark.parametrize(("hour", "tolerance_mm"), [(19, 1e-9), (6, 0.01)], ids=["at noon", "at midnight"])
def test_a_run_in_two_parts_equals_one_run(hour, tolerance_mm):
    """Exactly so when parted by day; at night the new part does not know the evening's cloud (ET0 of one
    night).
    """
    weather = years(120)
    middle = (weather.start_utc + timedelta(days=50)).replace(hour=hour)
    whole = run_soil_water(GROUNDS, weather, PLACE)
    first = run_soil_water(GROUNDS, weather.between(weather.start_utc, middle), PLACE)
    second = run_soil_water(GROUNDS, weather.between(middle, weather.end_utc), PLACE, start=first.final)
    np.testing.assert_allclose(second.final.values, whole.final.values, rtol=0, atol=tolerance_mm)
    assert second.final.at_utc == whole.final.at_utc


def test_history_of_one_member_goes_on_in_every_member_of_a_forecast():
    history = spring([0, 20, 0, 5])
    start = run_soil_water([Ground()], history, PLACE).final
    forecast = spring([[0, 0, 0], [30, 0, 0]], first=date(2026, 4, 24))
    trace = run_soil_water([Ground()], forecast, PLACE, start=start)
    assert trace.shape == (1, 2, 72)
    assert trace.surface_wetness[0, 1, -1] > trace.surface_wetness[0, 0, -1]


def test_members_and_fields_do_not_disturb_one_another():
    weather = years(40, members=4)
    together = run_soil_water(GROUNDS, weather, PLACE)
    alone = run_soil_water(GROUNDS[2:3], replace(weather, **{
        name: getattr(weather, name)[1:2] for name in ("rain_mm", "temp_c", "rh_pct", "wind_m_s",
        "solar_mj_m2")
    }), PLACE)  # fmt: skip
    np.testing.assert_array_equal(together.surface_wetness[2, 1], alone.surface_wetness[0, 0])


def test_rain_of_a_field_overrides_the_weather_only_where_known():
    weather = spring([0, 20, 0])
    rain = np.full((2, 1, weather.hours), np.nan)
    rain[1, 0, :] = 0.0
    trace = run_soil_water([Ground(), Ground()], weather, PLACE, rain_mm=rain)
    assert trace.totals_mm[0, 0, at.RAIN] == pytest.approx(20) and trace.totals_mm[1, 0, at.RAIN] == 0


@settings(max_examples=25, deadline=None)
@given(
    rain=st.lists(st.floats(0, 60), min_size=10, max_size=10),
    extra=st.floats(0.1, 80),
    day=st.integers(3, 9),
    texture=st.sampled_from([Texture.SANDY_LOAM, Texture.SILTY_CLAY_LOAM, Texture.CLAY]),
)
@example(
    rain=[0.0, 1.9, 0.0, 0.0, 19.3, 0.0, 13.3, 0.0, 0.0, 0.0],
    extra=10.0,
    day=4,
    texture=Texture.SILTY_CLAY_LOAM,
)  # Rain from one midnight on: by the sun's midnight, an hour later, it would dry by 1 % of field capacity.
def test_more_rain_on_a_day_never_dries_that_day(rain, extra, day, texture):
    """A day by the clock of the farm, as these rains are drawn: its midnight is when the curve number is read."""
    more = list(rain)
    more[day] += extra
    options = SoilOptions(time_zone=ZONE)
    traces = [
        run_soil_water([Ground(texture=texture)], spring(r), PLACE, options=options) for r in (rain, more)
    ]
    today = slice(24 * day, 24 * day + 24)
    for name in ("surface_wetness", "subsoil_wetness", "pond_mm"):
        less, wetter = (getattr(trace, name)[0, 0, today] for trace in traces)
        assert (wetter >= less - 1e-6).all(), name


@pytest.mark.parametrize(
    ("slow", "fast"),
    [
        (Ground(residue_pct=90), Ground(residue_pct=10)),
        (Ground(tiled=False, hydrologic_group="D"), Ground(tiled=True, hydrologic_group="D")),
        (Ground(drying_factor=2.0), Ground(drying_factor=1.0)),
    ],
    ids=["residue", "tiles", "drying factor"],
)
@pytest.mark.parametrize("rain", [[20, 10] + [0] * 12, [15, 0, 0, 20, 0, 0, 0, 35] + [0] * 6])
def test_the_slower_field_is_never_ahead(slow, fast, rain):
    """After the same start, the field that should dry slower is the wetter one wherever a limit could lie.

    Far below the limits (under 0.9 of field capacity) the order may turn, and so it may after a storm that
    fills the slower field to the brim: that one then sheds more of it as runoff.
    """
    trace = run_soil_water([slow, fast], spring(rain, warmth_c=22), PLACE)
    lagging, leading = trace.surface_wetness[0, 0], trace.surface_wetness[1, 0]
    matters = np.maximum(lagging, leading) >= 0.9
    assert matters.sum() > 48
    assert (lagging[matters] >= leading[matters] - 1e-5).all()
    assert (lagging[matters] - leading[matters]).max() > 1e-4


def test_hollows_keep_water_that_slopes_shed():
    storm = spring([40, 40, 30] + [0] * 10)
    hollow, even = run_soil_water(
        [Ground(depression_share=0.6), Ground(depression_share=0.0)], storm, PLACE
    ).pond_mm
    assert hollow.max() > 5 and even.max() == 0


def test_dead_cover_rule_of_winter_also_slows():
    trace = run_soil_water(
        [Ground(residue_pct=90), Ground(residue_pct=10)],
        spring([20] + [0] * 20, first=date(2026, 3, 5)),
        PLACE,
    )
    assert trace.surface_wetness[0, 0, -1] > trace.surface_wetness[1, 0, -1]


def test_living_cover_drinks_until_it_is_ended():
    weather = years(190)
    ended = weather.start_utc + timedelta(days=150)
    lives, dead, bare = (
        Ground(cover=Cover.RYE), Ground(cover=Cover.RYE, cover_until=ended), Ground(),
    )  # fmt: skip
    trace = run_soil_water([lives, dead, bare], weather, PLACE)
    water = trace.totals_mm[:, 0, at.TRANSPIRATION]
    assert water[0] > water[1] > water[2] == 0
    hour = weather.hour_index(ended)
    assert trace.subsoil_wetness[0, 0, hour] < trace.subsoil_wetness[2, 0, hour]
    np.testing.assert_array_equal(trace.subsoil_wetness[0, 0, :hour], trace.subsoil_wetness[1, 0, :hour])


def test_snow_lies_melts_and_the_ground_freezes():
    weather = spring([0, 10, 0, 0, 0, 0], first=date(2026, 1, 10), warmth_c=-6.0)
    cold = run_soil_water([Ground()], weather, PLACE)
    assert cold.snow_mm[0, 0, -1] == pytest.approx(10, abs=1e-4)
    assert cold.frozen[0, 0, -1] and cold.soil_temp_c[0, 0, -1] < 0
    warm = run_soil_water(
        [Ground()], spring([0] * 8, first=date(2026, 1, 16), warmth_c=14), PLACE, start=cold.final
    )
    assert warm.snow_mm[0, 0, -1] == 0 and not warm.frozen[0, 0, -1]


def test_wet_ground_sheds_more_of_a_storm_than_dry_ground():
    storm = [0] * 20 + [60]
    trace = run_soil_water([Ground()], spring(storm, warmth_c=28), PLACE)
    soaked = run_soil_water([Ground()], spring([25] * 4 + [0] * 15 + [25, 60], warmth_c=12), PLACE)
    assert trace.totals_mm[0, 0, at.RUNOFF] < soaked.totals_mm[0, 0, at.RUNOFF]


def test_curve_number_follows_cover_residue_and_group():
    """Rows of TR-55 Table 2-2b at the handbook's slope of 5 %."""
    at_five = {"slope_pct": 5.0}
    assert curve_number(Ground(residue_pct=60, hydrologic_group="B", **at_five)) == pytest.approx(75, abs=0.1)
    assert curve_number(Ground(residue_pct=0, hydrologic_group="C", **at_five)) == pytest.approx(88, abs=0.1)
    rye = Ground(cover=Cover.RYE, residue_pct=60, hydrologic_group="B", **at_five)
    assert curve_number(rye) == pytest.approx(72, abs=0.1)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"hydrologic_group": "E"}, "A, B, C or D"),
        ({"residue_pct": 120.0}, "residue_pct"),
        ({"drying_factor": 0.0}, "drying_factor"),
        ({"field_capacity": 0.1, "wilting_point": 0.2}, "must rise"),
    ],
)
def test_absurd_ground_is_refused(change, words):
    with pytest.raises(ValueError, match=words):
        Ground(**change)


def test_measured_points_replace_the_texture_row():
    row = ground_parameters([Ground(field_capacity=0.30, wilting_point=0.12)])[0]
    assert row[at.FC1] == pytest.approx(45.0) and row[at.WP1] == pytest.approx(18.0)
    assert row[at.SAT1] > row[at.FC1]


def test_soil_days_by_local_day_with_the_morning_colder_than_the_mean():
    trace = run_soil_water([Ground()], spring([0] * 6), PLACE)
    days = soil_days(trace, ZONE)
    assert days.dates == tuple(date(2026, 4, 20) + timedelta(days=k) for k in range(6))
    assert days.mean_c.shape == (1, 1, 6)
    assert (days.morning_c[0, 0, 1:] < days.mean_c[0, 0, 1:]).all()
    np.testing.assert_allclose(days.mean_c[0, 0, 2], trace.soil_temp_c[0, 0, 48:72].mean(), rtol=1e-6)


def test_unknown_rain_makes_the_ground_unknown_not_dry():
    weather = spring([0, 5, 0])
    rain = weather.rain_mm.copy()
    rain[0, 30] = np.nan
    trace = run_soil_water([Ground()], replace(weather, rain_mm=rain), PLACE)
    assert np.isfinite(trace.surface_wetness[0, 0, :30]).all()
    assert np.isnan(trace.surface_wetness[0, 0, 30:]).all()


def test_a_state_for_other_fields_is_refused():
    weather = spring([0, 0])
    state = run_soil_water([Ground()], weather, PLACE).final
    with pytest.raises(ValueError, match="1 fields, not 2"):
        run_soil_water([Ground(), Ground()], weather, PLACE, start=state)
