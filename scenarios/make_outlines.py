"""Invented outlines for the scenarios' fields: rectangles and notched ones around their points, of exactly their areas.

    python -m scenarios.make_outlines scenarios/wet-week

Seeded by the field's id: the same fields give the same outlines. The shape of each is chosen so that no two share ground; where
that cannot be had, the least overlap stands.
"""

from __future__ import annotations

import csv
import json
import sys
from math import cos, radians, sqrt
from pathlib import Path
from random import Random

from pyproj import Geod
from shapely.geometry import Polygon

from shared.units import parse

TRIES = 60
DEGREE_M = 111_320.0
Ring = list[tuple[float, float]]


def outline(latitude: float, longitude: float, area_ha: float, luck: Random) -> Ring:
    """Return a closed ring of this area [ha] around a point."""
    aspect, notch, turn = luck.uniform(0.45, 1.0), luck.choice((0.0, 0.0, 0.25, 0.35)), luck.choice((0, 1))
    wide, high = (aspect, 1.0) if turn else (1.0, aspect)
    corners = [(0.0, 0.0), (wide, 0.0), (wide, high), (0.0, high)]
    if notch:
        corners = [
            (0.0, 0.0),
            (wide, 0.0),
            (wide, high * (1 - notch)),
            (wide * (1 - notch), high * (1 - notch)),
            (wide * (1 - notch), high),
            (0.0, high),
        ]
    scale = sqrt(area_ha * 10_000.0) / DEGREE_M
    for _ in range(6):
        ring = [
            (longitude + (x - wide / 2) * scale / cos(radians(latitude)), latitude + (y - high / 2) * scale)
            for x, y in corners
        ]
        scale *= sqrt(
            area_ha
            / (abs(Geod(ellps="WGS84").polygon_area_perimeter(*zip(*ring, strict=True))[0]) / 10_000.0)
        )
    rounded = [(round(x, 6), round(y, 6)) for x, y in ring]
    return [*rounded, rounded[0]]


def outlines(rows: list[dict[str, str]]) -> dict[str, Ring]:
    """Return an outline for each field, apart from each other as far as the points let them be."""
    out: dict[str, Ring] = {}
    for row in rows:
        place = float(row["latitude"]), float(row["longitude"])
        tries = [
            outline(*place, parse(row["area"], "area_ha"), Random(f"{row['id']}-{k}")) for k in range(TRIES)
        ]
        taken = [Polygon(ring) for ring in out.values()]
        out[row["id"]] = min(
            tries, key=lambda ring: sum(Polygon(ring).intersection(one).area for one in taken)
        )
    return out


def main() -> None:
    """Write ``boundaries.geojson`` into the folders named."""
    for name in sys.argv[1:]:
        folder = Path(name)
        rows = list(csv.DictReader((folder / "fields.csv").open(encoding="utf-8")))
        found = outlines(rows)
        lines = [
            json.dumps({"type": "Feature", "id": row["id"], "geometry": {"type": "Polygon", "coordinates": [found[row["id"]]]}, "properties": {"id": row["id"], "name": row["name"]}}, ensure_ascii=False)
            for row in rows
        ]  # fmt: skip
        (folder / "boundaries.geojson").write_text(
            '{"type": "FeatureCollection", "features": [\n' + ",\n".join(lines) + "\n]}\n", encoding="utf-8"
        )
        print(f"{folder}: {len(rows)} outlines")


if __name__ == "__main__":
    main()
