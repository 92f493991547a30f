"""Fields out of GeoJSON (RFC 7946): a collection, one feature, or features one a line (RFC 8142 without its marks)."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from adapters.boundaries.found import BoundaryFaults, RawFeature, RawFile, Words
from adapters.boundaries.projection import ToDegrees, is_degrees, read_crs, said_of
from adapters.files.bounded import decode, fault_of, read_bytes
from shared.errors import Fault

ALLOWED = "GeoJSON as RFC 7946 has it: a FeatureCollection"
DEEPEST = 12
"""A MultiPolygon in a collection nests seven deep; what nests deeper is no GeoJSON."""


def read_geojson(path: Path, words: Words) -> RawFile:
    """Read a file.

    Raises
    ------
    FarmFileError
        It is no GeoJSON, or its numbers are no degrees and nobody said what they are.
    """
    text, letters = decode(read_bytes(path))
    notes = (
        []
        if letters.startswith("utf")
        else [f"{path.name} is not UTF-8; its letters were read as Western (code page 1252)."]
    )
    document = _document(text, path.name)
    features = _features(document, path.name)
    crs_name = words.crs or _named_crs(document)
    turn = None
    if crs_name:
        crs = read_crs(crs_name, path.name, "crs")
        if not is_degrees(crs):
            turn = ToDegrees(crs)
            notes.append(said_of(crs))
    elif any(_metres(one.get("geometry")) for one in features):
        raise BoundaryFaults([_no_degrees(path.name)], ["crs"])
    rows = []
    for number, feature in enumerate(features, 1):
        shape, values = feature.get("geometry"), feature.get("properties")
        given = dict(values) if isinstance(values, Mapping) else {}
        if feature.get("id") is not None:
            given.setdefault("id", feature["id"])
        try:
            shape = turn(shape) if turn is not None and shape else shape
        except (KeyError, TypeError, IndexError, ValueError):
            shape = {"type": "spoilt"}
        rows.append(RawFeature(f"feature {number}", shape, given))
    return RawFile(tuple(rows), tuple(notes))


def _document(text: str, file: str) -> Any:
    try:
        return json.loads(text)
    except RecursionError as error:
        raise fault_of(file, "nests deeper than any boundary", ALLOWED) from error
    except ValueError as error:
        lines = [line for line in text.splitlines() if line.strip("\x1e \t")]
        try:
            return {
                "type": "FeatureCollection",
                "features": [json.loads(line.strip("\x1e")) for line in lines],
            }
        except (ValueError, RecursionError):
            raise fault_of(file, f"is not JSON ({error})", ALLOWED) from error


def _features(document: Any, file: str) -> list[Mapping[str, Any]]:
    kind = document.get("type") if isinstance(document, Mapping) else None
    found = (
        document.get("features") if kind == "FeatureCollection" else [document] if kind == "Feature" else None
    )
    if not isinstance(found, list) or not all(isinstance(one, Mapping) for one in found):
        raise fault_of(file, "is JSON, but no GeoJSON of fields", ALLOWED)
    if not found:
        raise fault_of(file, "holds no field", "at least one feature")
    return found


def _named_crs(document: Any) -> str:
    """Return the projection that an old file names (GeoJSON of 2008); RFC 7946 knows degrees alone."""
    crs = document.get("crs") if isinstance(document, Mapping) else None
    named = (
        crs.get("properties", {}).get("name", "")
        if isinstance(crs, Mapping) and isinstance(crs.get("properties"), Mapping)
        else ""
    )
    return (
        str(named)
        .replace("urn:ogc:def:crs:OGC:1.3:CRS84", "EPSG:4326")
        .replace("urn:ogc:def:crs:OGC::CRS84", "EPSG:4326")
    )


def _first_number(value: Any, depth: int = 0) -> tuple[float, float] | None:
    if not isinstance(value, list) or not value or depth > DEEPEST:
        return None
    if isinstance(value[0], int | float) and len(value) > 1 and isinstance(value[1], int | float):
        return float(value[0]), float(value[1])
    return _first_number(value[0], depth + 1)


def _metres(geometry: Any) -> bool:
    first = _first_number(geometry.get("coordinates")) if isinstance(geometry, Mapping) else None
    return first is not None and max(abs(first[0]), abs(first[1])) > 360.0


def _no_degrees(file: str) -> Fault:
    return Fault(
        file, "coordinates", "", "are no degrees but metres of some projection (web Mercator?), and the file does not say which",
        "longitude and latitude in degrees, or the projection by --crs, such as --crs EPSG:3857 for web Mercator",
    )  # fmt: skip
