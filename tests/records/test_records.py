"""Records filled from reports: figures worked out by hand, what is missing, CSV that no spreadsheet takes for formulas.

Nitrogen by hand (common practice): 24 gal/ac of a 32 % solution at 11.06 lb/gal are 24 x 11.06 x 0.32 = 84.9 lb N/ac. What a record
of a restricted-use product holds: 7 CFR 110.3 (from memory): product and registration number, total amount, place, area, crop, date,
name and number of the certified applicator.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from datetime import datetime
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pandas as pd
import pytest
from click.testing import CliRunner
from pypdf import PdfReader

from adapters.export.record_sheets import records_pdf, table_csv
from scheduler.cli.main import main
from scheduler.farm.starter import starter_farm
from scheduler.wiring.news import take_report
from scheduler.wiring.records import record_tables
from scheduler.wiring.workspace import Workspace, open_farm
from shared.record_table import RecordTable

ZONE = ZoneInfo("America/Chicago")
NOW = datetime(2027, 5, 20, 20, tzinfo=ZONE)
RESTRICTED = 'licence = "applicator"          # the operator must hold it on the day\n'


def farm(folder: Path, *changes: tuple[str, str]) -> Workspace:
    for name, text in starter_farm("Records").items():
        for old, new in changes if name == "farm.toml" else ():
            assert old in text, old
            text = text.replace(old, new, 1)
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    return open_farm(folder)


def say(workspace: Workspace, *words: str, at: str, **more: str) -> str:
    return take_report(workspace, words, {"at": at, **more}, NOW)[0].record.id


def worked(workspace: Workspace, tmp_path: Path, *rows: str) -> None:
    path = tmp_path / "work.csv"
    path.write_text("date,field,pass,area,start,end,operator\n" + "\n".join(rows) + "\n", encoding="utf-8")
    result = CliRunner().invoke(
        main, ["import-work", str(workspace.folder), str(path), "--now", "2027-05-20 20:00"]
    )
    assert result.exit_code == 0, result.output


def tables(workspace: Workspace) -> dict[str, list[dict[str, Any]]]:
    return {
        one.name: [dict(zip(one.columns, row, strict=True)) for row in one.rows]
        for one in record_tables(workspace, NOW)[0]
    }


def test_an_application_stands_with_everything_that_is_known(tmp_path: Path) -> None:
    workspace = farm(
        tmp_path / "farm", (RESTRICTED, RESTRICTED + 'restricted_use = true\nregistration = "000-999"\n'),
        ('licences = [{ name = "applicator", expires', 'licences = [{ name = "applicator", number = "A-17", expires'),
    )  # fmt: skip
    worked(workspace, tmp_path, "2027-05-10,home-piece,terminate,40 ac,08:00,12:00,First operator")
    found = tables(workspace)
    row = found["applications"][0]
    assert (row["product"], row["registration"], row["restricted_use"]) == (
        "Burn-down herbicide",
        "000-999",
        "yes",
    )
    assert (row["date"], row["start"], row["end"], row["field"], row["crop"]) == (
        "2027-05-10",
        "08:00",
        "12:00",
        "Home Piece",
        "corn",
    )
    assert (row["area_ac"], row["rate"], row["rate_unit"]) == (40.0, 0.25, "gal/ac")
    assert row["amount"] == pytest.approx(40 * 0.25, abs=0.05), "40 ac at 1 qt/ac are 10 gal"
    assert (row["operator"], row["licence"], row["licence_number"], row["licence_valid_until"]) == (
        "First operator",
        "applicator",
        "A-17",
        "2029-03-31",
    )
    observed = pd.read_csv(tmp_path / "farm" / "weather" / "observed.csv").set_index("date").loc["2027-05-10"]
    low, high = (round(observed[name] * 1.8 + 32) for name in ("tmin_c", "tmax_c"))
    assert low <= row["air_least_degf"] <= row["air_most_degf"] <= high
    assert row["wind_mean_mph"] > 0
    assert [one["what"] for one in found["missing"]] == ["wind direction"]


def test_nitrogen_is_counted_as_it_was_applied(tmp_path: Path) -> None:
    workspace = farm(tmp_path / "farm")
    worked(workspace, tmp_path, "2027-05-11,home-piece,band,44 ac,,,Second operator")
    row = next(
        one
        for one in tables(workspace)["nitrogen"]
        if (one["field"], one["pass"]) == ("Home Piece", "Band nitrogen")
    )
    assert row["planned_n_lb_per_ac"] == pytest.approx(84.9, abs=0.05)
    assert row["applied_n_lb_per_ac"] == pytest.approx(84.9 / 2, abs=0.05) and row["applied_pct"] == 50
    assert (row["covered_ac"], row["field_ac"]) == (44.0, 88.0)


def test_a_tissue_result_changes_what_is_recorded(tmp_path: Path) -> None:
    """The farm's rule: at or above the upper level 75 % of the rate; 15 gal/ac x 11.06 x 0.32 x 0.75 = 39.8 lb N/ac."""
    workspace = farm(tmp_path / "farm")
    for pass_id, day in (("terminate", "10"), ("band", "11"), ("plant", "12")):
        say(workspace, "finished", "home-piece", pass_id, at=f"2027-05-{day} 18:00")
    say(workspace, "tissue", "home-piece", "4.5 %", at="2027-05-18 10:00")
    say(workspace, "done", "home-piece", "side-dress", "88 ac", at="2027-05-19 18:00")
    row = next(
        one
        for one in tables(workspace)["nitrogen"]
        if (one["field"], one["pass"]) == ("Home Piece", "Side-dress and interseed")
    )
    assert row["applied_n_lb_per_ac"] == pytest.approx(15 * 11.06 * 0.32 * 0.75, abs=0.06)


def test_planting_against_the_final_date(tmp_path: Path) -> None:
    workspace = farm(
        tmp_path / "farm", ("[plan]", '[records]\nfinal_planting = { corn = "2027-05-14" }\n\n[plan]')
    )
    for pass_id in ("terminate", "band"):
        say(workspace, "finished", "home-piece", pass_id, at="2027-05-10 18:00")
    worked(
        workspace,
        tmp_path,
        "2027-05-13,home-piece,plant,30 ac,,,",
        "2027-05-17,home-piece,plant,58 ac,,,First operator",
    )
    found = tables(workspace)
    row = found["planting"][0]
    assert (row["planted_ac"], row["first_planted"], row["last_planted"]) == (
        88.0,
        "2027-05-13",
        "2027-05-17",
    )
    assert (row["final_planting_date"], row["days_late"], row["planted_late_ac"]) == ("2027-05-14", 3, 58.0)
    assert found["acreage"] == [
        {
            "crop": "corn",
            "fields": 1,
            "planted_ac": 88.0,
            "first_planted": "2027-05-13",
            "last_planted": "2027-05-17",
        }
    ]
    assert any(one["what"] == "who planted" for one in found["missing"])


def test_a_correction_and_a_finished_report_count_the_right_area(tmp_path: Path) -> None:
    workspace = farm(tmp_path / "farm")
    wrong = say(workspace, "done", "home-piece", "terminate", "60 ac", at="2027-05-10 18:00")
    say(workspace, "correct", wrong, "done", "home-piece", "terminate", "40 ac", at="2027-05-10 19:00")
    say(workspace, "finished", "home-piece", "terminate", at="2027-05-11 18:00")
    assert [one["area_ac"] for one in tables(workspace)["applications"]] == [
        pytest.approx(40, abs=0.01),
        pytest.approx(48, abs=0.01),
    ]


MISSING = [
    ("number", 'licences = [{ name = "applicator", expires', None, "the number of the licence 'applicator'"),
    ("who", "", "", "who did it"), ("times", "", "2027-05-10,home-piece,terminate,40 ac,,,First operator", "start and end"),
    ("licence", "", "2027-05-10,home-piece,terminate,40 ac,08:00,12:00,Second operator", "a licence 'applicator' of Second operator"),
    ("expired", '"2029-03-31"', "2027-05-10,home-piece,terminate,40 ac,08:00,12:00,First operator", "ended on 2027-05-01"),
    ("registration", "", "2027-05-10,home-piece,terminate,40 ac,08:00,12:00,First operator", "its registration number"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("old", "row", "wanted"), [case[1:] for case in MISSING], ids=[case[0] for case in MISSING]
)
def test_what_is_missing_is_said(tmp_path: Path, old: str, row: str | None, wanted: str) -> None:
    changes = [(old, '"2027-05-01"')] if old.startswith('"') else []
    workspace = farm(tmp_path / "farm", *changes)
    worked(
        workspace,
        tmp_path,
        row
        or ("2027-05-10,home-piece,terminate,40 ac,08:00,12:00," + ("" if row == "" else "First operator")),
    )
    assert any(wanted in one["what"] for one in tables(workspace)["missing"]), tables(workspace)["missing"]


def test_an_old_restricted_record_presses(tmp_path: Path) -> None:
    workspace = farm(tmp_path / "farm", (RESTRICTED, RESTRICTED + "restricted_use = true\n"))
    worked(workspace, tmp_path, "2027-05-02,home-piece,terminate,40 ac,08:00,12:00,First operator")
    rows = tables(workspace)["missing"]
    assert rows[0]["weight"] == "1 required" and any("older than 14 days" in one["what"] for one in rows)


def test_files_open_elsewhere(tmp_path: Path) -> None:
    workspace = farm(tmp_path / "farm")
    worked(workspace, tmp_path, "2027-05-10,home-piece,terminate,40 ac,08:00,12:00,First operator")
    out = tmp_path / "out"
    result = CliRunner().invoke(
        main,
        ["records", str(workspace.folder), "--out", str(out), "--now", "2027-05-20 20:00", "--size", "a4"],
    )
    assert result.exit_code == 0 and "things are missing" in result.output
    assert {path.name for path in out.iterdir()} == {
        "planting.csv",
        "acreage.csv",
        "applications.csv",
        "nitrogen.csv",
        "missing.csv",
        "records.pdf",
    }
    assert pd.read_csv(out / "applications.csv").loc[0, "product"] == "Burn-down herbicide"
    pages = PdfReader(out / "records.pdf").pages
    text = "\n".join(page.extract_text() for page in pages)
    assert all(
        word in text
        for word in ("Applications", "Burn-down herbicide", "Home Piece", "Signed:", "wind direction")
    )
    assert round(float(pages[0].mediabox.width) / 72 * 25.4) == 297


def cells() -> Iterator[str]:
    yield from ("=1+1", "+1", "-1", "@x", "plain", 'a "quote", and comma', "line\nbreak")


def test_no_cell_is_taken_for_a_formula_and_any_letter_prints() -> None:
    table = RecordTable("t", "Täble – 漢", ("what",), tuple((text,) for text in cells()))
    rows = list(csv.reader(StringIO(table_csv(table))))[1:]
    assert [row[0] for row in rows] == [
        "'=1+1",
        "'+1",
        "'-1",
        "'@x",
        "plain",
        'a "quote", and comma',
        "line\nbreak",
    ]
    assert len(PdfReader(BytesIO(records_pdf([table], "h", "f", "letter"))).pages) == 1
    many = RecordTable("t", "Long", ("a", "b"), tuple((f"row {k}", "x" * 60) for k in range(200)))
    assert len(PdfReader(BytesIO(records_pdf([many], "h", "f", "letter"))).pages) > 3


def test_days_that_are_none(tmp_path: Path) -> None:
    workspace = farm(tmp_path / "farm")
    result = CliRunner().invoke(
        main, ["records", str(workspace.folder), "--from", "May", "--now", "2027-05-20 20:00"]
    )
    assert result.exit_code == 1 and "--from 'May' is not a date" in result.output
