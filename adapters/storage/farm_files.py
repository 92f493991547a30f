"""A farm folder as a plain mapping: TOML and tables read, every value traceable to its file and key.

The folder holds ``farm.toml`` and ``fields.csv`` (outlines beside it in ``boundaries.geojson``) or ``fields.geojson`` alone;
machines, operators and products may stand in the TOML file or in ``machines.csv``, ``operators.csv``, ``products.csv``, roads in ``roads.csv``. Lists in
table cells are separated by ``;``. An outline gives a field its area and place where none is written. Nothing else is interpreted
here: the core builds and checks the farm.
"""

from __future__ import annotations

import csv
import json
import tomllib
from dataclasses import dataclass, field
from io import StringIO
from pathlib import Path
from typing import Any

from adapters.storage.shapes import NoShape, area_ha, place_of
from shared.errors import FarmFileError, Fault
from shared.vocabulary import LIST_KEYS

TABLES = {
    "machines.csv": "machine",
    "operators.csv": "operator",
    "products.csv": "product",
    "roads.csv": "road",
}
BOOLEANS = {"tiled", "tracks", "driver_for_tender", "lights", "restricted_use"}
OUTLINES = "boundaries.geojson"
MOST_BYTES = 20_000_000


@dataclass(frozen=True)
class RawFarm:
    """The farm as written.

    Attributes
    ----------
    values : dict
        Mapping in the shape of `scheduler.farm.farm.Farm` by file keys (lists of tables under ``field``,
        ``machine``, ``operator``, ...).
    origin : dict
        List name -> (file, label of each row); lists that are not here come from ``farm.toml``.
    """

    values: dict[str, Any]
    origin: dict[str, tuple[str, tuple[str, ...]]] = field(default_factory=dict)

    def where(self, location: tuple[Any, ...]) -> tuple[str, str]:
        """Return file and key path of a location such as ``("fields", 3, "area")``."""
        name = str(location[0]) if location else ""
        if name in self.origin and len(location) > 1 and isinstance(location[1], int):
            file, rows = self.origin[name]
            row = rows[location[1]] if location[1] < len(rows) else f"row {location[1] + 2}"
            rest = ".".join(str(part) for part in location[2:])
            return file, f"{row}, {rest}" if rest else row
        path = ""
        for part in location:
            path += f"[{part}]" if isinstance(part, int) else f".{part}" if path else str(part)
        return "farm.toml", path or "the file"


def read_farm_folder(folder: Path) -> RawFarm:
    """Read the files of a farm folder.

    Raises
    ------
    FarmFileError
        A file is missing or cannot be read as what it should be.
    """
    if not folder.is_dir():
        raise FarmFileError(
            [
                Fault(
                    str(folder),
                    "folder",
                    "",
                    "does not exist",
                    "a folder with farm.toml (fitground init makes one)",
                )
            ]
        )
    faults: list[Fault] = []
    values = _toml(folder / "farm.toml", faults)
    origin: dict[str, tuple[str, tuple[str, ...]]] = {}
    for file, key in TABLES.items():
        if (folder / file).exists():
            rows, labels = _table(folder / file, faults)
            if key in values:
                faults.append(
                    Fault(file, key, "", f"is described here and as [[{key}]] in farm.toml", "one place")
                )
            values[key], origin[key] = rows, (file, labels)
    fields, file, labels = _fields(folder, faults)
    if "field" in values:
        faults.append(
            Fault("farm.toml", "field", "", "is described here and in a fields file", "fields.csv alone")
        )
        values.pop("field")
    values["fields"], origin["fields"] = fields, (file, labels)
    if faults:
        raise FarmFileError(faults)
    return RawFarm(values, origin)


def _text(path: Path, faults: list[Fault]) -> str | None:
    try:
        if path.stat().st_size > MOST_BYTES:
            faults.append(Fault(path.name, "the file", "", "is larger than 20 MB", "a smaller file"))
            return None
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        faults.append(
            Fault(path.name, "the file", "", f"is missing in {path.parent.name}", f"a file {path.name}")
        )
    except UnicodeDecodeError as error:
        faults.append(Fault(path.name, f"byte {error.start}", "", "is not UTF-8 text", "text saved as UTF-8"))
    except OSError as error:
        faults.append(
            Fault(path.name, "the file", "", f"cannot be read ({error.strerror})", "a readable file")
        )
    return None


def _toml(path: Path, faults: list[Fault]) -> dict[str, Any]:
    text = _text(path, faults)
    if text is None:
        return {}
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        faults.append(Fault(path.name, "the file", "", f"is not valid TOML: {error}", "TOML 1.0"))
        return {}


def _table(path: Path, faults: list[Fault]) -> tuple[list[dict[str, Any]], tuple[str, ...]]:
    text = _text(path, faults)
    if text is None:
        return [], ()
    reader = csv.reader(StringIO(text, newline=""), strict=True)
    try:
        lines = [(reader.line_num, row) for row in reader if any(cell.strip() for cell in row)]
    except csv.Error as error:
        faults.append(
            Fault(path.name, f"line {reader.line_num}", "", f"is not CSV ({error})", "comma-separated values")
        )
        return [], ()
    if not lines:
        faults.append(Fault(path.name, "the file", "", "is empty", "a heading line and a line for each"))
        return [], ()
    head = [cell.strip() for cell in lines[0][1]]
    if len(head) == 1 and (";" in head[0] or "\t" in head[0]):
        mark = "semicolons" if ";" in head[0] else "tabs"
        faults.append(Fault(path.name, "heading", "", f"is separated by {mark}", "comma-separated values"))
        return [], ()
    doubled = sorted({name for name in head if head.count(name) > 1})
    if doubled:
        faults.append(
            Fault(path.name, "heading", ", ".join(doubled), "stands there twice", "each heading once")
        )
    rows, labels = [], []
    for line, cells in lines[1:]:
        if len(cells) > len(head):
            faults.append(
                Fault(
                    path.name,
                    f"row {line}",
                    cells[len(head)],
                    "has more cells than the heading",
                    f"{len(head)} cells",
                )
            )
        rows.append(
            {name: _cell(name, cell) for name, cell in zip(head, cells, strict=False) if cell.strip()}
        )
        labels.append(f"row {line}")
    return rows, tuple(labels)


def _cell(name: str, cell: str) -> Any:
    text = cell.strip()
    if name in LIST_KEYS:
        return [part.strip() for part in text.split(";") if part.strip()]
    if name in BOOLEANS and text.lower() in ("yes", "true", "no", "false"):
        return text.lower() in ("yes", "true")
    return text


def _fields(folder: Path, faults: list[Fault]) -> tuple[list[dict[str, Any]], str, tuple[str, ...]]:
    table, shapes = folder / "fields.csv", folder / "fields.geojson"
    if table.exists() and shapes.exists():
        faults.append(
            Fault(
                "fields.csv", "the file", "", "stands beside fields.geojson",
                "one of the two; outlines beside fields.csv are called boundaries.geojson",
            )
        )  # fmt: skip
    if shapes.exists() and not table.exists():
        rows, labels = _geojson(shapes, faults)
        return rows, shapes.name, labels
    rows, labels = _table(table, faults)
    if (folder / OUTLINES).exists():
        rows = _with_outlines(rows, folder / OUTLINES, faults)
    return rows, table.name, labels


def _with_outlines(rows: list[dict[str, Any]], path: Path, faults: list[Fault]) -> list[dict[str, Any]]:
    """Fill in area and place of the fields that do not say them."""
    if all(row.keys() >= {"area", "latitude", "longitude"} for row in rows):
        return rows
    shapes, _ = _geojson(path, faults)
    of = {row["id"]: row for row in shapes if "id" in row}
    wanted = ("area", "latitude", "longitude")
    return [
        {key: of.get(row.get("id"), {}).get(key) for key in wanted if key in of.get(row.get("id"), {})} | row
        for row in rows
    ]


def _geojson(path: Path, faults: list[Fault]) -> tuple[list[dict[str, Any]], tuple[str, ...]]:
    text = _text(path, faults)
    if text is None:
        return [], ()
    try:
        features = json.loads(text)["features"]
        assert isinstance(features, list)
    except (ValueError, KeyError, TypeError, AssertionError):
        faults.append(
            Fault(path.name, "the file", "", "is not a GeoJSON FeatureCollection", "RFC 7946 GeoJSON")
        )
        return [], ()
    rows, labels = [], []
    for number, feature in enumerate(features, 1):
        label = f"feature {number}"
        try:
            rows.append(_feature(feature))
            labels.append(label)
        except (NoShape, KeyError, TypeError, AttributeError) as error:
            why = f" ({error})" if isinstance(error, NoShape) else ""
            faults.append(
                Fault(
                    path.name, label, "", f"has no usable geometry{why}", "a Point, Polygon or MultiPolygon"
                )
            )
    return rows, tuple(labels)


def _feature(feature: Any) -> dict[str, Any]:
    """Return a field as a row; its id and area come from the feature where the properties do not say them."""
    geometry = feature["geometry"]
    longitude, latitude = place_of(geometry)
    row: dict[str, Any] = {"latitude": latitude, "longitude": longitude}
    if feature.get("id") is not None:
        row["id"] = str(feature["id"])
    given = dict(feature.get("properties") or {})
    area = None if given.get("area") else area_ha(geometry)
    if area is not None:
        row["area"] = f"{area:.4f} ha"
    return row | {
        name: _cell(name, value) if isinstance(value, str) else value
        for name, value in given.items()
        if value is not None and value != ""
    }
