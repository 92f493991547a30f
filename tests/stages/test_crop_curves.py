"""Heat to stage for corn, soybean and rye against published rates and worked examples."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.stages import (
    CornSetting,
    SettingRefused,
    SoybeanSetting,
    StageNameUnknown,
    corn_curve,
    corn_heat,
    corn_stage,
    emergence_heat,
    rye_curve,
    rye_height_m,
    scale_for,
    soybean_curve,
)
from shared.vocabulary import Texture

INCH = 0.0254


def test_785_degree_days_is_v8() -> None:
    """Ohio State C.O.R.N. 2018-15 quoting Nielsen: 785 since planting, emergence 120: 665 / 82 is V8."""
    curve = corn_curve(CornSetting(seed_depth_m=(2 + 1 / 3) * INCH))
    assert curve.start_heat == pytest.approx(120.0)
    stage = float(curve.stage_at(785.0))
    assert stage == pytest.approx(665.0 / 82.0)
    assert curve.name_at(stage) == "V8"


@pytest.mark.parametrize(("stage", "heat"), [("V3", 361), ("V6", 607), ("V8", 771), ("V10", 935)])
def test_heat_from_planting_by_nielsens_rate(stage: str, heat: float) -> None:
    """Computed by hand from emergence 115 and 82 per collar (Nielsen 2019, read quoted)."""
    assert corn_heat(CornSetting(), stage) == pytest.approx(heat)


@pytest.mark.parametrize(
    ("school", "to_v10", "after"),
    [("nielsen", 82.0, 50.0), ("abendroth", 84.0, 56.0)],
)
def test_both_published_leaf_rates(school: str, to_v10: float, after: float) -> None:
    """Nielsen 2019 (Purdue) 82/50; Abendroth et al. 2011 (Iowa State PMR 1009) 84/56; both read quoted."""
    setting = CornSetting(school=school)
    assert corn_heat(setting, "V10") - corn_heat(setting, "VE") == pytest.approx(10 * to_v10)
    assert corn_heat(setting, "V15") - corn_heat(setting, "V10") == pytest.approx(5 * after)


def test_one_leaf_per_five_and_a_half_days_at_15_a_day() -> None:
    """NW Ohio crop blog, June 2009: at 15 degree-days a day a new leaf every 5.5 days."""
    assert (corn_heat(CornSetting(), "V6") - corn_heat(CornSetting(), "V5")) / 15.0 == pytest.approx(
        5.5, abs=0.05
    )


def test_emergence_worked_example_for_deep_seed_under_residue() -> None:
    """Lauer 2003 (Wisconsin) adjustments: 3 in deep, 80 % residue (middle): 125 + 15 + 45."""
    setting = CornSetting(emergence="lauer", seed_depth_m=3 * INCH, residue_pct=80.0)
    assert emergence_heat(setting) == pytest.approx(185.0)


@pytest.mark.parametrize(
    ("change", "low", "high"),
    [
        ({"residue_pct": 80.0}, 30, 60),
        ({"texture": Texture.CLAY}, 30, 60),
        ({"texture": Texture.SAND}, -30, -60),
        ({"dry_seed_zone": True}, 30, 30),
        ({"residue_pct": 75.0}, 0, 0),
        ({"texture": Texture.SILT_LOAM}, 0, 0),
        ({"seed_depth_m": 1.5 * INCH}, 0, 0),
    ],
)
def test_emergence_adjustments_span_the_published_ranges(change: dict, low: float, high: float) -> None:
    """Lauer 2003, Wis. Crop Manager 10(8):63-64."""
    for share, expected in ((0.0, low), (1.0, high)):
        setting = CornSetting(emergence="lauer", adjustment_share=share, **change)
        assert emergence_heat(setting) - 125.0 == pytest.approx(expected)


def test_soybean_emerges_in_the_published_heat_and_adds_a_node_in_3_7_days() -> None:
    """Emergence: Wisconsin notes, 21 May 2008, about 145; nodes: trade press on Nebraska work."""
    curve = soybean_curve()
    assert curve.heat_at(scale_for("soybean").parse("VE")) == pytest.approx(145.0)
    per_day = curve.clock_heat_per_day
    assert per_day is not None
    assert (curve.heat_at(5.0) - curve.heat_at(4.0)) / per_day == pytest.approx(3.7)
    # VC 3 to 5 days after VE (trade press).
    assert 3.0 <= (curve.heat_at(0.5) - curve.heat_at(0.0)) / per_day <= 5.0


def test_soybean_reproductive_stages_are_known_by_name_but_not_predicted() -> None:
    assert soybean_curve().heat_at(scale_for("soybean").parse("R1")) == float("inf")


def test_rye_of_five_to_eight_inches_lies_between_tillering_and_jointing() -> None:
    """Iowa State field agronomist (trade press, 22 April 2015): under 1000 lb/ac rye stands 5 to 8 in."""
    curve = rye_curve()
    low, high = (float(rye_height_m(curve.scale.parse(name))) for name in ("tillering", "jointing"))
    assert low < 5 * INCH < 8 * INCH < high


@pytest.mark.parametrize(
    "curve", [corn_curve(), corn_curve(CornSetting(school="abendroth")), soybean_curve()]
)
@given(share=st.floats(0.0, 1.0))
def test_stage_and_heat_are_inverse(curve, share: float) -> None:
    heat = share * curve.heat[-1]
    assert curve.heat_at(float(curve.stage_at(heat))) == pytest.approx(heat, abs=1e-6)


@given(a=st.floats(0, 3000), b=st.floats(0, 3000))
def test_more_heat_never_means_a_lower_stage(a: float, b: float) -> None:
    low, high = sorted((a, b))
    assert corn_stage(CornSetting(), low) <= corn_stage(CornSetting(), high) + 1e-12


@pytest.mark.parametrize("text", ["V3", "v3", " V3 "])
def test_stage_names_are_read_in_any_case(text: str) -> None:
    scale = scale_for("corn")
    assert scale.parse(text) == 3.0
    assert scale.canonical(text) == "V3"


def test_stages_come_in_their_order() -> None:
    scale = scale_for("corn")
    order = ["planted", "VE", "V1", "V9", "V10", "VT", "R1", "R6"]
    assert sorted(order, key=scale.parse) == order
    assert (
        scale_for("soybean").parse("VE") < scale_for("soybean").parse("VC") < scale_for("soybean").parse("V1")
    )
    assert scale.end_of("V6") == scale.parse("V7")


@pytest.mark.parametrize(("crop", "text"), [("corn", "VC"), ("corn", "V99"), ("soybean", "VT"), ("corn", "")])
def test_an_unknown_stage_lists_the_allowed_ones(crop: str, text: str) -> None:
    with pytest.raises(StageNameUnknown, match=f"{crop}: .*allowed: planted, VE"):
        scale_for(crop).parse(text)


def test_an_unknown_crop_lists_the_known_ones() -> None:
    with pytest.raises(StageNameUnknown, match="corn, rye, soybean"):
        scale_for("barley")


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"school": "nobody"}, "allowed: abendroth, nielsen"),
        ({"emergence": "x"}, "allowed: lauer, nielsen"),
        ({"seed_depth_m": 2.0}, "0.01 to 0.15 m"),
        ({"residue_pct": -1.0}, "0 to 100"),
        ({"leaf_count": 3}, "12 to 22"),
    ],
)
def test_a_bad_corn_setting_is_refused_in_one_sentence(change: dict, says: str) -> None:
    with pytest.raises(SettingRefused, match=says):
        CornSetting(**change)


def test_a_bad_soybean_setting_is_refused() -> None:
    with pytest.raises(SettingRefused, match="days_per_node"):
        SoybeanSetting(days_per_node=-1.0)
