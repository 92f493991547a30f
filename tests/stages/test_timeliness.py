"""Cost of delay against the published tables, a closed form, and the convexity the engine needs."""

from __future__ import annotations

import math
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.stages import (
    SettingRefused,
    closed_form_loss,
    corn_curve,
    delay_cost_curve,
    make_convex,
    relative_yield,
    response_table,
    response_tables,
    stage_dates,
)
from scheduler.stages.published import rows
from shared.vocabulary import Crop, Operation
from tests.stages.weather import steady

# Nafziger 1994, J. Prod. Agric. 7:59-62, as printed in a Purdue University table (30-32 thousand plants/ac).
NAFZIGER_1994 = {
    (4, 10): 94, (4, 15): 97, (4, 20): 99, (4, 25): 100, (4, 30): 100, (5, 5): 99, (5, 10): 97, (5, 15): 95,
    (5, 20): 91, (5, 25): 87, (5, 30): 81, (6, 4): 75, (6, 9): 68,
}  # fmt: skip
# Nafziger, University of Illinois, 2 May 2014 (2007-2013, two sites): loss in % and bushels of 216 at most.
ILLINOIS_2014 = {(4, 30): (1, 2), (5, 10): (4, 8), (5, 20): (8, 17), (5, 30): (14, 29), (6, 10): (22, 49)}
# Iowa State University Field Guide IPM 0001 (in an extension article, 16 May 2018), 35 thousand plants.
IOWA_35K = {(4, 27): 100, (5, 10): 96, (5, 20): 87, (5, 30): 70, (6, 10): 54}


@pytest.mark.parametrize(("day", "percent"), NAFZIGER_1994.items())
def test_nafziger_1994(day: tuple[int, int], percent: int) -> None:
    assert relative_yield("nafziger_1994", date(2026, *day)) == pytest.approx(percent / 100)


@pytest.mark.parametrize(("day", "loss"), ILLINOIS_2014.items())
def test_illinois_2007_2013(day: tuple[int, int], loss: tuple[int, int]) -> None:
    """The bushels were printed from unrounded percentages: they agree with them to one percent of 216."""
    share = 1.0 - relative_yield("illinois_2007_2013", date(2026, *day))
    assert share == pytest.approx(loss[0] / 100)
    assert share * 216.0 == pytest.approx(loss[1], abs=0.01 * 216.0)


def test_planting_on_20_may_costs_17_bushels_of_216() -> None:
    curve = delay_cost_curve("plant", "corn", "illinois_2007_2013", year=2026)
    assert round(curve.loss_at(date(2026, 5, 20)) * 216.0) == 17


@pytest.mark.parametrize(("day", "percent"), IOWA_35K.items())
def test_iowa_field_guide(day: tuple[int, int], percent: int) -> None:
    assert relative_yield("iowa_field_guide_35k", date(2026, *day)) == pytest.approx(percent / 100)


@pytest.mark.parametrize(
    ("first", "last", "per_day"),
    [((4, 30), (5, 10), 0.3), ((5, 10), (5, 20), 0.4), ((5, 20), (5, 30), 0.6), ((5, 30), (6, 10), 0.7)],
)
def test_slopes_of_the_illinois_table(first: tuple[int, int], last: tuple[int, int], per_day: float) -> None:
    """Slopes in percent a day computed by hand from the table of 2014."""
    curve = delay_cost_curve("plant", "corn", "illinois_2007_2013", year=2026)
    a, b = date(2026, *first), date(2026, *last)
    assert 100 * (curve.loss_at(b) - curve.loss_at(a)) / (b - a).days == pytest.approx(per_day, abs=0.03)


def test_late_planting_hurts_corn_more_than_soybean_after_20_may() -> None:
    """Iowa State University, 10 May 2024: after 20 May the losses are much higher for corn."""
    for corn, soy in (("illinois_2007_2013", "illinois_2014"), ("nafziger_1994", "minnesota_lamberton")):
        lost = []
        for crop, table in (("corn", corn), ("soybean", soy)):
            lost.append(
                relative_yield(table, date(2026, 5, 20), crop)
                - relative_yield(table, date(2026, 5, 30), crop)
            )
        assert lost[0] > 1.3 * lost[1] > 0.0


def test_a_day_on_the_border_of_two_stretches_belongs_to_the_earlier() -> None:
    assert relative_yield("iowa_field_guide_35k", date(2026, 5, 15)) == pytest.approx(0.96)
    assert relative_yield("iowa_field_guide_35k", date(2026, 4, 20)) == pytest.approx(1.0)
    assert relative_yield("iowa_field_guide_35k", date(2026, 6, 15)) == pytest.approx(0.54)


def test_outside_its_dates_a_table_is_unknown() -> None:
    assert math.isnan(relative_yield("illinois_2007_2013", date(2026, 4, 1)))
    assert math.isnan(relative_yield("iowa_field_guide_35k", date(2026, 7, 1)))


def test_side_dressing_late_by_the_missouri_trials() -> None:
    """Scharf et al. 2002, Agron. J. 94:435-441: none to V11, 3 % at V12-V16, silking .71 .89 .95."""
    field = stage_dates(corn_curve(), date(2026, 5, 1), date(2026, 5, 1), steady(22.0, 100))
    curve = delay_cost_curve("side-dress", "corn", stage=field)

    def at(stage: str) -> float:
        return curve.loss_at(field.date_at(stage))

    assert at("V8") == at("V11") == 0.0
    assert at("V14") == pytest.approx(0.03)
    assert at("R1") == pytest.approx(1.0 - (0.71 + 0.89 + 0.95) / 3.0, abs=0.002)


@pytest.mark.parametrize(
    ("table", "stage", "loss"),
    [
        ("ontario_2022_many_weeds", "V1", 0.01),
        ("ontario_2022_many_weeds", "V3", 0.05),
        ("ontario_2022_many_weeds", "V8", 0.25),
        ("ontario_2022_few_weeds", "V5", 0.01),
        ("ontario_2022_few_weeds", "V7", 0.05),
    ],
)
def test_spraying_late_by_the_ontario_trials(table: str, stage: str, loss: float) -> None:
    """Soltani et al. 2022, Weed Technology 36(2), abstract; within the stated error of making it convex."""
    field = stage_dates(corn_curve(), date(2026, 5, 1), date(2026, 5, 1), steady(20.0, 100))
    curve = delay_cost_curve("spray", "corn", table, stage=field)
    got = curve.loss_at(field.date_at(stage))
    assert loss - curve.convex_error - 1e-9 <= got <= loss + 1e-9


def test_planting_green_costs_corn_five_percent() -> None:
    """Practical Farmers of Iowa 2022: planted green 95 % of planted one to three weeks after termination."""
    planted = date(2026, 5, 5)
    curve = delay_cost_curve("terminate", "corn", planted=planted)
    assert curve.loss_at(planted) == pytest.approx(0.05)
    assert curve.loss_at(planted - timedelta(days=10)) == 0.0


def test_closed_form_of_a_whole_job() -> None:
    """EP496 form (symbols from memory), by hand: 400 ha, 12 t/ha, 180 money/t, 10 h, 6 ha/h, half fit."""
    args = (0.010, 400.0, 12.0, 180.0, 10.0, 6.0, 0.5)
    assert closed_form_loss(*args, sides=2) == pytest.approx(57_600.0)
    assert closed_form_loss(*args, sides=4) == pytest.approx(28_800.0)


@given(k=st.floats(0.001, 0.03), area=st.floats(10, 1000), rate=st.floats(1, 20), fit=st.floats(0.1, 1.0))
def test_closed_form_is_the_sum_over_a_straight_curve(k: float, area: float, rate: float, fit: float) -> None:
    """Summed over the days of the job by the midpoint rule; doubling capacity halves the loss."""
    days = area / (10.0 * rate * fit)
    middle = (np.arange(2000) + 0.5) / 2000 * days
    summed = float((k * middle * (area / 2000) * 8.0 * 200.0).sum())
    assert closed_form_loss(k, area, 8.0, 200.0, 10.0, rate, fit) == pytest.approx(summed, rel=1e-6)
    half = closed_form_loss(k, area, 8.0, 200.0, 10.0, 2 * rate, fit)
    assert 2 * half == pytest.approx(closed_form_loss(k, area, 8.0, 200.0, 10.0, rate, fit))


def assert_convex(points) -> None:
    x = np.array([day.toordinal() for day, _ in points], dtype=float)
    loss = np.array([share for _, share in points])
    slopes = np.diff(loss) / np.diff(x)
    assert loss[0] == 0.0
    assert (slopes >= -1e-9).all()
    assert (np.diff(slopes) >= -1e-9).all()


def test_every_table_becomes_a_convex_curve_with_a_source() -> None:
    first = date(2026, 4, 28)
    field = stage_dates(corn_curve(), first, first, steady(20.0, 120))
    seen = set()
    for row in (*rows("planting_yield.csv"), *rows("timeliness_response.csv")):
        key = (row["operation"], row["crop"], row["table"])
        if key in seen:
            continue
        seen.add(key)
        assert row["operation"] in {op.value for op in Operation} and row["crop"] in {c.value for c in Crop}
        curve = delay_cost_curve(*key, year=2026, until=date(2026, 8, 1), stage=field, planted=first)
        assert_convex(curve.points)
        assert curve.points[-1][1] <= 1.0 + 1e-9
        assert 0.0 <= curve.convex_error < 0.03
        assert row["status"] in {"V", "V2", "M", "A"} and len(curve.source) > 10
    assert len(seen) >= 14
    for operation, crop in {key[:2] for key in seen}:
        defaults = [table for table in response_tables(operation, crop).values() if table.is_default]
        assert len(defaults) == 1


@given(
    steps=st.lists(st.tuples(st.integers(1, 15), st.floats(-0.05, 0.2)), min_size=1, max_size=12),
)
def test_making_convex_stays_below_by_no_more_than_it_says(steps: list[tuple[int, float]]) -> None:
    day, loss = date(2026, 4, 20), 0.0
    points = [(day, loss)]
    for gap, rise in steps:
        day, loss = day + timedelta(days=gap), max(loss + rise, 0.0)
        points.append((day, loss))
    hull, error = make_convex(points)
    assert_convex(hull)
    x = [d.toordinal() for d, _ in hull]
    for d, raw in zip((p[0] for p in points), np.maximum.accumulate([p[1] for p in points]), strict=True):
        below = float(np.interp(d.toordinal(), x, [share for _, share in hull]))
        assert below <= raw + 1e-9
        assert raw - below <= error + 1e-9


def test_a_loss_once_suffered_is_not_won_back() -> None:
    """A published curve that recovers (0, 10, 5 %) is read as 0, 10, 10 %: doing the pass later cannot
    help.
    """
    days = [date(2026, 5, 1) + timedelta(days=10 * k) for k in range(3)]
    hull, _ = make_convex(list(zip(days, (0.0, 0.10, 0.05), strict=True)))
    assert hull[-1] == (days[-1], pytest.approx(0.10))


@given(steps=st.lists(st.tuples(st.integers(1, 10), st.floats(0.0, 0.02)), min_size=2, max_size=10))
def test_a_convex_loss_is_left_as_it_is(steps: list[tuple[int, float]]) -> None:
    day, loss, slope = date(2026, 4, 20), 0.0, 0.0
    points = [(day, loss)]
    for gap, more in steps:
        slope += more
        day, loss = day + timedelta(days=gap), loss + slope * gap
        points.append((day, loss))
    hull, error = make_convex(points)
    assert error == pytest.approx(0.0, abs=1e-9)
    assert hull[-1] == points[-1]


def test_early_planting_loss_is_kept_apart() -> None:
    """Nafziger 1994: 10 April gives 94 %, five days before the best date 99 %."""
    curve = delay_cost_curve("plant", "corn", "nafziger_1994", year=2026)
    assert curve.early_points[0] == (date(2026, 4, 10), pytest.approx(0.06))
    assert curve.loss_at(date(2026, 4, 10)) == 0.0


def test_carrying_on_is_said_and_stops_at_total_loss() -> None:
    curve = delay_cost_curve("plant", "corn", "illinois_2007_2013", year=2026, until=date(2027, 3, 1))
    assert any("carried on" in note for note in curve.notes)
    assert curve.points[-1][1] <= 1.0
    assert curve.loss_at(date(2026, 12, 31)) == 1.0


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: delay_cost_curve("plant", "corn", "nowhere", year=2026), "allowed: illinois_2007_2013"),
        (lambda: delay_cost_curve("plant", "corn"), "a year is needed"),
        (lambda: delay_cost_curve("side-dress", "corn"), "stages of the field are needed"),
        (lambda: delay_cost_curve("terminate", "corn"), "planting day is needed"),
        (lambda: response_table("scout", "corn"), "no response to lateness"),
        (lambda: closed_form_loss(0.01, 1, 1, 1, 0.0, 1, 1), "above 0"),
        (lambda: closed_form_loss(0.01, 1, 1, 1, 1, 1, 1, sides=3), "allowed: 2"),
    ],
)
def test_what_cannot_be_priced_is_said_in_one_sentence(call, says: str) -> None:
    with pytest.raises(SettingRefused, match=says):
        call()
