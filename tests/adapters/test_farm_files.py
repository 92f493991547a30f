"""A farm folder that cannot be read is told in one sentence; what can be read keeps its place in the file."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from adapters.storage.farm_files import RawFarm, read_farm_folder
from shared.errors import FarmFileError

TOML = 'name = "Small"\n'
CSV = "id,name,area,done,tiled\na,A,10 ac,terminate;band,yes\n"


def folder(path: Path, toml: bytes | str = TOML, table: bytes | str = CSV) -> Path:
    for name, content in (("farm.toml", toml), ("fields.csv", table)):
        (path / name).write_bytes(content.encode() if isinstance(content, str) else content)
    return path


def refusal(path: Path) -> str:
    with pytest.raises(FarmFileError) as caught:
        read_farm_folder(path)
    return " ".join(fault.sentence() for fault in caught.value.faults)


def test_lists_and_yes_are_read_and_placed(tmp_path: Path) -> None:
    raw = read_farm_folder(folder(tmp_path))
    assert raw.values["fields"] == [
        {"id": "a", "name": "A", "area": "10 ac", "done": ["terminate", "band"], "tiled": True}
    ]
    assert raw.where(("fields", 0, "area")) == ("fields.csv", "row 2, area")
    assert raw.where(("machine", 2, "width")) == ("farm.toml", "machine[2].width")


def test_missing_folder(tmp_path: Path) -> None:
    assert "does not exist" in refusal(tmp_path / "nowhere")


def test_both_files_missing_are_both_named(tmp_path: Path) -> None:
    text = refusal(tmp_path)
    assert "farm.toml" in text and "fields.csv" in text and "is missing" in text


def test_bad_toml(tmp_path: Path) -> None:
    text = refusal(folder(tmp_path, toml='name = "open\n'))
    assert "farm.toml" in text and "is not valid TOML" in text and "line 1" in text


def test_byte_order_mark_is_no_matter(tmp_path: Path) -> None:
    mark = b"\xef\xbb\xbf"
    raw = read_farm_folder(folder(tmp_path, mark + TOML.encode(), mark + CSV.encode()))
    assert raw.values["name"] == "Small" and raw.values["fields"][0]["id"] == "a"


def test_not_utf8(tmp_path: Path) -> None:
    text = refusal(folder(tmp_path, table=CSV.replace("A", "Ä").encode("latin-1")))
    assert "fields.csv" in text and "is not UTF-8 text" in text


def test_doubled_heading(tmp_path: Path) -> None:
    text = refusal(folder(tmp_path, table="id,area,area\na,1 ac,2 ac\n"))
    assert "fields.csv" in text and "'area'" in text and "twice" in text


def test_too_many_cells(tmp_path: Path) -> None:
    text = refusal(folder(tmp_path, table="id,area\na,1 ac\nb,2 ac,stray\n"))
    assert "row 3" in text and "'stray'" in text and "2 cells" in text


def test_empty_table(tmp_path: Path) -> None:
    assert "is empty" in refusal(folder(tmp_path, table=""))


def _shapes(path: Path, content: object) -> Path:
    (path / "farm.toml").write_text(TOML, encoding="utf-8")
    (path / "fields.geojson").write_text(json.dumps(content), encoding="utf-8")
    return path


def _feature(kind: str, coordinates: object) -> dict[str, object]:
    shape = {"type": kind, "coordinates": coordinates}
    return {"type": "Feature", "properties": {"id": "a", "area": "10 ac"}, "geometry": shape}


# RFC 7946: positions are longitude, latitude (3.1.1); a ring's last position equals its first (3.1.6).
RING = [[-93.0, 42.0], [-92.0, 42.0], [-92.0, 43.0], [-93.0, 43.0], [-93.0, 42.0]]


@pytest.mark.parametrize(
    ("kind", "coordinates"),
    [("Point", [-92.5, 42.5]), ("Polygon", [RING]), ("MultiPolygon", [[RING]])],
)
def test_geojson_shapes(tmp_path: Path, kind: str, coordinates: object) -> None:
    collection = {"type": "FeatureCollection", "features": [_feature(kind, coordinates)]}
    raw: RawFarm = read_farm_folder(_shapes(tmp_path, collection))
    row = raw.values["fields"][0]
    assert (row["latitude"], row["longitude"]) == pytest.approx((42.5, -92.5))
    assert raw.where(("fields", 0, "area"))[0] == "fields.geojson"


@pytest.mark.parametrize("content", [[], {"type": "FeatureCollection"}, {"features": 3}])
def test_not_a_feature_collection(tmp_path: Path, content: object) -> None:
    assert "FeatureCollection" in refusal(_shapes(tmp_path, content))


@pytest.mark.parametrize(
    "shape", [None, {"type": "Polygon", "coordinates": []}, {"type": "Point", "coordinates": ["x", "y"]}]
)
def test_no_usable_geometry(tmp_path: Path, shape: object) -> None:
    feature = {"type": "Feature", "properties": {"id": "a"}, "geometry": shape}
    text = refusal(_shapes(tmp_path, {"type": "FeatureCollection", "features": [feature]}))
    assert "feature 1" in text and "no usable geometry" in text


def test_a_polygon_gives_area_and_id(tmp_path: Path) -> None:
    feature = {
        "type": "Feature", "id": "north", "geometry": {"type": "Polygon", "coordinates": [RING]},
        "properties": {"done": "terminate;band", "note": "", "tiled": "yes"},
    }  # fmt: skip
    row = read_farm_folder(_shapes(tmp_path, {"features": [feature]})).values["fields"][0]
    assert row["id"] == "north" and row["done"] == ["terminate", "band"] and row["tiled"] is True
    assert row["area"].endswith(" ha") and "note" not in row


def test_a_written_area_goes_before_the_drawn_one(tmp_path: Path) -> None:
    content = {"features": [_feature("Polygon", [RING])]}
    assert read_farm_folder(_shapes(tmp_path, content)).values["fields"][0]["area"] == "10 ac"


@pytest.mark.parametrize(("mark", "word"), [(";", "semicolons"), ("\t", "tabs")])
def test_another_separator_is_named(tmp_path: Path, mark: str, word: str) -> None:
    text = refusal(folder(tmp_path, table=f"id{mark}area\na{mark}1 ac\n"))
    assert f"is separated by {word}" in text and "comma-separated" in text


def test_both_field_files_are_refused(tmp_path: Path) -> None:
    _shapes(tmp_path, {"features": []})
    (tmp_path / "fields.csv").write_text(CSV, encoding="utf-8")
    assert "stands beside fields.geojson" in refusal(tmp_path)
