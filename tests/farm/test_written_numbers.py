"""Numbers in farm files carry their unit, of the right kind, and a comma is never taken for a point.

Factors: international acre 4046.8564224 m2, US gallon 3.785411784 L, foot 0.3048 m, pound 0.45359237 kg, mile 1609.344 m
(NIST Handbook 44, Appendix C, from memory; exact by definition).
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.farm.build import build_farm
from scheduler.farm.machine import Machine, MachineKind
from shared.errors import FarmFileError
from shared.units import KINDS, UnitFault, parse, show
from tests.farm.written import changed_farm, sentences

BARE = [
    (("machine", 0, "road_speed"), 20), (("machine", 1, "width"), 60.0), (("machine", 1, "tank"), 600),
    (("operator", 0, "wage"), 28), (("operator", 0, "normal_hours"), 10), (("fields", 0, "area"), 88.0),
    (("fields", 0, "expected_yield"), 205.0), (("price", "corn"), 4.4), (("product", 0, "density"), 1.3),
    (("product", 0, "stock"), "6000"), (("programme", 0, "pass", 1, "product", 0, "rate"), 24),
]  # fmt: skip


@pytest.mark.parametrize(("place", "value"), BARE, ids=[".".join(map(str, place)) for place, _ in BARE])
def test_a_bare_number_in_a_file_is_refused(place: tuple[str | int, ...], value: object) -> None:
    """`width = 30` would else be 30 m where a person meant feet."""
    with pytest.raises(FarmFileError) as caught:
        build_farm(changed_farm(place, value))
    assert any("unit" in line and str(place[-1]).split("_")[0] in line for line in sentences(caught.value))


def test_numbers_from_code_are_si() -> None:
    machine = Machine(id="m", kind=MachineKind.IMPLEMENT, width_m=9.144, speed_km_h=8.0)
    assert machine.width_m == 9.144


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("24 gal/ac", "length_m"), ("24 gal/ac", "rain_mm"), ("30 ft", "rate_l_per_ha"), ("5 mph", "length_m"),
        ("30 ft", "volume_l"), ("62,5 ac", "area_ha"), ("1,60 gal", "volume_l"), ("1//", "rate_l_per_ha"),
        ("12 h h", "hours"), ("(1 ac", "area_ha"), ("1 ac ** 9999", "area_ha"), ("nan ac", "area_ha"), ("inf ft", "length_m"),
    ],
)  # fmt: skip
def test_what_is_no_quantity_of_its_kind(text: str, kind: str) -> None:
    with pytest.raises(UnitFault):
        parse(text, kind)


@pytest.mark.parametrize(
    ("text", "kind", "si"),
    [
        ("1 ac", "area_ha", 0.40468564224), ("24 gal/ac", "rate_l_per_ha", 24 * 3.785411784 / 0.40468564224),
        ("1,600 gal", "volume_l", 1600 * 3.785411784), ("1,250,000 seeds", "count", 1_250_000),
        ("30 ft", "length_m", 9.144), ("11.06 lb/gal", "density_kg_per_l", 11.06 * 0.45359237 / 3.785411784),
        ("1 pt/ac", "rate_l_per_ha", 3.785411784 / 8 / 0.40468564224), ("1 qt", "volume_l", 3.785411784 / 4),
        ("8 fl oz", "volume_l", 3.785411784 / 16), ("10 mph", "wind_m_s", 4.4704), ("$14/ac", "money_per_ha", 14 / 0.40468564224),
    ],
)  # fmt: skip
def test_units_by_definition(text: str, kind: str, si: float) -> None:
    assert parse(text, kind) == pytest.approx(si, rel=1e-12)


@settings(max_examples=150, deadline=None)
@given(
    kind=st.sampled_from([name for name in KINDS if not name.startswith("money")]),
    value=st.floats(0.01, 10_000),
    system=st.sampled_from(["us", "metric"]),
)
def test_what_is_shown_reads_back(kind: str, value: float, system: str) -> None:
    text = show(value, kind, system, digits=9).replace("°", "deg")
    assert parse(text, kind) == pytest.approx(value, rel=1e-6, abs=1e-6)
