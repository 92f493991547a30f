"""GeoJSON shapes of fields: a point inside, and the area on the ellipsoid.

Input: the geometry of a feature (RFC 7946: Point, Polygon or MultiPolygon, positions as longitude and latitude in
degrees); output: mean position of the corners, and hectares. Holes are taken out.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import log, pi, radians, sin, sqrt
from typing import Any

SEMI_MAJOR_M, FLATTENING = 6_378_137.0, 1 / 298.257223563
"""The WGS 84 ellipsoid (its defining constants)."""
Position = tuple[float, float]


class NoShape(ValueError):
    """The geometry is no point, polygon or multipolygon with finite positions on the globe."""


def place_of(geometry: Any) -> Position:
    """Return longitude and latitude of a point for roads and weather: the mean of the corners."""
    corners = [corner for rings in _polygons(geometry) for corner in rings[0]]
    return sum(x for x, _ in corners) / len(corners), sum(y for _, y in corners) / len(corners)


def area_ha(geometry: Any) -> float | None:
    """Return the area [ha]; None for a point.

    Notes
    -----
    Each ring by the line integral, over longitude, of the area between equator and parallel, taken corner by corner:
    exact for edges along meridians and parallels, and as good for the edges of fields.

    References
    ----------
    Chamberlain and Duquette (2007), Some algorithms for polygons on a sphere, JPL 07-03; Snyder (1987), Map
    projections, USGS Professional Paper 1395, eq. 3-12 for the area below a parallel (both from memory).
    """
    if geometry["type"] == "Point":
        return None
    total = 0.0
    for outer, *holes in _polygons(geometry):
        total += _ring_m2(outer) - sum(_ring_m2(hole) for hole in holes)
    return total / 10_000.0


def _ring_m2(ring: list[Position]) -> float:
    total = 0.0
    for (x0, _), (_, y1), (x2, _) in zip([ring[-1], *ring[:-1]], ring, [*ring[1:], ring[0]], strict=True):
        step = (radians(x2 - x0) + pi) % (2 * pi) - pi
        total += step * _below_parallel(radians(y1))
    return abs(total) / 4.0 * SEMI_MAJOR_M**2


def _below_parallel(latitude: float) -> float:
    """Return Snyder's q: twice the area between equator and a parallel, per radian and squared semi-major axis."""
    square = FLATTENING * (2.0 - FLATTENING)
    root, up = sqrt(square), sin(latitude)
    part = up / (1.0 - square * up * up) - log((1.0 - root * up) / (1.0 + root * up)) / (2.0 * root)
    return (1.0 - square) * part


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
