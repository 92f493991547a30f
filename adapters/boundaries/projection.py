"""Positions into degrees: what projection a file is in, and the change to WGS 84 through PROJ."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError

from adapters.boundaries.found import BoundaryFaults
from shared.errors import Fault

DEGREES = "EPSG:4326"
WEB_MERCATOR = 3857
CRS_ALLOWED = "a projection such as EPSG:4326 (degrees) or EPSG:26915 (UTM zone 15 north), by --crs"


def read_crs(text: str, file: str, key: str) -> CRS:
    """Return a projection out of its name or definition.

    Raises
    ------
    BoundaryFaults
        PROJ does not know it.
    """
    try:
        return CRS.from_user_input(text)
    except CRSError as error:
        raise BoundaryFaults(
            [Fault(file, key, text[:60], "is no projection that is known", CRS_ALLOWED)], ["crs"]
        ) from error


def is_degrees(crs: CRS) -> bool:
    """Return whether positions in it are WGS 84 degrees, or so near that a field does not tell (NAD 83: below 2 m)."""
    return bool(crs.is_geographic) and crs.prime_meridian is not None and crs.prime_meridian.longitude == 0


def said_of(crs: CRS) -> str:
    """Return what a person is told about a projection."""
    code = crs.to_epsg() or (crs.to_epsg(min_confidence=25) if crs.is_projected else None)
    name = crs.name + (f" (EPSG:{code})" if code else "")
    if code == WEB_MERCATOR or "pseudo-mercator" in crs.name.lower() or "web_mercator" in crs.name.lower():
        return f"The file is in {name}, in which areas are far too large (about 80 % at 42 degrees); they were measured on the ellipsoid."
    return f"The file is in {name}; its positions were changed to WGS 84 degrees."


class ToDegrees:
    """Changes the positions of geometries from one projection to longitude and latitude."""

    def __init__(self, crs: CRS) -> None:
        self.transformer = Transformer.from_crs(crs, DEGREES, always_xy=True)

    def __call__(self, geometry: Mapping[str, Any]) -> dict[str, Any]:
        """Return a GeoJSON geometry in degrees."""
        return {"type": geometry["type"], "coordinates": self._turned(geometry["coordinates"])}

    def _turned(self, value: Any) -> Any:
        if value and isinstance(value[0], int | float):
            x, y = self.transformer.transform(float(value[0]), float(value[1]))
            return [x, y]
        return [self._turned(part) for part in value]
