"""The scenarios' invented outlines: their areas are the fields', no two share ground, each lies at its field."""

from __future__ import annotations

from pathlib import Path

import pytest

from adapters.boundaries import read_fields
from adapters.storage.farm_files import read_farm_folder
from scheduler.farm.build import build_farm

SCENARIOS = Path(__file__).resolve().parents[1] / "scenarios"


@pytest.mark.parametrize("name", ["wet-week", "closing-window", "short-handed"])
def test_outlines_are_the_fields(name: str) -> None:
    farm, _ = build_farm(read_farm_folder(SCENARIOS / name))
    found = read_fields(SCENARIOS / name / "boundaries.geojson")
    assert found.notes == (), "no overlap, no hole, nothing left out"
    assert {one.id for one in found.fields} == set(farm.field_by_id)
    for one in found.fields:
        field = farm.field_by_id[one.id]
        assert one.area_ha == pytest.approx(field.area_ha, rel=0.002)
        assert (
            abs(one.latitude_deg - field.latitude_deg) < 0.02
            and abs(one.longitude_deg - field.longitude_deg) < 0.02
        )
