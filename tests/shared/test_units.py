"""Units: factors against published values, and nothing without a unit gets in."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.units import KINDS, UnitFault, parse, parse_crop_amount, to_people


@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        # NIST Handbook 44, Appendix C: international acre and US gallon, exact.
        ("1 ac", "area_ha", 0.40468564224),
        ("1 gal", "volume_l", 3.785411784),
        ("1 lb", "mass_kg", 0.45359237),
        ("1 mi", "distance_km", 1.609344),
        ("30 ft", "length_m", 9.144),
        ("5.5 mph", "speed_km_h", 8.851392),
        ("1 in", "rain_mm", 25.4),
        ("50 degF", "temperature_c", 10.0),
        ("24 gal/ac", "rate_l_per_ha", 224.494949),
        # 11.06 lb/gal: density of 32 % nitrogen solution at 68 F (trade tables, quoted in the reference sheet).
        ("11.06 lb/gal", "density_kg_per_l", 1.325280),
        ("65 %", "share", 0.65),
        ("34,000 seeds/ac", "rate_seeds_per_ha", 84015.83),
        ("14 $/ac", "money_per_ha", 34.594753),
        ("$26/h", "money_per_h", 26.0),
    ],
)
def test_published_factors(text: str, kind: str, expected: float) -> None:
    assert parse(text, kind) == pytest.approx(expected, rel=1e-6)


def test_yield_and_price_in_bushels() -> None:
    # US grain standards: 56 lb of shelled corn, 60 lb of soybeans to the bushel (from memory).
    assert parse_crop_amount("200 bu/ac", "corn", "ha") == pytest.approx(200 * 56 * 0.45359237 / 404.68564224)
    assert parse_crop_amount("4.40 $/bu", "corn", "t") == pytest.approx(4.40 / (56 * 0.45359237) * 1000)
    assert parse_crop_amount("12 $/bu", "soybean", "t") == pytest.approx(12 / (60 * 0.45359237) * 1000)


@pytest.mark.parametrize("text", ["12", "12 kg", "", "ac", "-", "nan ac", "inf ac", "12 ac/ac", "12 acc"])
def test_what_is_no_area_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(UnitFault, match=r"62 ac"):
        parse(text, "area_ha")


def test_a_bare_number_is_refused() -> None:
    with pytest.raises(UnitFault, match="has no unit"):
        parse(12.0, "length_m")


@given(
    st.sampled_from(sorted(kind for kind in KINDS if kind not in ("count", "days"))),
    st.floats(0.01, 10_000),
    st.sampled_from(["us", "metric"]),
)
def test_what_people_are_shown_reads_back_as_the_same_value(kind: str, value: float, system: str) -> None:
    number, unit = to_people(value, kind, system)
    assert parse(f"{number!r} {unit}", kind) == pytest.approx(value, rel=1e-9)
