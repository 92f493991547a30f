"""Areas against geographiclib, an implementation of Karney's geodesics that shares no code with PROJ's polygons here.

Karney, C. F. F. (2013), Algorithms for geodesics, Journal of Geodesy 87:43-55 (as geographiclib says of itself).
"""

from __future__ import annotations

from pathlib import Path

import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from adapters.boundaries import Words, read_fields
from adapters.boundaries.shapes import NoSurface, ground_of
from tests.adapters.boundaries.files import Ring, bow_tie, feature, geojson, shape_zip, square

SAMPLES = Path(__file__).resolve().parents[4] / "shared" / "samples"


def outside_ha(ring: Ring) -> float:
    """Return the area of a ring by geographiclib [ha]."""
    polygon = Geodesic.WGS84.Polygon()
    for east, north in ring[:-1]:
        polygon.AddPoint(north, east)
    return abs(polygon.Compute()[2]) / 10_000.0


@given(
    west=st.floats(-179, 178), south=st.floats(-60, 60), size=st.floats(0.0005, 0.05), turned=st.booleans()
)  # fmt: skip
def test_any_square_measures_as_geographiclib_says(
    west: float, south: float, size: float, turned: bool
) -> None:
    ring = square(west, south, size)
    ground = ground_of({"type": "Polygon", "coordinates": [ring[::-1] if turned else ring]}, repair=False)
    assert ground.area_ha == pytest.approx(outside_ha(ring), rel=1e-6, abs=1e-5)


@pytest.mark.parametrize("wound", [1, -1])
def test_a_hole_is_taken_out_however_it_is_wound(wound: int) -> None:
    """The sample of `formats.md`: 634,445 m2 with the hole, 652,877 where a careless reader adds it."""
    shell = [(-93.61, 41.9), (-93.6003, 41.9), (-93.6003, 41.9072), (-93.61, 41.9072), (-93.61, 41.9)]
    hole = [(-93.606, 41.903), (-93.606, 41.904), (-93.605, 41.904), (-93.605, 41.903), (-93.606, 41.903)]
    ground = ground_of({"type": "Polygon", "coordinates": [shell, hole[::wound]]}, repair=False)
    assert ground.area_ha == pytest.approx(outside_ha(shell) - outside_ha(hole), rel=1e-9)
    assert ground.area_ha == pytest.approx(63.4445, abs=1e-3) and ground.holes == 1


def test_a_file_in_utm_and_one_in_web_mercator_measure_as_one_in_degrees(tmp_path: Path) -> None:
    ring = square()
    wanted = outside_ha(ring)
    for crs in (26915, 3857, 5070, None):
        words = Words(crs="" if crs else "EPSG:4326")
        intake = read_fields(shape_zip(tmp_path / f"f{crs}.zip", [("A", ring)], crs), words)
        assert intake.fields[0].area_ha == pytest.approx(wanted, rel=1e-6), crs
        said = " ".join(intake.notes)
        assert ("too large" in said) == (crs == 3857) and ("EPSG:26915" in said) == (crs == 26915), said


def test_a_mended_outline_measures_its_two_wings(tmp_path: Path) -> None:
    path = geojson(tmp_path / "f.geojson", feature(bow_tie(), name="Tie"))
    intake = read_fields(path, Words(repair=True))
    assert intake.fields[0].area_ha == pytest.approx(outside_ha(square()) / 2, rel=1e-3)
    assert any("mended it has 2 pieces" in note for note in intake.notes)


def test_the_point_of_a_field_lies_inside_it() -> None:
    bent = [(0.0, 0.0), (0.03, 0.0), (0.03, 0.001), (0.001, 0.001), (0.001, 0.03), (0.0, 0.03), (0.0, 0.0)]
    ground = ground_of({"type": "Polygon", "coordinates": [bent]}, repair=False)
    from shapely.geometry import Point

    assert ground.surface.contains(Point(*ground.inside)) and not ground.surface.contains(
        ground.surface.centroid
    )


@pytest.mark.parametrize(("shape", "part"), [({"type": "LineString", "coordinates": square()}, "has no area"), ({"type": "Polygon", "coordinates": [[[0, 0], [float("nan"), 1], [1, 1], [0, 0]]]}, "no number"), ({"type": "Polygon", "coordinates": [[[0, 0], [1, 1]]]}, "damaged"), ({"type": "Polygon", "coordinates": "x"}, "damaged"), ({"type": "Polygon"}, "damaged")])  # fmt: skip
def test_what_is_no_surface(shape: object, part: str) -> None:
    with pytest.raises(NoSurface, match=part):
        ground_of(shape, repair=True)  # type: ignore[arg-type]


@pytest.mark.skipif(not SAMPLES.exists(), reason="the shared samples are not beside this clone")
def test_the_shared_samples_are_read() -> None:
    """Areas as `formats.md` gives them: 634,445 m2 by pyproj and geographiclib."""
    found = read_fields(SAMPLES / "fields.geojson")
    assert [one.id for one in found.fields] == ["north-40", "east-80"]
    assert found.fields[0].area_ha == pytest.approx(63.4445, abs=1e-3)
    utm = read_fields(SAMPLES / "fields_utm15_shp.zip")
    assert utm.fields[0].name == "North 40 – Süd" and utm.fields[0].area_ha == pytest.approx(63.05, abs=0.01)
