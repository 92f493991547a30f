"""A farm through a workbook: nothing moves unasked, comments stand, changes land in the right file, faults name the cell."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook

from adapters.storage.farm_files import read_farm_folder
from scheduler.cli.main import main
from scheduler.farm.build import build_farm
from scheduler.farm.cell_texts import (
    delivery_text,
    licence_text,
    read_deliveries,
    read_licences,
    read_shifts,
    shift_text,
)
from scheduler.farm.farm import Farm
from scheduler.farm.starter import starter_farm

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name, text in starter_farm("Sheets").items():
        (tmp_path / "farm" / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / "farm" / name).write_text(text, encoding="utf-8")
    return tmp_path / "farm"


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(one) for one in arguments])


def farm_of(folder: Path) -> Farm:
    return build_farm(read_farm_folder(folder))[0]


class Book:
    """A workbook of a farm, changed cell by cell."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.path = folder, folder.parent / "farm.xlsx"
        assert run("sheet-out", folder, self.path).exit_code == 0
        self.book = load_workbook(self.path)

    def cell(self, title: str, row_id: str, key: str) -> Any:
        sheet = self.book[title]
        column = next(cell.column for cell in sheet[1] if str(cell.value).split(" [")[0] == key)
        row = next(r for r in range(2, sheet.max_row + 2) if sheet.cell(r, 1).value in (row_id, None))
        return sheet.cell(row, column)

    def put(self, title: str, row_id: str, key: str, value: Any) -> str:
        cell = self.cell(title, row_id, key)
        cell.value = value
        return f"{title}!{cell.coordinate}"

    def send(self, *options: str) -> Result:
        self.book.save(self.path)
        return run("sheet-in", self.folder, self.path, *options)


@pytest.mark.parametrize("name", ["wet-week", "closing-window", "short-handed"])
def test_a_workbook_that_nobody_touched_changes_nothing(tmp_path: Path, name: str) -> None:
    folder = tmp_path / name
    shutil.copytree(ROOT / "scenarios" / name, folder, ignore=shutil.ignore_patterns("*.sqlite*"))
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    result = Book(folder).send()
    assert result.exit_code == 0 and "Nothing reads otherwise" in result.output
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


def test_a_change_lands_where_the_thing_is_described_and_comments_stand(folder: Path) -> None:
    comments = [line for line in (folder / "farm.toml").read_text().splitlines() if "#" in line]
    book = Book(folder)
    book.put("Fields", "home-piece", "area", 90)
    book.put("Machines", "sprayer", "speed", 10)
    book.put("Operators", "second", "shift", "mon-fri 06:00-20:00; sat 07:00-12:00")
    book.put("Products", "nitrogen-32", "delivery", "n-2: 2027-05-21 6000 gal")
    dry = book.send("--dry-run")
    assert "speed 9 mph -> 10 mph" in dry.output and farm_of(folder).field_by_id["home-piece"].area_ha < 36
    result = book.send()
    assert result.exit_code == 0 and "field home-piece: area 88 ac -> 90 ac" in result.output
    farm = farm_of(folder)
    assert farm.field_by_id["home-piece"].area_ha * 2.471054 == pytest.approx(90, abs=0.01)
    assert farm.machine_by_id["sprayer"].speed_km_h == pytest.approx(10 * 1.609344)
    assert [(s.days[0], s.days[-1], str(s.end)) for s in farm.operator_by_id["second"].shifts] == [
        ("mon", "fri", "20:00:00"),
        ("sat", "sat", "12:00:00"),
    ]
    assert str(farm.product_by_id["nitrogen-32"].deliveries[0].date) == "2027-05-21"
    after = (folder / "farm.toml").read_text()
    assert all(line.split("#", 1)[1] in after for line in comments)
    kept = sorted(path.name for path in (folder / "before").rglob("*.*"))
    assert kept == ["farm.toml", "fields.csv"]


def test_rows_come_and_go(folder: Path) -> None:
    book = Book(folder)
    sheet = book.book["Operators"]
    for key, value in {
        "id": "third",
        "name": "Third",
        "skills": "scout; tender",
        "shift": "mon-fri 07:00-17:00",
        "licences": "applicator until 2028-01-31 no. B-2",
    }.items():
        book.put("Operators", "third", key, value)
    assert sheet.max_row == 4
    fields = book.book["Fields"]
    fields.delete_rows(next(r for r in range(2, 9) if fields.cell(r, 1).value == "low-corner"))
    result = book.send()
    assert result.exit_code == 0, result.output
    assert "operator third: new" in result.output and "field low-corner: taken out" in result.output
    farm = farm_of(folder)
    assert [one.id for one in farm.operators] == [
        "first",
        "second",
        "third",
    ] and "low-corner" not in farm.field_by_id
    assert farm.operator_by_id["third"].licences[0].number == "B-2"


CASES = [
    ("Fields", "home-piece", "area", -4, "is too small"), ("Fields", "home-piece", "area", "many", "is not an area"),
    ("Fields", "long-strip", "texture", "chalk", "texture"), ("Fields", "long-strip", "programme", "corm", "did you mean 'corn'"),
    ("Machines", "sprayer", "width", "60 mph", "is not a length"), ("Machines", "planter", "pulled_by", "tracter", "did you mean 'tractor'"),
    ("Operators", "first", "shift", "mondays", "is no shift"), ("Operators", "first", "most_hours", "9 h", "most_hours"),
    ("Products", "nitrogen-32", "delivery", "soon", "is no delivery"), ("Products", "burndown", "stock", "90 lb", "stock"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("title", "row", "key", "value", "part"), CASES, ids=[f"{c[0]} {c[2]} {c[3]}" for c in CASES]
)
def test_a_fault_names_its_cell_and_nothing_changes(
    folder: Path, title: str, row: str, key: str, value: Any, part: str
) -> None:
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    book = Book(folder)
    where = book.put(title, row, key, value)
    result = book.send()
    assert result.exit_code == 2 and "farm.xlsx" in result.output and part in result.output, result.output
    assert where in result.output or (key in ("most_hours",) and f"{title}!" in result.output), result.output
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


def test_lists_in_csv_files_are_changed_there(folder: Path) -> None:
    text = (folder / "farm.toml").read_text()
    start, end = text.index('[[machine]]\nid = "tractor"'), text.index("# ---- people")
    rows = [
        "id,kind,yard,road_speed,width,speed,tank,operations,pulled_by,tender,capacity_seeds,guidance,rows,row_spacing,clearance"
    ]
    rows += [
        "tractor,tractor,home,20 mph,,,,,,,,centimetre,,,",
        "sprayer,self-propelled,home,22 mph,60 ft,9 mph,600 gal,terminate;spray,,,,,,,42 in",
    ]
    rows += [
        "planter,implement,home,16 mph,20 ft,5 mph,,plant,tractor,,1600000,,8,30 in,",
        "nitrogen-bar,implement,home,16 mph,20 ft,6 mph,1000 gal,band-nitrogen;side-dress;interseed,tractor,truck,,,8,30 in,24 in",
    ]
    rows += ["truck,tender,home,40 mph,,,,,,,,,,,"]
    (folder / "farm.toml").write_text(text[:start] + text[end:])
    (folder / "machines.csv").write_text("\n".join(rows) + "\n")
    book = Book(folder)
    book.put("Machines", "planter", "speed", 6)
    assert book.send().exit_code == 0
    assert (
        "6 mph" in (folder / "machines.csv").read_text()
        and "[[machine]]" not in (folder / "farm.toml").read_text()
    )
    assert farm_of(folder).machine_by_id["planter"].capacity_seeds == 1_600_000


def test_a_farm_with_drawn_fields(folder: Path) -> None:
    import json

    from tests.adapters.boundaries.files import square

    shapes = [{"type": "Feature", "id": name, "geometry": {"type": "Polygon", "coordinates": [square(-92.98 + k * 0.02, 42.0)]}, "properties": {"name": name.title(), "crop": "corn", "programme": "corn"}} for k, name in enumerate(("one", "two"))]  # fmt: skip
    (folder / "fields.csv").unlink()
    (folder / "fields.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": shapes}))
    book = Book(folder)
    book.put("Fields", "one", "texture", "loam")
    assert book.send().exit_code == 0
    after = json.loads((folder / "fields.geojson").read_text())["features"]
    assert after[0]["properties"]["texture"] == "loam" and "area" not in after[0]["properties"]
    assert after[0]["geometry"] == json.loads(json.dumps(shapes[0]["geometry"])) and after[1] == json.loads(
        json.dumps(shapes[1])
    )


DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
clock = st.builds(lambda h, m: f"{h:02d}:{m:02d}", st.integers(0, 23), st.integers(0, 59))
shifts = st.lists(st.fixed_dictionaries({"days": st.lists(st.sampled_from(DAYS) | st.dates().map(str), min_size=1, max_size=7, unique=True), "start": clock, "end": clock}), min_size=1, max_size=3)  # fmt: skip
word = st.text(st.characters(codec="ascii", categories=["Ll", "Nd"]), min_size=1, max_size=9)
licences = st.lists(
    st.fixed_dictionaries({"name": word}, optional={"expires": st.dates().map(str), "number": word}),
    min_size=1,
    max_size=3,
)
deliveries = st.lists(st.fixed_dictionaries({"date": st.dates().map(str), "amount": st.integers(1, 9999).map(lambda n: f"{n} gal")}, optional={"id": word}), min_size=1, max_size=3)  # fmt: skip


@settings(max_examples=150)
@given(shifts, licences, deliveries)
def test_what_stands_in_one_cell_is_the_inverse_of_its_tables(
    a: list[Any], b: list[Any], c: list[Any]
) -> None:
    assert read_shifts(shift_text(a)) == a
    assert read_licences(licence_text(b)) == b
    assert read_deliveries(delivery_text(c)) == c
