"""Outlines of fields for pictures, out of the farm's GeoJSON; a field without one has none here."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path
from typing import Any

from adapters.storage.shapes import NoShape, outer_rings

FILES = ("boundaries.geojson", "fields.geojson")


def outlines(folder: Path) -> dict[str, list[tuple[float, float]]]:
    """Return the longest outer ring of each field as (longitude, latitude) [deg], by field id."""
    found = {}
    for name, shape in geometries(folder).items():
        longest = max(outer_rings(shape), key=len, default=[])
        if len(longest) >= 3:
            found[name] = longest
    return found


def geometries(folder: Path) -> dict[str, dict[str, Any]]:
    """Return the GeoJSON geometry of each field that has a usable outline, by field id."""
    path = next((folder / name for name in FILES if (folder / name).exists()), None)
    return {} if path is None else dict(_read(path, path.stat().st_mtime_ns))


@lru_cache(maxsize=4)
def _read(path: Path, _changed: int) -> tuple[tuple[str, dict[str, Any]], ...]:
    """Read a file once as long as it does not change; one that is damaged holds no outline (the plan needs none)."""
    try:
        features = json.loads(path.read_text(encoding="utf-8-sig")).get("features", [])
    except (ValueError, AttributeError, OSError):
        return ()
    found = []
    for feature in features if isinstance(features, list) else ():
        try:
            name = (feature.get("properties") or {}).get("id", feature.get("id"))
            outer_rings(feature.get("geometry"))
        except (NoShape, AttributeError):
            continue
        if name is not None:
            found.append((str(name), feature["geometry"]))
    return tuple(found)
