"""Outlines of fields for pictures, out of the farm's GeoJSON; a field without one has none here."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path

from adapters.storage.shapes import NoShape, outer_rings

FILE = "fields.geojson"


def outlines(folder: Path) -> dict[str, list[tuple[float, float]]]:
    """Return the longest outer ring of each field as (longitude, latitude) [deg], by field id."""
    path = folder / FILE
    if not path.exists():
        return {}
    return dict(_read(path, path.stat().st_mtime_ns))


@lru_cache(maxsize=4)
def _read(path: Path, _changed: int) -> tuple[tuple[str, list[tuple[float, float]]], ...]:
    found = []
    for feature in json.loads(path.read_text(encoding="utf-8")).get("features", []):
        name = (feature.get("properties") or {}).get("id", feature.get("id"))
        try:
            rings = outer_rings(feature.get("geometry"))
        except NoShape:
            continue
        longest = max(rings, key=len, default=[])
        if name is not None and len(longest) >= 3:
            found.append((str(name), longest))
    return tuple(found)
