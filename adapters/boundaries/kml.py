"""Fields out of KML (OGC 07-147r2) or KMZ, as people draw them on a globe: placemarks with a surface, and what is written to them.

Positions are always degrees, longitude first. A place or a line is no field: it is left out and said; the only place in a
file may be the yard. Columns are a placemark's name, the name of the folder it lies in and its extended data; styles, views and
overlays are not read.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator
from pathlib import Path, PurePosixPath
from typing import Any

from adapters.boundaries.found import RawFeature, RawFile, Spot, Words
from adapters.files.archive import is_zip, read_archive
from adapters.files.bounded import fault_of, read_bytes
from adapters.files.guarded_xml import xml_root

ALLOWED = "KML, or KMZ with one in it, that holds surfaces (OGC 07-147r2)"
FIRST = "doc.kml"
"""The document of a KMZ that is shown first; others in it are read where it is missing."""
DEEPEST = 30
MOST_LATITUDE = 66.0
"""As far from the equator as a yard may be said to stand (`fitground init --latitude`)."""


def read_kml(path: Path, words: Words) -> RawFile:
    """Read a file.

    Raises
    ------
    FarmFileError
        It is no KML, has entities, or holds no surface.
    """
    rows: list[RawFeature] = []
    others: list[ET.Element] = []
    for number, (mark, folder) in enumerate(_placemarks(_root(path), "", 0), 1):
        surfaces = list(_surfaces(mark))
        if not surfaces:
            others.append(mark)
            continue
        values = _values(mark) | ({"folder": folder} if folder else {})
        whole = (
            {"type": "Polygon", "coordinates": surfaces[0]}
            if len(surfaces) == 1
            else {"type": "MultiPolygon", "coordinates": surfaces}
        )
        rows.append(RawFeature(f"placemark {number}", whole, values))
    if not rows:
        raise fault_of(path.name, "holds no surface", ALLOWED)
    spots = [spot for mark in others if (spot := _spot(mark)) is not None]
    spot = spots[0] if len(spots) == 1 else None
    left_out = len(others) - (spot is not None)
    many = (
        "1 placemark that is a place or line was"
        if left_out == 1
        else f"{left_out} placemarks that are places or lines were"
    )
    return RawFile(tuple(rows), (f"{path.name}: {many} left out.",) if left_out else (), spot=spot)


def _root(path: Path) -> ET.Element:
    content = read_bytes(path)
    if is_zip(content):
        inside = read_archive(path, lambda name: PurePosixPath(name).suffix.lower() == ".kml")
        if not inside:
            raise fault_of(path.name, "holds no KML", ALLOWED)
        content = next(
            (inside[name] for name in inside if name.lower() == FIRST), next(iter(inside.values()))
        )
    root = xml_root(content, path.name, ALLOWED)
    if _tag(root) not in ("kml", "Document", "Folder", "Placemark"):
        raise fault_of(path.name, f"begins with {_tag(root)[:40]!r}", ALLOWED, "first element")
    return root


def _placemarks(node: ET.Element, folder: str, depth: int) -> Iterator[tuple[ET.Element, str]]:
    """Yield every placemark with the name of its folder."""
    if _tag(node) == "Placemark":
        yield node, folder
        return
    named = _text(node, "name") if _tag(node) == "Folder" else folder
    for child in node if depth < DEEPEST else ():
        if _tag(child) in ("Document", "Folder", "Placemark"):
            yield from _placemarks(child, named, depth + 1)


def _surfaces(mark: ET.Element) -> Iterator[list[list[list[float]]]]:
    """Yield the polygons of a placemark as rings of positions, the outer one first."""
    for polygon in (node for node in mark.iter() if _tag(node) == "Polygon"):
        rings: dict[str, list[list[list[float]]]] = {"outerBoundaryIs": [], "innerBoundaryIs": []}
        for side in polygon:
            if _tag(side) in rings:
                rings[_tag(side)] += [
                    _positions(node.text or "") for node in side.iter() if _tag(node) == "coordinates"
                ]
        yield [*rings["outerBoundaryIs"], *rings["innerBoundaryIs"]]


def _spot(mark: ET.Element) -> Spot | None:
    """Return the place of a placemark that is one."""
    points = [node for node in mark.iter() if _tag(node) == "Point"]
    found = _positions(_text(points[0], "coordinates"))[:1] if len(points) == 1 else []
    on_globe = found and abs(found[0][1]) <= MOST_LATITUDE and abs(found[0][0]) <= 180.0
    return Spot(_text(mark, "name") or "the place", found[0][1], found[0][0]) if on_globe else None


def _positions(text: str) -> list[list[float]]:
    """Return positions; what is no number becomes NaN, which is judged with the outline."""
    out = []
    for part in text.split():
        numbers = part.split(",")
        try:
            out.append([float(numbers[0]), float(numbers[1])])
        except (ValueError, IndexError):
            out.append([float("nan"), float("nan")])
    if out and out[0] != out[-1]:
        out.append(out[0])
    return out


def _values(mark: ET.Element) -> dict[str, Any]:
    """Return the name and the extended data of a placemark, as written."""
    out: dict[str, Any] = {"name": _text(mark, "name")} if _text(mark, "name") else {}
    for node in mark.iter():
        key = node.get("name", "")
        if key and _tag(node) == "SimpleData":
            out.setdefault(key, (node.text or "").strip())
        elif key and _tag(node) == "Data":
            out.setdefault(key, _text(node, "value"))
    return out


def _text(node: ET.Element, name: str) -> str:
    child = next((one for one in node if _tag(one) == name), None)
    return "" if child is None or child.text is None else child.text.strip()


def _tag(node: ET.Element) -> str:
    """Return the local name of an element: files name several versions of the namespace, or none."""
    return str(node.tag).rpartition("}")[2]
