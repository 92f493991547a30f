"""Tables as CSV and Parquet, documents as JSON, shapes as GeoJSON (RFC 7946); written whole or not at all.

A text cell that a spreadsheet would take for a formula gets an apostrophe before it, in CSV only.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import pandas as pd

from adapters.files.whole import write_whole

FORMULA = ("=", "+", "-", "@", "\t", "\r")
Row = Mapping[str, Any]


def write_table(folder: Path, name: str, rows: Sequence[Row], columns: Sequence[str]) -> list[Path]:
    """Write rows as ``name.csv`` and ``name.parquet``; columns as given, also when there is no row."""
    frame = pd.DataFrame([[row.get(column) for column in columns] for row in rows], columns=list(columns))
    csv, parquet = folder / f"{name}.csv", folder / f"{name}.parquet"
    plain = frame.map(safe) if len(frame) else frame
    write_whole(csv, plain.to_csv(index=False).encode())
    write_whole(parquet, frame.to_parquet(None, index=False))
    return [csv, parquet]


def write_json(folder: Path, name: str, value: Any) -> Path:
    """Write a document."""
    path = folder / name
    text = json.dumps(value, ensure_ascii=False, indent=1, default=str) + "\n"
    return write_whole(path, text.encode())


def feature(geometry: Row | None, point: tuple[float, float], properties: Row) -> dict[str, Any]:
    """Return a feature: the outline where there is one, wound as RFC 7946 wants it, else the point."""
    shown: dict[str, Any] = {"type": "Point", "coordinates": list(point)}
    if geometry is not None and geometry.get("type") in ("Polygon", "MultiPolygon"):
        from shapely.geometry import MultiPolygon, mapping, shape
        from shapely.geometry.polygon import orient

        surface = shape(dict(geometry))
        parts = [orient(one, 1.0) for one in getattr(surface, "geoms", [surface])]
        shown = json.loads(json.dumps(mapping(parts[0] if len(parts) == 1 else MultiPolygon(parts))))
    return {"type": "Feature", "id": properties.get("id"), "geometry": shown, "properties": dict(properties)}


def safe(value: Any) -> Any:
    """Return a cell that no spreadsheet takes for a formula."""
    return f"'{value}" if isinstance(value, str) and value.startswith(FORMULA) else value
