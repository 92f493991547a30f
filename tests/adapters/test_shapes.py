"""Areas of drawn fields against geodesic areas computed by another library, and shapes that are none."""

from __future__ import annotations

from typing import Any

import pytest

from adapters.storage.shapes import NoShape, area_ha, place_of

# Corners of a field of 0.8 km by 0.8 km at 41.9 N with a hole. Geodesic areas on WGS 84 by pyproj
# (Geod.geometry_area_perimeter) and geographiclib, as noted with the samples: 643,661.31 m2 without and 634,445 m2
# with the hole.
SHELL = [[-93.61, 41.9], [-93.6003, 41.9], [-93.6003, 41.9072], [-93.61, 41.9072], [-93.61, 41.9]]
HOLE = [[-93.606, 41.903], [-93.606, 41.904], [-93.605, 41.904], [-93.605, 41.903], [-93.606, 41.903]]


def polygon(*rings: list[list[float]]) -> dict[str, Any]:
    return {"type": "Polygon", "coordinates": list(rings)}


def test_area_of_a_field() -> None:
    assert area_ha(polygon(SHELL)) == pytest.approx(64.366131, rel=1e-6)


@pytest.mark.parametrize("turn", [1, -1])
def test_a_hole_is_taken_out_whichever_way_it_winds(turn: int) -> None:
    assert area_ha(polygon(SHELL[::turn], HOLE)) == pytest.approx(63.4445, rel=1e-6)
    assert area_ha(polygon(SHELL, HOLE[::turn])) == pytest.approx(63.4445, rel=1e-6)


def test_parts_add_up() -> None:
    both = {"type": "MultiPolygon", "coordinates": [[SHELL], [[[x + 0.02, y] for x, y in SHELL]]]}
    assert area_ha(both) == pytest.approx(2 * 64.366131, rel=1e-6)


def test_an_eighth_of_the_ellipsoid() -> None:
    """A quarter of the northern half; the surface of WGS 84 is 510,065,622 km2 (NIMA TR8350.2; from memory)."""
    eighth = polygon([[0, 0], [30, 0], [60, 0], [90, 0], [90, 90], [0, 90], [0, 0]])
    assert area_ha(eighth) == pytest.approx(510_065_622 * 100 / 8, rel=1e-6)


def test_a_point_has_no_area() -> None:
    point = {"type": "Point", "coordinates": [-93.0, 42.0]}
    assert area_ha(point) is None and place_of(point) == (-93.0, 42.0)


@pytest.mark.parametrize(
    "shape",
    [
        None, {}, {"type": "LineString", "coordinates": SHELL}, polygon(SHELL[:-1]), polygon([]), polygon(),
        {"type": "Point", "coordinates": [-93.0, 142.0]}, {"type": "Point", "coordinates": [float("nan"), 42.0]},
        {"type": "Point", "coordinates": "-93,42"}, {"type": "Point", "coordinates": [True, 1]},
        {"type": "MultiPolygon", "coordinates": []}, {"type": "MultiPolygon", "coordinates": [[]]},
    ],
)  # fmt: skip
def test_what_is_no_shape(shape: Any) -> None:
    with pytest.raises(NoShape):
        place_of(shape)
