"""Files of invented fields for the tests: GeoJSON, shapefiles and lists, sound and spoilt."""

from __future__ import annotations

import json
import zipfile
from io import BytesIO
from pathlib import Path
from typing import Any

import shapefile
from pyproj import CRS, Transformer

Ring = list[tuple[float, float]]
UTM15 = 26915


def square(west: float = -93.61, south: float = 41.90, size: float = 0.005) -> Ring:
    """Return a closed ring of four corners, counter-clockwise."""
    return [
        (west, south),
        (west + size, south),
        (west + size, south + size),
        (west, south + size),
        (west, south),
    ]


def bow_tie(west: float = -93.61, south: float = 41.90, size: float = 0.005) -> Ring:
    """Return a ring that crosses itself."""
    return [
        (west, south),
        (west + size, south + size),
        (west + size, south),
        (west, south + size),
        (west, south),
    ]


def feature(ring: Any, kind: str = "Polygon", **properties: Any) -> dict[str, Any]:
    """Return a GeoJSON feature of one ring (or of ready coordinates)."""
    coordinates = [ring] if kind == "Polygon" and isinstance(ring[0], tuple) else ring
    return {
        "type": "Feature",
        "geometry": {"type": kind, "coordinates": coordinates},
        "properties": properties,
    }


def geojson(path: Path, *features: dict[str, Any], **more: Any) -> Path:
    """Write a collection."""
    path.write_text(
        json.dumps({"type": "FeatureCollection", "features": list(features), **more}), encoding="utf-8"
    )
    return path


def shape_zip(
    path: Path, rows: list[tuple[str, Ring]], crs: int | None = UTM15, letters: str = "utf-8", cpg: bool = True,
    field: str = "FIELDNAME",
) -> Path:  # fmt: skip
    """Write a zipped shapefile; rings are given in degrees and written in `crs` (degrees, unsaid, where None)."""
    parts = {end: BytesIO() for end in ("shp", "shx", "dbf")}
    turn = Transformer.from_crs(4326, crs or 4326, always_xy=True)
    with shapefile.Writer(**parts, encoding=letters) as writer:
        writer.field(field, "C", 40)
        for name, ring in rows:
            writer.poly([[list(turn.transform(*corner)) for corner in reversed(ring)]])
            writer.record(name)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for end, part in parts.items():
            archive.writestr(f"fields.{end}", part.getvalue())
        if crs:
            archive.writestr("fields.prj", CRS.from_epsg(crs).to_wkt("WKT1_ESRI"))
        if cpg:
            archive.writestr("fields.cpg", letters)
    return path


def grid(count: int, size: float = 0.0064, across: int = 20) -> list[tuple[str, Ring]]:
    """Return many fields side by side, about 90 acres each."""
    step = size * 1.1
    return [
        (f"Piece {k + 1}", square(-93.9 + k % across * step, 41.7 + k // across * step, size))
        for k in range(count)
    ]
