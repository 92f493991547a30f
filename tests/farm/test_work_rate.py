"""Effective field capacity against printed tables of Iowa State University Extension."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.farm.machine import work_rate_ha_per_h

FT, MPH, AC = 0.3048, 1.609344, 0.40468564224

# Width ft, speed mph, efficiency %, printed ac/h. A3-24 "Estimating the Field Capacity of Farm Machines", Table 1,
# and PM 696 (rev. April 2001); knife spacing 2.5 ft.
PRINTED = [
    (40, 6, 70, 20.4), (60, 6, 68, 29.7), (60, 12, 68, 59.3), (80, 6, 68, 39.6), (80, 12, 68, 79.1),
    (37.5, 6, 65, 17.7), (42.5, 6, 63, 19.5), (57.5, 5, 63, 22.0),
    (15, 5, 63, 5.7), (20, 6, 63, 9.2), (30, 6, 60, 13.1), (36, 5, 60, 13.1), (45, 5, 60, 16.4),
    (50, 6, 70, 25.5), (22.5, 5, 65, 8.9), (32.5, 5, 65, 12.8), (42.5, 5, 63, 16.2), (10, 5, 63, 3.8), (15, 6, 63, 6.9),
]  # fmt: skip


@pytest.mark.parametrize(("width_ft", "speed_mph", "efficiency_pct", "ac_per_h"), PRINTED)
def test_printed_field_capacities(
    width_ft: float, speed_mph: float, efficiency_pct: float, ac_per_h: float
) -> None:
    rate = work_rate_ha_per_h(width_ft * FT, speed_mph * MPH, efficiency_pct / 100)
    assert rate / AC == pytest.approx(ac_per_h, abs=0.05)


def test_the_example_of_a_12_row_planter() -> None:
    # Progressive Forage, "Farm field equipment: efficiency versus capacity": 30 ft at 5 mph and 60 % is 10.9 ac/h.
    assert work_rate_ha_per_h(30 * FT, 5 * MPH, 0.60) / AC == pytest.approx(10.9, abs=0.05)


@given(st.floats(0.5, 40), st.floats(1, 30), st.floats(0.1, 1), st.floats(1.01, 3))
def test_linear_in_width_and_speed(width: float, speed: float, efficiency: float, factor: float) -> None:
    base = work_rate_ha_per_h(width, speed, efficiency)
    assert work_rate_ha_per_h(width * factor, speed, efficiency) == pytest.approx(base * factor)
    assert work_rate_ha_per_h(width, speed * factor, efficiency) == pytest.approx(base * factor)


@pytest.mark.parametrize(
    "bad", [(0, 5, 0.6), (9, 0, 0.6), (9, 5, 0), (9, 5, 1.01), (-9, 5, 0.6), (float("nan"), 5, 0.6)]
)
def test_impossible_machines_are_refused(bad: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError):
        work_rate_ha_per_h(*bad)
