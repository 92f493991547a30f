"""The workbook: what goes out comes back letter by letter, another program reads it, and what is no workbook is one sentence."""

from __future__ import annotations

import zipfile
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook

from adapters.sheets import SheetPlan, cell_of, read_workbook, split_unit, text_of, unit_of, workbook_bytes
from shared.errors import FarmFileError

KEYS = ("id", "name", "area", "rows", "note")
plain = st.text(st.characters(codec="utf-8", categories=["L", "N", "P", "S", "Zs"]), min_size=1, max_size=30).map(str.strip).filter(
    lambda text: bool(text) and not text.startswith(("=", "+", "@"))
)  # fmt: skip
quantities = st.builds(
    lambda n, u: f"{n} {u}",
    st.one_of(st.integers(-9999, 10**7).map(str), st.decimals(0, 9999, places=2).map(str)),
    st.sampled_from(["ac", "ha", "$/ac", "%"]),
)
rows = st.fixed_dictionaries(
    {"id": plain}, optional={"name": plain, "area": quantities, "rows": st.integers(1, 99), "note": plain}
)


def back(tmp_path: Path, *found: dict[str, Any]) -> list[dict[str, Any]]:
    path = tmp_path / "w.xlsx"
    path.write_bytes(workbook_bytes([SheetPlan("Fields", KEYS, found)], ["about"]))
    return list(read_workbook(path, {"Fields": KEYS}, {"rows"})["Fields"].rows)


@settings(max_examples=80, deadline=None)
@given(found=st.lists(rows, min_size=1, max_size=6))
def test_what_goes_out_comes_back(
    tmp_path_factory: pytest.TempPathFactory, found: list[dict[str, Any]]
) -> None:
    assert back(tmp_path_factory.mktemp("w"), *found) == [
        {key: value for key, value in row.items()} for row in found
    ]


@given(quantities)
def test_a_number_leaves_its_text_only_if_it_comes_back(text: str) -> None:
    found = split_unit(text)
    unit = unit_of([text])
    assert text_of(cell_of(text, unit), unit, False) == text
    assert found is None or isinstance(cell_of(text, unit), int | float)


@pytest.mark.parametrize(
    "text", ["62.50 ac", "1e3 ac", "11,000 gal", "62ac", "07 ac", "62", "123456789012345678 ac", "- 5 ac"]
)
def test_texts_that_stay_text(text: str) -> None:
    assert split_unit(text) is None


def test_units_stand_in_the_heading_only_where_all_agree(tmp_path: Path) -> None:
    both = workbook_bytes(
        [SheetPlan("Fields", KEYS, [{"id": "a", "area": "62 ac"}, {"id": "b", "area": "25 ha"}])], []
    )
    one = workbook_bytes(
        [SheetPlan("Fields", KEYS, [{"id": "a", "area": "62 ac"}, {"id": "b", "area": "25 ac"}])], []
    )
    heads = [
        [cell.value for cell in load_workbook(BytesIO(content))["Fields"][1]][2] for content in (both, one)
    ]
    assert heads == ["area", "area [ac]"]
    assert load_workbook(BytesIO(one))["Fields"]["C2"].value == 62
    assert back(tmp_path, {"id": "a", "area": "62 ac"}, {"id": "b", "area": "25 ha"})[1]["area"] == "25 ha"


def test_drop_downs_notes_and_the_first_row(tmp_path: Path) -> None:
    plan = SheetPlan(
        "Fields", KEYS, [{"id": "a"}], {"area": "An area."}, {"note": [f"word {k}" for k in range(80)]}
    )
    sheet = load_workbook(BytesIO(workbook_bytes([plan], ["about"])))["Fields"]
    assert sheet.freeze_panes == "B2" and sheet["C1"].comment.text == "An area."
    rule = sheet.data_validations.dataValidation[0]
    assert rule.formula1 == "Lists!$A$1:$A$80" and "E2:E201" in str(rule.sqref)


def test_another_program_reads_it() -> None:
    """python-calamine is a reader of its own, written in another language than the writer."""
    calamine = pytest.importorskip("python_calamine", reason="python-calamine is not installed")
    content = workbook_bytes(
        [
            SheetPlan(
                "Fields", KEYS, [{"id": "a", "area": "62 ac", "note": "=1+1"}, {"id": "ü", "area": "3 ac"}]
            )
        ],
        ["about"],
    )
    book = calamine.CalamineWorkbook.from_filelike(BytesIO(content))
    assert book.sheet_names == ["Read me", "Fields", "Lists"]
    assert book.get_sheet_by_name("Fields").to_python()[1:] == [
        ["a", "", 62.0, "", "=1+1"],
        ["ü", "", 3.0, "", ""],
    ]


def test_text_that_looks_like_a_formula_goes_out_as_text() -> None:
    content = workbook_bytes([SheetPlan("Fields", KEYS, [{"id": "a", "note": "=HYPERLINK(1)"}])], [])
    cell = load_workbook(BytesIO(content))["Fields"]["E2"]
    assert cell.data_type == "s" or cell.quotePrefix
    with zipfile.ZipFile(BytesIO(content)) as archive:
        assert not any(b"<f>" in archive.read(name) for name in archive.namelist() if "worksheets/" in name)


def refused(path: Path) -> str:
    with pytest.raises(FarmFileError) as caught:
        read_workbook(path, {"Fields": KEYS}, {"rows"}, needed=("Fields",))
    return str(caught.value)


def saved(path: Path, *lines: list[Any], title: str = "Fields") -> Path:
    book = Workbook()
    assert book.active is not None
    book.active.title = title
    for line in lines:
        book.active.append(line)
    book.save(path)
    return path


@pytest.mark.parametrize(
    ("lines", "parts"),
    [
        ([["id", "aera"], ["a", 1]], ("Fields!B1", "'aera'", "no heading that is known")), ([["id", "id"], ["a", 1]], ("Fields!B1", "twice")),
        ([["id", "area"], ["a", "=2*3"]], ("Fields!B2", "formula without its value")), ([["id"], ["a", "stray"]], ("Fields!B2", "under no heading")),
        ([["id", "note"], ["a", "@x"]], ("Fields!B2", "begins as a formula")),
    ],
)  # fmt: skip
def test_faults_name_sheet_and_cell(tmp_path: Path, lines: list[list[Any]], parts: tuple[str, ...]) -> None:
    text = refused(saved(tmp_path / "w.xlsx", *lines))
    assert all(part in text for part in ("w.xlsx", *parts)), text


def test_a_missing_sheet_and_what_is_no_workbook(tmp_path: Path) -> None:
    assert "the sheet: 'Fields' is missing" in refused(saved(tmp_path / "w.xlsx", ["id"], title="Other"))
    (tmp_path / "x.xlsx").write_bytes(b"id,area\n")
    assert "no zip archive" in refused(tmp_path / "x.xlsx")
    with zipfile.ZipFile(tmp_path / "y.xlsx", "w") as archive:
        archive.writestr("hello.txt", "x")
    assert "no workbook" in refused(tmp_path / "y.xlsx")


BOMB = (
    b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>'
)


def test_entities_and_archives_that_swell_are_refused(tmp_path: Path) -> None:
    good = saved(tmp_path / "w.xlsx", ["id"], ["a"])
    evil = tmp_path / "evil.xlsx"
    with zipfile.ZipFile(good) as old, zipfile.ZipFile(evil, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = old.read(name)
            if name == "xl/workbook.xml":
                content = BOMB + content.split(b"?>", 1)[-1].lstrip()
            new.writestr(name, content)
    assert "entities" in refused(evil) or "damaged" in refused(evil)
    swollen = tmp_path / "swollen.xlsx"
    with zipfile.ZipFile(swollen, "w", zipfile.ZIP_DEFLATED) as new:
        new.writestr("xl/worksheets/sheet1.xml", b" " * 30_000_000)
    assert "swell" in refused(swollen)
