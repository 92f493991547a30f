"""Load sheets: the arithmetic of the trade, against published worked figures."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.crew.language import Words
from scheduler.crew.load_sheet import load_lines
from scheduler.farm.product import ProductRate
from scheduler.farm.rig import rigs_of
from tests.crew.builders import morning

ACRE_HA, GALLON_L, POUND_KG = 0.40468564224, 3.785411784, 0.45359237


def lines(field: str, pass_id: str, rig_id: str, acres: float, factor: float = 1.0, language: str = "en"):
    """Return the load lines of a pass on some acres."""
    farm = morning()[1].farm
    rig = next(rig for rig in rigs_of(farm) if rig.id == rig_id)
    spec = farm.spec(field, pass_id)
    assert spec is not None
    return load_lines(farm, rig, spec, acres * ACRE_HA, factor, Words(language))


def test_24_gallons_of_32_percent_solution_carry_85_pounds_of_nitrogen() -> None:
    # 11.06 lb/gal at 68 F (trade tables, read quoted): 24 x 11.06 x 0.32 = 84.9 lb N/ac; 12 gal to each side is
    # common practice, no source.
    line = lines("north-bench", "band", "big+nbar+truck", 100)[0]
    assert line.nitrogen_kg_per_ha * ACRE_HA / POUND_KG == pytest.approx(24 * 11.06 * 0.32, rel=1e-6)
    assert line.amount / GALLON_L == pytest.approx(2400, rel=1e-9)
    assert "24.0 gal/ac" in line.rate_text and "12.0 gal to each side" in line.rate_text
    assert "84.9 lb N/ac" in line.nitrogen_text and line.amount_text == "2,400 gal"
    # 1600 gal tank at 24 gal/ac: 66.7 ac a load, so two loads for 100 ac.
    assert line.area_per_load_ha is not None
    assert line.area_per_load_ha / ACRE_HA == pytest.approx(1600 / 24)
    assert line.load_text.startswith("2 loads, refill every 66.7 ac")


def test_160_acres_at_34000_seeds_take_68_bags_of_80000() -> None:
    # Worked figure of the reference sheet: 160 ac x 34,000 / 80,000 = 68.0 bags.
    line = lines("north-bench", "plant", "big+planter", 160)[0]
    assert line.packages == 68 and line.amount_text == "68 bags"


def test_a_started_bag_is_a_whole_bag() -> None:
    assert lines("north-bench", "plant", "big+planter", 160.5)[0].packages == 69


def test_a_tissue_result_moves_nitrogen_and_not_seed() -> None:
    plain = lines("upper-mill", "side-dress", "row+sidebar+truck", 10)
    moved = lines("upper-mill", "side-dress", "row+sidebar+truck", 10, factor=0.8)
    assert moved[0].amount == pytest.approx(0.8 * plain[0].amount)
    assert moved[1].amount == plain[1].amount


def test_the_carrier_fills_the_tank_too() -> None:
    # 15 gal/ac of water and 0.25 gal/ac of product in a 1000 gal tank: 65.6 ac a load.
    line = lines("heron", "terminate", "sprayer", 104)[0]
    assert line.area_per_load_ha is not None
    assert line.area_per_load_ha / ACRE_HA == pytest.approx(1000 / 15.25)


@pytest.mark.parametrize(
    ("written", "shown"),
    [
        # 4 quarts, 8 pints, 128 fluid ounces are a US gallon (NIST Handbook 44, Appendix C; from memory).
        ("1 qt/ac", "0.250 gal/ac (1 qt/ac)"), ("1.5 pt/ac", "0.188 gal/ac (1.5 pt/ac)"), ("0.25 gal/ac", "0.250 gal/ac"),
        ("4 floz/ac", "0.0313 gal/ac (4 floz/ac)"), ("2.5 gal/ac", "2.50 gal/ac"), ("24 gal/ac", "24.0 gal/ac"),
    ],
)  # fmt: skip
def test_a_rate_keeps_three_figures_and_the_labels_own_unit(written: str, shown: str) -> None:
    """A quart an acre shown as 0.3 gal/ac would be a fifth too much in the tank."""
    farm = morning()[1].farm
    spec = farm.spec("heron", "terminate")
    assert spec is not None
    product = farm.product_by_id[spec.products[0].product]
    one = spec.model_copy(update={"products": (ProductRate(product=product.id, rate=written),)})
    rig = next(rig for rig in rigs_of(farm) if rig.id == "sprayer")
    assert load_lines(farm, rig, one, 10 * ACRE_HA, 1.0, Words("en"))[0].rate_text == shown


def test_each_load_of_a_sprayer_is_told_with_its_water() -> None:
    # 104 ac, 15 gal/ac of water and 0.25 gal/ac of product, 1000 gal: 65.57 ac a load; worked by hand.
    product, water = lines("heron", "terminate", "sprayer", 104)
    assert product.amount_text == "26.0 gal" and water.amount_text == "1,560 gal"
    assert (
        product.load_text == "2 loads, refill every 65.6 ac: 16.4 gal in each full one, 9.61 gal in the last"
    )
    assert water.load_text == "2 loads, refill every 65.6 ac: 984 gal in each full one, 576 gal in the last"
    assert (water.product, water.name, water.rate_text) == ("", "Water", "15.0 gal/ac")
    assert lines("heron", "terminate", "sprayer", 104, language="es")[1].name == "Agua"


def test_a_box_is_filled_with_a_part_of_a_bag_not_with_one_more() -> None:
    line = lines("north-bench", "plant", "big+planter", 160)[0]
    assert line.area_per_load_ha is not None and line.loads is not None
    each = line.area_per_load_ha * line.rate / 80_000
    assert f"{each:.1f}".removesuffix(".0") + " bags in each full one" in line.load_text


def test_a_last_load_that_is_hardly_one_is_shared_out() -> None:
    # 197 ac at 65.57 ac a load: three full ones and 0.3 ac; four alike of 49.25 ac, 49.25 x 15 = 739 gal; worked by hand.
    product, water = lines("heron", "terminate", "sprayer", 197)
    assert water.load_text == "4 loads alike, refill every 49.2 ac: 739 gal in each"
    assert product.load_text == "4 loads alike, refill every 49.2 ac: 12.3 gal in each"
    assert "cargas iguales" in lines("heron", "terminate", "sprayer", 197, language="es")[1].load_text


@given(st.floats(1.0, 900.0))
def test_loads_add_up_and_none_is_more_than_a_full_one(acres: float) -> None:
    line = lines("heron", "terminate", "sprayer", acres)[0]
    assert line.loads is not None and line.area_per_load_ha is not None
    full, loads = line.area_per_load_ha * line.rate, math.ceil(round(line.loads, 6))
    if loads > 1:
        numbers = [float(text.replace(",", "")) for text in re.findall(r"([\d.,]+) gal", line.load_text)]
        if len(numbers) == 1:
            numbers = [numbers[0], numbers[0]]
        first, last = numbers
        assert (loads - 1) * first + last == pytest.approx(line.amount / GALLON_L, rel=6e-3, abs=6e-3 * loads)
        assert first <= full / GALLON_L * 1.006 and last >= 0.24 * first
