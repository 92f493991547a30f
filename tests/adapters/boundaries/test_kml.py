"""Fields drawn on a globe: KML and KMZ, sound and spoilt.

The surface with a hole is the sample that the schema of KML 2.2 (OGC 07-147r2) gives for `innerBoundaryIs`; its area is measured by
geographiclib.
"""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from adapters.boundaries import BoundaryFaults, read_fields
from adapters.boundaries.found import Spot
from shared.errors import FarmFileError
from tests.adapters.boundaries.files import bow_tie, square
from tests.adapters.boundaries.test_areas import outside_ha

HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n<kml xmlns="http://www.opengis.net/kml/2.2">'
OUTER = """-77.05788457660967,38.87253259892824,100 -77.05465973756702,38.87291016281703,100
-77.05315536854791,38.87053267794386,100 -77.05552622493516,38.868757801256,100
-77.05844056290393,38.86996206506943,100 -77.05788457660967,38.87253259892824,100"""
INNER = """-77.05668055019126,38.87154239798456,100 -77.05542625960818,38.87167890344077,100
-77.05485125901024,38.87076535397792,100 -77.05577677433152,38.87008686581446,100
-77.05691162017543,38.87054446963351,100 -77.05668055019126,38.87154239798456,100"""


def ring_of(text: str):
    return [tuple(float(x) for x in part.split(",")[:2]) for part in text.split()]


def polygon(outer: str, inner: str = "") -> str:
    def side(name: str, text: str) -> str:
        return f"<{name}><LinearRing><coordinates>\n{text}\n</coordinates></LinearRing></{name}>"

    return f"<Polygon><extrude>1</extrude>{side('outerBoundaryIs', outer)}{side('innerBoundaryIs', inner) if inner else ''}</Polygon>"


def text_of(ring) -> str:
    return " ".join(f"{east},{north},0" for east, north in ring)


def mark(name: str, body: str, more: str = "") -> str:
    return f"<Placemark><name>{name}</name><styleUrl>#s</styleUrl>{more}{body}</Placemark>"


def kml(path: Path, body: str, head: str = HEAD) -> Path:
    path.write_text(f"{head}<Document><name>ours</name>{body}</Document></kml>", encoding="utf-8")
    return path


def test_the_sample_of_the_standard_measures_as_geographiclib_says(tmp_path: Path) -> None:
    (field,) = read_fields(kml(tmp_path / "f.kml", mark("Five corners", polygon(OUTER, INNER)))).fields
    assert field.name == "Five corners"
    assert field.area_ha == pytest.approx(outside_ha(ring_of(OUTER)) - outside_ha(ring_of(INNER)), rel=1e-9)


def test_folders_extended_data_pieces_and_what_is_no_surface(tmp_path: Path) -> None:
    data = '<ExtendedData><Data name="Crop"><value>soybeans</value></Data><SchemaData><SimpleData name="soil">loam</SimpleData></SchemaData></ExtendedData>'
    two = (
        f"<MultiGeometry>{polygon(text_of(square()))}{polygon(text_of(square(west=-93.60)))}</MultiGeometry>"
    )
    place = "<Point><coordinates>-93.6,41.9,0</coordinates></Point>"
    line = "<LineString><coordinates>-93.6,41.9 -93.5,41.9</coordinates></LineString>"
    body = f"<Folder><name>North</name>{mark('Heron', two, data)}{mark('Yard', place)}{mark('Road', line)}</Folder>{mark('Ridge', polygon(text_of(square(south=41.95))))}"
    intake = read_fields(kml(tmp_path / "f.kml", body))
    heron, ridge = intake.fields
    assert (heron.name, heron.values["crop"], heron.values["texture"]) == ("Heron", "soybean", "loam")
    assert heron.area_ha == pytest.approx(2 * outside_ha(square()), rel=1e-6) and ridge.name == "Ridge"
    assert any("1 placemark that is a place or line was left out" in note for note in intake.notes)
    assert intake.spot == Spot("Yard", 41.9, -93.6)


def test_two_places_are_no_yard(tmp_path: Path) -> None:
    place = "<Point><coordinates>-93.6,41.9,0</coordinates></Point>"
    intake = read_fields(
        kml(tmp_path / "f.kml", mark("A", polygon(text_of(square()))) + 2 * mark("Y", place))
    )
    assert intake.spot is None and any("2 placemarks that are places" in note for note in intake.notes)


def test_a_kmz_another_namespace_and_an_open_ring_read_alike(tmp_path: Path) -> None:
    ring = square()
    old = kml(
        tmp_path / "old.kml",
        mark("A", polygon(text_of(ring[:-1]))),
        '<kml xmlns="http://earth.example/kml/2.1">',
    )
    packed = tmp_path / "f.kmz"
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("files/other.kml", "<kml/>")
        archive.writestr("doc.kml", old.read_text(encoding="utf-8"))
    for path in (old, packed):
        assert read_fields(path).fields[0].area_ha == pytest.approx(outside_ha(ring), rel=1e-6)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("<kml><Document>", "no sound XML"),
        ("<gpx/>", "begins with 'gpx'"),
        (f"{HEAD}<Document/></kml>", "holds no surface"),
        ('<!DOCTYPE x [<!ENTITY a "b">]><kml>&a;</kml>', "defines entities"),
        (f"{HEAD}{mark('A', polygon('1,2 x,3 4,5'))}</kml>", "no number"),
        (f"{HEAD}{mark('A', polygon('-93.6,41.9 -93.5,41.9'))}</kml>", "outline"),
    ],
)
def test_what_is_none_is_refused_in_one_sentence(tmp_path: Path, text: str, why: str) -> None:
    path = tmp_path / "f.kml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FarmFileError, match=why) as refused:
        read_fields(path)
    assert "\n" not in str(refused.value)


def test_a_kmz_without_a_document_is_refused_and_a_crossed_outline_can_be_mended(tmp_path: Path) -> None:
    empty = tmp_path / "f.kmz"
    with zipfile.ZipFile(empty, "w") as archive:
        archive.writestr("picture.png", "x")
    with pytest.raises(FarmFileError, match="holds no KML"):
        read_fields(empty)
    with pytest.raises(BoundaryFaults) as crossed:
        read_fields(kml(tmp_path / "x.kml", mark("A", polygon(text_of(bow_tie())))))
    assert crossed.value.mends == {"repair"}
