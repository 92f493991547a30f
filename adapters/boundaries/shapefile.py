"""Fields out of a zipped shapefile (or a ``.shp`` with its neighbours): shapes, table, projection and letters."""

from __future__ import annotations

import struct
from datetime import date
from io import BytesIO
from pathlib import Path, PurePosixPath
from typing import Any

import shapefile
from pyproj import CRS

from adapters.boundaries.found import BoundaryFaults, RawFeature, RawFile, Words
from adapters.boundaries.projection import CRS_ALLOWED, ToDegrees, is_degrees, read_crs, said_of
from adapters.files.archive import read_archive
from adapters.files.bounded import decode, fault_of, read_bytes
from shared.errors import Fault

ENDINGS = (".shp", ".shx", ".dbf", ".prj", ".cpg")
SHAPES = "a zip archive with one .shp and its .shx, .dbf and .prj"
BROKEN = (
    shapefile.ShapefileException,
    struct.error,
    ValueError,
    IndexError,
    KeyError,
    EOFError,
    OverflowError,
    MemoryError,
)


def read_shapefile(path: Path, words: Words) -> RawFile:
    """Read a shapefile.

    Raises
    ------
    FarmFileError
        It is damaged, lacks a part, holds more than one layer, or its projection is not known.
    """
    parts = _parts(path)
    crs = _crs(parts, path.name, words)
    rows, letters = _rows(parts, path.name)
    notes = [said_of(crs)] if not is_degrees(crs) else []
    if letters == "cp1252":
        notes.append(f"{path.name} does not say its letters; they were read as Western (code page 1252).")
    turn = None if is_degrees(crs) else ToDegrees(crs)
    found = []
    for number, (shape, values) in enumerate(rows, 1):
        found.append(RawFeature(f"shape {number}", turn(shape) if turn and shape else shape, values))
    return RawFile(tuple(found), tuple(notes))


def _parts(path: Path) -> dict[str, bytes]:
    """Return the parts by ending; one layer only."""
    if path.suffix.lower() == ".shp":
        near = {end: path.with_suffix(end) for end in ENDINGS}
        return {end: read_bytes(file) for end, file in near.items() if end == ".shp" or file.exists()}
    members = read_archive(path, lambda name: PurePosixPath(name).suffix.lower() in ENDINGS)
    layers = [name for name in members if name.lower().endswith(".shp")]
    if not layers:
        raise fault_of(path.name, "holds no shapefile", SHAPES)
    if len(layers) > 1:
        raise fault_of(
            path.name, f"holds {len(layers)} shapefiles", SHAPES, "members", ", ".join(sorted(layers))[:80]
        )
    stem = layers[0][:-4].lower()
    return {
        PurePosixPath(name).suffix.lower(): content
        for name, content in members.items()
        if name[:-4].lower() == stem
    }


def _crs(parts: dict[str, bytes], file: str, words: Words) -> CRS:
    if words.crs:
        return read_crs(words.crs, file, "--crs")
    if ".prj" not in parts:
        fault = Fault(file, "projection", "", "is not said: the .prj file is missing", CRS_ALLOWED)
        raise BoundaryFaults([fault], ["crs"])
    return read_crs(decode(parts[".prj"])[0].strip(), file, "the .prj file")


def _letters(parts: dict[str, bytes]) -> str:
    """Return the letters of the table: as its .cpg says, else UTF-8 where everything fits, else code page 1252."""
    said = decode(parts.get(".cpg", b""))[0].strip().lower().replace("ansi ", "cp")
    said = f"cp{said}" if said.isdigit() and said != "65001" else "utf-8" if said == "65001" else said
    try:
        if said:
            b"".decode(said)
            parts.get(".dbf", b"").decode(said)
            return said
    except (LookupError, UnicodeDecodeError):
        pass
    try:
        parts.get(".dbf", b"")[32:].decode("utf-8")
        return "utf-8"
    except UnicodeDecodeError:
        return "cp1252"


def _rows(parts: dict[str, bytes], file: str) -> tuple[list[tuple[Any, dict[str, Any]]], str]:
    letters = _letters(parts)
    streams = {end[1:]: BytesIO(parts[end]) for end in (".shp", ".shx", ".dbf") if end in parts}
    try:
        with shapefile.Reader(**streams, encoding=letters, encodingErrors="replace") as reader:
            names = [one[0] for one in reader.fields if one[0] != "DeletionFlag"]
            tables = (
                [list(row) for row in reader.iterRecords()]
                if ".dbf" in parts
                else [[] for _ in range(len(reader))]
            )
            shapes = [_shape(one) for one in reader.iterShapes()]
    except BROKEN as error:
        raise fault_of(file, "holds a damaged shapefile", SHAPES) from error
    if len(shapes) != len(tables):
        raise fault_of(file, f"holds {len(shapes)} shapes but {len(tables)} rows", SHAPES)
    if not shapes:
        raise fault_of(file, "holds no field", "at least one shape")
    return [
        (shape, {name: _plain(value) for name, value in zip(names, row, strict=False)})
        for shape, row in zip(shapes, tables, strict=True)
    ], letters


def _shape(one: Any) -> dict[str, Any] | None:
    """Return a shape as a GeoJSON geometry; None for an empty one."""
    try:
        found = one.__geo_interface__
    except BROKEN:
        return {"type": "spoilt"}
    return None if found.get("type") in (None, "Null") or not found.get("coordinates") else _lists(found)


def _lists(shape: Any) -> dict[str, Any]:
    def turned(value: Any) -> Any:
        return [turned(part) for part in value] if isinstance(value, list | tuple) else value

    return {"type": shape["type"], "coordinates": turned(shape["coordinates"])}


def _plain(value: Any) -> Any:
    if isinstance(value, bytes):
        return value.decode("cp1252", errors="replace").strip()
    if isinstance(value, date):
        return value.isoformat()
    return value.strip("\0 ") if isinstance(value, str) else value
