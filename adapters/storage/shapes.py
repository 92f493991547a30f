"""GeoJSON shapes of fields: a point inside, and the area on the ellipsoid.

Input: the geometry of a feature (RFC 7946: Point, Polygon or MultiPolygon, positions as longitude and latitude in
degrees); output: mean position of the corners, and hectares. Holes are taken out.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

Position = tuple[float, float]


class NoShape(ValueError):
    """The geometry is no point, polygon or multipolygon with finite positions on the globe."""


def place_of(geometry: Any) -> Position:
    """Return longitude and latitude of a point for roads and weather: the mean of the corners."""
    corners = [corner for rings in _polygons(geometry) for corner in rings[0]]
    return sum(x for x, _ in corners) / len(corners), sum(y for _, y in corners) / len(corners)


def area_ha(geometry: Any) -> float | None:
    """Return the area on the WGS 84 ellipsoid [ha], holes taken out however they are wound; None for a point.

    Geodesic, by PROJ's ``Geod``; it is loaded here, since most farm folders hold no shapes whose area is wanted.
    """
    if geometry["type"] == "Point":
        return None
    from pyproj import Geod

    ellipsoid = Geod(ellps="WGS84")

    def ring(corners: list[Position]) -> float:
        east, north = zip(*corners, strict=True)
        return abs(float(ellipsoid.polygon_area_perimeter(east, north)[0]))

    return sum(ring(outer) - sum(map(ring, holes)) for outer, *holes in _polygons(geometry)) / 10_000.0


def _polygons(geometry: Any) -> Iterator[list[list[Position]]]:
    """Yield polygons as lists of rings without their closing positions; a point is a ring of one."""
    if not isinstance(geometry, Mapping):
        raise NoShape("no geometry")
    kind, coordinates = geometry.get("type"), geometry.get("coordinates")
    if kind == "Point":
        yield [[_position(coordinates)]]
    elif kind == "Polygon":
        yield _rings(coordinates)
    elif kind == "MultiPolygon" and isinstance(coordinates, list) and coordinates:
        for part in coordinates:
            yield _rings(part)
    else:
        raise NoShape(f"type {kind!r}")


def _rings(coordinates: Any) -> list[list[Position]]:
    if not isinstance(coordinates, list) or not coordinates:
        raise NoShape("no rings")
    rings = []
    for ring in coordinates:
        if not isinstance(ring, list) or len(ring) < 4 or ring[0] != ring[-1]:
            raise NoShape("a ring that is not closed")
        rings.append([_position(corner) for corner in ring[:-1]])
    return rings


def _position(value: Any) -> Position:
    if not isinstance(value, list) or len(value) < 2:
        raise NoShape("no position")
    for number, most in zip(value[:2], (180.0, 90.0), strict=True):
        if isinstance(number, bool) or not isinstance(number, int | float) or not -most <= number <= most:
            raise NoShape(f"position {value[:2]}")
    return float(value[0]), float(value[1])


def outer_rings(geometry: Any) -> list[list[Position]]:
    """Return the outer rings of a geometry without their closing positions.

    Raises
    ------
    NoShape
        It is no point, polygon or multipolygon.
    """
    return [rings[0] for rings in _polygons(geometry)]
