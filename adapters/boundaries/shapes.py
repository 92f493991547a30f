"""One boundary judged: is it a surface, where on the globe, does it cross itself, how large is it on the ellipsoid?

Areas are geodesic (PROJ's ``Geod`` on WGS 84); rings are wound as RFC 7946 wants them before they are measured, since a hole
wound like its shell would be added.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from math import isfinite
from typing import Any

import shapely
from pyproj import Geod
from shapely.geometry import MultiPolygon, Polygon, mapping, shape
from shapely.geometry.polygon import orient

FAR_NORTH_DEG = 84.0
"""No field lies nearer to a pole; such a latitude is a longitude in the wrong place."""


@dataclass(frozen=True)
class Ground:
    """A boundary, measured.

    Attributes
    ----------
    surface : shapely geometry
        Polygon or MultiPolygon, wound outer counter-clockwise, holes clockwise.
    area_ha : float
    holes, pieces : int
    mended : bool
    """

    surface: Any
    area_ha: float
    holes: int
    pieces: int
    mended: bool = False

    @property
    def geometry(self) -> dict[str, Any]:
        """GeoJSON, positions to about a centimetre."""
        return dict(mapping(shapely.transform(self.surface, lambda corners: corners.round(7))))

    @property
    def inside(self) -> tuple[float, float]:
        """Longitude and latitude of a point inside [deg]."""
        point = self.surface.representative_point()
        return float(point.x), float(point.y)


class NoSurface(ValueError):
    """A boundary cannot be used; `mend` names the word of the user that would help."""

    def __init__(self, problem: str, mend: str = "") -> None:
        super().__init__(problem)
        self.mend = mend


def swapped(geometry: Mapping[str, Any]) -> dict[str, Any]:
    """Return a geometry with the two numbers of each position exchanged."""

    def turned(value: Any) -> Any:
        if isinstance(value, list | tuple) and value and isinstance(value[0], int | float):
            return [value[1], value[0]]
        return [turned(part) for part in value]

    return {"type": geometry["type"], "coordinates": turned(geometry["coordinates"])}


def ground_of(geometry: Mapping[str, Any], repair: bool) -> Ground:
    """Judge and measure a boundary.

    Raises
    ------
    NoSurface
        It is none, lies off the globe, or crosses itself and nobody allowed a repair.
    """
    surface = _surface(geometry)
    west, south, east, north = surface.bounds
    if max(abs(south), abs(north)) > FAR_NORTH_DEG and max(abs(west), abs(east)) <= FAR_NORTH_DEG:
        raise NoSurface(
            f"lies at latitude {south:.2f}: latitude and longitude seem to stand in the wrong order", "swap"
        )
    if max(abs(west), abs(east)) > 180.0 or max(abs(south), abs(north)) > 90.0:
        raise NoSurface(f"lies off the globe ({west:.6g}, {south:.6g})")
    mended = False
    if not surface.is_valid:
        why = shapely.is_valid_reason(surface)
        if not repair:
            raise NoSurface(f"crosses or touches itself ({why})", "repair")
        surface, mended = _mended(surface), True
    return _measured(surface, mended)


def _surface(geometry: Mapping[str, Any]) -> Any:
    kind = geometry.get("type") if isinstance(geometry, Mapping) else None
    if kind not in ("Polygon", "MultiPolygon"):
        raise NoSurface(f"is a {kind}, which has no area")
    if not _finite(geometry.get("coordinates")):
        raise NoSurface("has a position that is no number")
    try:
        surface = shapely.force_2d(shape(geometry))
    except (
        ValueError,
        TypeError,
        IndexError,
        AttributeError,
        KeyError,
        shapely.errors.ShapelyError,
    ) as error:
        raise NoSurface("has a damaged outline") from error
    if surface.is_empty:
        raise NoSurface("has an empty outline")
    return surface


def _finite(value: Any) -> bool:
    """Return whether every number in nested coordinates is finite; what is no number is judged later."""
    if isinstance(value, list | tuple):
        return all(_finite(part) for part in value)
    return not isinstance(value, float) or isfinite(value)


def _mended(surface: Any) -> Any:
    """Return the surfaces that a mended boundary holds; lines and points that fall out are dropped."""
    parts = [one for one in shapely.get_parts(shapely.make_valid(surface)).tolist() if one.area > 0]
    parts = [
        piece for one in parts for piece in shapely.get_parts(one).tolist() if isinstance(piece, Polygon)
    ]
    if not parts:
        raise NoSurface("has no area even when mended")
    return parts[0] if len(parts) == 1 else MultiPolygon(parts)


def _measured(surface: Any, mended: bool) -> Ground:
    pieces = [orient(one, 1.0) for one in shapely.get_parts(surface).tolist()]
    wound = pieces[0] if len(pieces) == 1 else MultiPolygon(pieces)
    area = sum(_ellipsoid().geometry_area_perimeter(one)[0] for one in pieces) / 10_000.0
    return Ground(wound, float(area), sum(len(one.interiors) for one in pieces), len(pieces), mended)


@lru_cache(maxsize=1)
def _ellipsoid() -> Geod:
    return Geod(ellps="WGS84")


def apart_km(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Return the geodesic distance of two (longitude, latitude) [km]."""
    return float(_ellipsoid().inv(a[0], a[1], b[0], b[1])[2]) / 1000.0


def overlaps(surfaces: list[Any], least_share: float) -> list[tuple[int, int, float]]:
    """Return pairs that share ground: (one, other, share of the smaller one)."""
    if len(surfaces) < 2:
        return []
    tree, out = shapely.STRtree(surfaces), []
    left, right = tree.query(surfaces, predicate="intersects")
    for a, b in sorted(zip(left.tolist(), right.tolist(), strict=True)):
        if a < b:
            smaller = min(surfaces[a].area, surfaces[b].area)
            share = surfaces[a].intersection(surfaces[b]).area / smaller if smaller > 0 else 0.0
            if share > least_share:
                out.append((a, b, float(share)))
    return out
