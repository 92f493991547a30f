"""What is wrong with a file of fields is said in one sentence each, with file, place, value and what is allowed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from adapters.boundaries import BoundaryFaults, Words, read_fields
from shared.errors import FarmFileError
from tests.adapters.boundaries.files import bow_tie, feature, geojson, shape_zip, square


def refused(path: Path, words: Words | None = None) -> FarmFileError:
    with pytest.raises(FarmFileError) as caught:
        read_fields(path, words)
    for fault in caught.value.faults:
        assert fault.sentence().count("\n") == 0 and fault.problem
    return caught.value


WIDE = [(-94.0, 41.0), (-93.0, 41.0), (-93.0, 42.0), (-94.0, 42.0), (-94.0, 41.0)]
SWAPPED = [(north, east) for east, north in square()]
METRES = [
    (-10420000.0, 5150000.0),
    (-10419000.0, 5150000.0),
    (-10419000.0, 5151000.0),
    (-10420000.0, 5150000.0),
]
CASES: list[tuple[str, list[dict[str, Any]], tuple[str, ...], str]] = [
    ("crosses itself", [feature(bow_tie(), name="Tie")], ("feature 1 (Tie)", "crosses", "--repair"), "repair"),
    ("axes swapped", [feature(SWAPPED, name="A")], ("wrong order", "--swap-axes"), "swap"),
    ("web Mercator numbers", [feature(METRES, name="A")], ("no degrees", "EPSG:3857"), "crs"),
    ("tiny", [feature(square(size=0.00002), name="A")], ("too small", "0.1 to 10,000 acres"), ""),
    ("huge", [feature(WIDE, name="A")], ("too large", "0.1 to 10,000 acres"), ""),
    ("same name twice", [feature(square(), name="A"), feature(square(-93.5), name="a")],
     ("feature 1, feature 2", "is the name of 2 fields", "every name once"), ""),
    ("same ground twice", [feature(square(), name="A"), feature(square(size=0.0049), name="B")], ("A and B", "share"), ""),
    ("a line", [feature(square(), "LineString", name="A")], ("LineString", "no area"), ""),
    ("only another crop", [feature(square(), name="A", crop="wheat")], ("holds no field to plan",), ""),
    ("spoilt texture", [feature(square(), name="A", soil="chalk")], ("feature 1, soil", "'chalk'", "USDA texture"), ""),
    ("area that is none", [feature(square(), name="A", acres="many")], ("acres", "'many'"), ""),
]  # fmt: skip


@pytest.mark.parametrize(
    ("features", "parts", "mend"), [case[1:] for case in CASES], ids=[case[0] for case in CASES]
)
def test_a_fault_is_named(
    tmp_path: Path, features: list[dict[str, Any]], parts: tuple[str, ...], mend: str
) -> None:
    error = refused(geojson(tmp_path / "mine.geojson", *features))
    text = str(error)
    assert all(part in text for part in ("mine.geojson", *parts)), text
    assert isinstance(error, BoundaryFaults) and error.mends == ({mend} if mend else set())


def test_all_faults_come_at_once(tmp_path: Path) -> None:
    bad = [
        feature(bow_tie(), name="Tie"),
        feature(square(size=1e-5), name="Dot"),
        feature(square(-93.2), "LineString", name="Line"),
    ]
    error = refused(geojson(tmp_path / "f.geojson", *bad))
    assert len(error.faults) == 3 and isinstance(error, BoundaryFaults) and not error.mends


@pytest.mark.parametrize(
    ("content", "part"),
    [
        ("not json at all", "is not JSON"), ("[]", "no GeoJSON"), ('{"type": "FeatureCollection", "features": []}', "holds no field"),
        ('{"type": "FeatureCollection", "features": [3]}', "no GeoJSON"), ("[" * 100_000, "nests deeper"), ("", "is empty"),
        ('{"type": "Topology"}', "no GeoJSON"),
        ('{"type": "FeatureCollection", "features": [{"type": "Feature", "geometry": {"type": "Polygon", "coordinates": null}}]}', "empty outline"),
    ],
)  # fmt: skip
def test_what_is_no_geojson(tmp_path: Path, content: str, part: str) -> None:
    path = tmp_path / "f.geojson"
    path.write_text(content, encoding="utf-8")
    assert part in str(refused(path))


def test_the_users_word_turns_axes_and_projection(tmp_path: Path) -> None:
    swapped = geojson(tmp_path / "s.geojson", feature(SWAPPED, name="A"))
    assert read_fields(swapped, Words(swap=True)).fields[0].latitude_deg == pytest.approx(41.9025, abs=1e-6)
    metres = geojson(tmp_path / "m.geojson", feature(METRES, name="A"))
    intake = read_fields(metres, Words(crs="EPSG:3857"))
    assert intake.fields[0].latitude_deg == pytest.approx(41.9, abs=0.3) and "too large" in " ".join(
        intake.notes
    )
    assert "no projection" in str(refused(metres, Words(crs="EPSG:9")))


def test_axes_that_only_the_farms_place_tells(tmp_path: Path) -> None:
    """Both numbers could be latitudes; near the farm only the exchanged ones lie."""
    path = geojson(tmp_path / "f.geojson", feature([(y, x) for x, y in square(11.5, 48.1)], name="A"))
    assert len(read_fields(path).fields) == 1
    error = refused(path, Words(near=(48.0, 11.4)))
    assert "exchanged" in str(error) and isinstance(error, BoundaryFaults) and error.mends == {"swap"}
    assert "km from the farm" in str(refused(path, Words(near=(-30.0, 100.0))))


def test_an_old_file_that_names_its_projection(tmp_path: Path) -> None:
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::3857"}}
    path = geojson(tmp_path / "f.geojson", feature(METRES, name="A"), crs=crs)
    assert "EPSG:3857" in " ".join(read_fields(path).notes)
    eighty_four = {"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}
    plain = geojson(tmp_path / "g.geojson", feature(square(), name="A"), crs=eighty_four)
    assert read_fields(plain).fields[0].longitude_deg == pytest.approx(-93.6075)


def test_a_shapefile_without_projection_is_never_guessed(tmp_path: Path) -> None:
    error = refused(shape_zip(tmp_path / "f.zip", [("A", square())], None))
    assert (
        "the .prj file is missing" in str(error)
        and isinstance(error, BoundaryFaults)
        and error.mends == {"crs"}
    )


def test_letters_of_a_table_that_says_none(tmp_path: Path) -> None:
    path = shape_zip(tmp_path / "f.zip", [("Übermüller Süd", square())], letters="cp1252", cpg=False)
    intake = read_fields(path)
    assert intake.fields[0].name == "Übermüller Süd" and intake.fields[0].id == "ubermuller-sud"
    assert any("code page 1252" in note for note in intake.notes)


def test_notes_tell_what_a_person_should_look_at(tmp_path: Path) -> None:
    features = [
        feature(square(), name="=A+1", acres=999, owner="x"), feature(square(-93.605), name="B", crop="maize"),
        feature(square(-93.2), crop="Soybeans"), feature(square(-80.0), name="Far"),
        {"type": "Feature", "geometry": None, "properties": None},
    ]  # fmt: skip
    intake = read_fields(geojson(tmp_path / "f.geojson", *features))
    said = " ".join(intake.notes)
    for part in (
        "the file says 999.0 ac",
        "owner",
        "has no name and is called 'Field 3'",
        "spread over",
        "no outline",
    ):
        assert part in said, part
    assert [one.values.get("crop") for one in intake.fields] == [None, "corn", "soybean", None]
    assert intake.fields[0].name == "A+1"


def test_odd_spaces_in_a_name_are_plain_ones(tmp_path: Path) -> None:
    found = read_fields(geojson(tmp_path / "f.geojson", feature(square(), name="North\u00a0 Bench\t")))
    assert (found.fields[0].name, found.fields[0].id) == ("North Bench", "north-bench")


def test_the_user_says_which_column_is_the_name(tmp_path: Path) -> None:
    path = geojson(tmp_path / "f.geojson", feature(square(), name="1", piece="Long Acre"))
    assert read_fields(path, Words(columns={"name": "piece"})).fields[0].name == "Long Acre"
    assert "is no column" in str(refused(path, Words(columns={"name": "Peice"})))
    said = str(refused(path, Words(columns={"area_ha": "piece"})))
    assert "'area_ha=piece' is about nothing of a field" in said and "area, latitude" in said


def test_what_every_row_lacks_is_said_once(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("name,latitude,longitude,grootte\nOne,42,-93,8\nTwo,42.1,-93,9\nThree,42.2,-93,\n")
    error = refused(path)
    assert str(error).startswith("list.csv: row 2 (One) and 2 more: has no area; allowed: a column area")
    assert len(error.faults) == 1


def test_a_list_with_semicolons_commas_and_other_letters(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_bytes(
        "Field;Hectares;Lat;Lon;Crop\nSüd;25,5;42.0;-93.0;corn\nNord;12;42.1;-93.1;beans\n".encode("cp1252")
    )
    intake = read_fields(path)
    assert [(one.name, one.area_ha) for one in intake.fields] == [("Süd", 25.5), ("Nord", 12.0)]
    assert intake.fields[1].values["crop"] == "soybean"


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("name,lat,lon\nA,42,-93\n", "has no area"), ("name,acres\nA,10\n", "has no place"), ("name,acres,lat,lon\nA,10,142,-93\n", "no place on the globe"),
        ("name,acres,lat,lon\nA,0.001,42,-93\n", "too small"), ("name,acres,lat,lon\nA,60000,42,-93\n", "too large"),
        ("name,name\nA,B\n", "stands there twice"), ("name,acres\n", "holds no field"), ('name,acres\n"A,10\n', "is not CSV"),
        ("name,acres\nA,10,11\n", "more cells than the headings"),
    ],
)  # fmt: skip
def test_what_is_no_list(tmp_path: Path, text: str, part: str) -> None:
    path = tmp_path / "list.csv"
    path.write_text(text, encoding="utf-8")
    assert part in str(refused(path))


def test_a_list_without_places_stands_at_the_farm(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("name,acres\nA,10\n", encoding="utf-8")
    intake = read_fields(path, Words(near=(42.0, -93.0)))
    assert (intake.fields[0].latitude_deg, intake.fields[0].longitude_deg) == (42.0, -93.0)
    assert "roads count nothing" in intake.notes[0]


def test_unknown_endings_and_missing_files(tmp_path: Path) -> None:
    assert "known format" in str(refused(tmp_path / "f.gpkg")) and "does not exist" in str(
        refused(tmp_path / "f.geojson")
    )
    (tmp_path / "d.json").mkdir()
    assert "is a folder" in str(refused(tmp_path / "d.json"))


def test_a_list_out_of_a_workbook(tmp_path: Path) -> None:
    from openpyxl import Workbook

    def saved(*rows: list[Any]) -> Path:
        book = Workbook()
        assert book.active is not None
        for row in (["Field", "Acres", "Lat", "Lon"], *rows):
            book.active.append(row)
        book.save(tmp_path / "list.xlsx")
        return tmp_path / "list.xlsx"

    found = read_fields(saved(["North", 40, 42.0, -93.0], [7, 12.5, 42.1, -93.0]))
    assert [(one.name, round(one.area_ha / 0.40468564224, 6)) for one in found.fields] == [
        ("North", 40),
        ("7", 12.5),
    ]
    text = str(refused(saved(["South", "=2*20", 42.1, -93.0])))
    assert "has no area" in text, "a formula that no program has worked out is no value"


def test_columns_whose_values_tell_what_they_are_are_guessed_and_said(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    rows = ["Piece,Hectares,Lat,Lon,CRP27,Ground,Under,Tax"]
    rows += [
        f"Piece {k},8,42.{k},-93,{crop},SiCL,rye,{k}"
        for k, crop in enumerate(("corn", "soybean", "corn", "corn"))
    ]
    path.write_text("\n".join(rows))
    found = read_fields(path)
    assert found.guesses == {"name": "Piece", "crop": "CRP27", "cover": "Under"}, (
        "a code of four letters may be anything"
    )
    said = list(found.notes)
    assert said[0] == "Columns that were not used: Piece, CRP27, Ground, Under, Tax."
    assert "CRP27 looks like the crop of a field: --column crop=CRP27 takes it." in said
    assert "4 fields have no name and are called 'Field 1' to 'Field 4'." in said
    assert not any("crop" in one.values for one in found.fields), "a guess is for a person to take"
    taken = read_fields(path, Words(columns=found.guesses))
    assert not taken.guesses and [one.name for one in taken.fields][:2] == ["Piece 0", "Piece 1"]
    assert [one.values["crop"] for one in taken.fields] == ["corn", "soybean", "corn", "corn"]


def test_a_column_of_mixed_values_is_no_guess(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("name,acres,lat,lon,plan\nA,20,42,-93,corn\nB,20,42.1,-93,wheat\n")
    assert not read_fields(path).guesses
