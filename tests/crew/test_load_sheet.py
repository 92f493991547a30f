"""Load sheets: the arithmetic of the trade, against published worked figures."""

from __future__ import annotations

import pytest

from scheduler.crew.language import Words
from scheduler.crew.load_sheet import load_lines
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
