"""Tables as CSV and Parquet, documents as JSON, shapes as GeoJSON (RFC 7946); written whole or not at all.

A text cell that a spreadsheet would take for a formula gets an apostrophe before it, in CSV only.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import pandas as pd

FORMULA = ("=", "+", "-", "@", "\t", "\r")
Row = Mapping[str, Any]


def write_table(folder: Path, name: str, rows: Sequence[Row], columns: Sequence[str]) -> list[Path]:
    """Write rows as ``name.csv`` and ``name.parquet``; columns as given, also when there is no row."""
    frame = pd.DataFrame([[row.get(column) for column in columns] for row in rows], columns=list(columns))
    csv, parquet = folder / f"{name}.csv", folder / f"{name}.parquet"
    plain = frame.map(safe) if len(frame) else frame
    _replace(csv, lambda path: plain.to_csv(path, index=False, encoding="utf-8"))
    _replace(parquet, lambda path: frame.to_parquet(path, index=False))
    return [csv, parquet]


def write_json(folder: Path, name: str, value: Any) -> Path:
    """Write a document."""
    path = folder / name
    text = json.dumps(value, ensure_ascii=False, indent=1, default=str) + "\n"
    _replace(path, lambda draft: draft.write_text(text, encoding="utf-8"))
    return path


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


def _replace(path: Path, write: Any) -> None:
    draft = path.with_name(f".{path.name}.part")
    write(draft)
    draft.replace(path)
