"""Work done brought in: each row counted once, all or none, tasks out and back."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from click.testing import CliRunner

from scheduler.cli.main import main
from scheduler.farm.starter import starter_farm
from scheduler.wiring.news import situation_now
from scheduler.wiring.work_done import bring_in
from scheduler.wiring.workspace import Workspace, open_farm
from shared.errors import FarmFileError

NOW = datetime(2027, 5, 12, 20, tzinfo=ZoneInfo("America/Chicago"))
ACRE = 0.40468564224


@pytest.fixture
def workspace(tmp_path: Path) -> Workspace:
    folder = tmp_path / "farm"
    for name, text in starter_farm("Test").items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    return open_farm(folder)


def table(tmp_path: Path, *rows: str, head: str = "date,field,pass,area,start,end,operator") -> Path:
    (tmp_path / "work.csv").write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    return tmp_path / "work.csv"


def done(workspace: Workspace, field: str, pass_id: str) -> float:
    return situation_now(workspace, NOW)[1].passes[(field, pass_id)].done_ha


ROWS = (
    "2027-05-10,Home Piece,terminate,40 ac,08:00,12:00,First operator",
    "2027-05-11,home-piece,Terminate rye,10 ac,,,",
)


def test_rows_count_once_however_often_they_come(workspace: Workspace, tmp_path: Path) -> None:
    found = bring_in(workspace, table(tmp_path, *ROWS), NOW)
    assert len(found.told) == 2 and done(workspace, "home-piece", "terminate") == pytest.approx(50 * ACRE)
    again = bring_in(workspace, table(tmp_path, *ROWS, "2027-05-12,home-piece,terminate,5 ac,,,"), NOW)
    assert (len(again.told), again.known) == (1, 2)
    assert done(workspace, "home-piece", "terminate") == pytest.approx(55 * ACRE)
    worked = situation_now(workspace, NOW)[1].worked_minutes
    assert worked[("first", datetime(2027, 5, 10).date())] == 240


def test_a_row_twice_in_one_file_counts_once_and_is_said(workspace: Workspace, tmp_path: Path) -> None:
    found = bring_in(workspace, table(tmp_path, ROWS[1], ROWS[1]), NOW)
    assert len(found.told) == 1 and "row 3 says the same as row 2" in found.notes[0]


@pytest.mark.parametrize("heading", ["acres", "Area (ac)", "area_ac", "AREA [ac]"])
def test_headings_and_hours_as_spreadsheets_write_them(
    workspace: Workspace, tmp_path: Path, heading: str
) -> None:
    """Twelve at noon is 12 pm, twelve at night 12 am (common practice, no source)."""
    rows = (
        "2027-05-10,Home Piece,terminate,40,7:30 AM,12 pm,first",
        "2027-05-11,home-piece,terminate,10,12:15 a.m.,1PM,first",
    )
    found = bring_in(
        workspace, table(tmp_path, *rows, head=f"Date,Field name,Job,{heading},From,To,Driver"), NOW
    )
    assert len(found.told) == 2 and done(workspace, "home-piece", "terminate") == pytest.approx(50 * ACRE)
    worked = situation_now(workspace, NOW)[1].worked_minutes
    assert [worked[("first", datetime(2027, 5, day).date())] for day in (10, 11)] == [270, 765]


@pytest.mark.parametrize("days", [("5/10/2027", "5/11/27"), ("10.5.2027", "11.5.2027"), ("10 May 2027", "May 11, 2027")])  # fmt: skip
def test_days_as_spreadsheets_write_them(workspace: Workspace, tmp_path: Path, days: tuple[str, str]) -> None:
    """On 12 May 2027 nobody has worked on 5 October or 5 November of that year."""
    rows = [f'"{day}",home-piece,terminate,10 ac,7:00,8:00,first' for day in days]
    bring_in(workspace, table(tmp_path, *rows), NOW)
    worked = situation_now(workspace, NOW)[1].worked_minutes
    assert [worked[("first", datetime(2027, 5, day).date())] for day in (10, 11)] == [60, 60]


def test_days_that_could_be_two_are_asked_for(workspace: Workspace, tmp_path: Path) -> None:
    path = table(tmp_path, "5/4/2027,home-piece,terminate,10 ac,7:00,8:00,first")
    words = ["import-work", str(workspace.folder), str(path), "--now", "2027-05-12 20:00"]
    asked = CliRunner().invoke(main, words)
    assert (asked.exit_code, "--dates month-first" in asked.output) == (2, True)
    assert CliRunner().invoke(main, [*words, "--dates", "day-first"]).exit_code == 0
    assert ("first", datetime(2027, 4, 5).date()) in situation_now(workspace, NOW)[1].worked_minutes


@pytest.mark.parametrize("clock", ["13 pm", "0 am", "7:60 am", "night"])
def test_what_is_no_hour_is_refused(workspace: Workspace, tmp_path: Path, clock: str) -> None:
    with pytest.raises(FarmFileError, match="is not a time of day; allowed: a time such as 13:30 or 1:30 pm"):
        bring_in(workspace, table(tmp_path, f"2027-05-10,home-piece,terminate,4 ac,{clock},,"), NOW)


BAD = (
    "2027-05-10,Home Peace,terminate,40 ac,,,", "2027-05-10,home-piece,terminate,400 ac,,,", "2027-05-10,home-piece,harvest,4 ac,,,",
    "2027-06-10,home-piece,terminate,4 ac,,,", "2027-05-10,home-piece,terminate,4 gal,,,",
)  # fmt: skip


def test_one_refused_row_keeps_all_out_and_all_are_named(workspace: Workspace, tmp_path: Path) -> None:
    with pytest.raises(FarmFileError) as caught:
        bring_in(workspace, table(tmp_path, ROWS[0], *BAD), NOW)
    text = str(caught.value)
    for part in (
        "row 3",
        "Home Piece",
        "row 4",
        "more than is left",
        "row 5",
        "harvest",
        "row 6",
        "future",
        "row 7",
        "area",
        "nothing was stored",
    ):
        assert part in text, part
    assert workspace.log.last_sequence() == 0
    found = bring_in(workspace, table(tmp_path, ROWS[0], *BAD), NOW, sound_ones=True)
    assert len(found.told) == 1 and len(found.refused) == 5 and workspace.log.last_sequence() == 1


def test_rows_are_judged_one_after_the_other(workspace: Workspace, tmp_path: Path) -> None:
    """Home Piece has 88 ac: 50 and 40 together are more than that, each alone is not."""
    rows = ["2027-05-10,home-piece,terminate,50 ac,,,", "2027-05-11,home-piece,terminate,45 ac,,,"]
    with pytest.raises(FarmFileError, match=r"row 3.*more than is left"):
        bring_in(workspace, table(tmp_path, *rows), NOW)


def test_a_dry_run_stores_nothing(workspace: Workspace, tmp_path: Path) -> None:
    result = CliRunner().invoke(
        main,
        [
            "import-work",
            str(workspace.folder),
            str(table(tmp_path, *ROWS)),
            "--dry-run",
            "--now",
            "2027-05-12 20:00",
        ],
    )
    assert result.exit_code == 0 and "Would note: 40.0 ac done on Home Piece" in result.output
    assert workspace.log.last_sequence() == 0


@pytest.mark.parametrize(
    ("text", "part"),
    [("date,field,pass\n1,2,3\n", "lacks the column area"), ("date,field,pass,area\n10.15.27,a,b,1 ac\n30.2.27,a,b,1 ac\n", "row 3, date: '30.2.27' is not a date"),
     ("date,field,pass,area\n2027-05-10,,b,1 ac\n", "row 2, field"), ("date,field,pass,area,start\n2027-05-10,a,b,1 ac,night\n", "no time of day|not a time of day")],
)  # fmt: skip
def test_tables_that_are_none(workspace: Workspace, tmp_path: Path, text: str, part: str) -> None:
    (tmp_path / "w.csv").write_text(text, encoding="utf-8")
    with pytest.raises(FarmFileError, match=part):
        bring_in(workspace, tmp_path / "w.csv", NOW)


def test_every_row_that_cannot_be_read_is_named(workspace: Workspace, tmp_path: Path) -> None:
    with pytest.raises(FarmFileError) as caught:
        bring_in(
            workspace,
            table(tmp_path, "31.4.27,home-piece,terminate,1 ac,,,", ROWS[0], "2027-05-10,,terminate,1 ac,,,"),
            NOW,
        )
    assert [fault.key for fault in caught.value.faults] == ["row 2, date", "row 4, field"]


def completed(workspace: Workspace, tmp_path: Path, share: float) -> Path:
    """Return the planned tasks as a machine would hand them back, so much of each done on the day that it was planned for."""
    out = tmp_path / "card"
    result = CliRunner().invoke(main, ["taskdata", str(workspace.folder), "--out", str(out), "--days", "2"])
    assert result.exit_code == 0, result.output
    tree = ET.parse(out / "TASKDATA" / "TASKDATA.XML")
    root = tree.getroot()
    root.set("DataTransferOrigin", "2")
    areas = {one.get("A"): int(one.get("D", "0")) for one in root.iter("PFD")}
    for task in root.iter("TSK"):
        task.set("G", "4")
        for time in task.iter("TIM"):
            time.set("D", "4")
        last = task.findall("TIM")[-1]
        ET.SubElement(last, "DLV", A="0074", B=str(round(areas[task.get("E")] * share)), C="DET-1")
    tree.write(out / "TASKDATA" / "TASKDATA.XML", encoding="utf-8", xml_declaration=True)
    return out


def test_tasks_go_out_and_come_back_as_work_done(workspace: Workspace, tmp_path: Path) -> None:
    """The way round: planned, driven by half, handed back, driven to the end, handed back; each part counted once."""
    folder = str(workspace.folder)
    assert (
        CliRunner().invoke(main, ["plan", folder, "--now", "2027-05-10 05:00", "--seconds", "1"]).exit_code
        == 0
    )
    half = completed(workspace, tmp_path, 0.5)
    tasks = [
        (t.get("B"), t.get("E")) for t in ET.parse(half / "TASKDATA" / "TASKDATA.XML").getroot().iter("TSK")
    ]
    first = bring_in(workspace, half, NOW)
    assert len(first.told) == len(tasks) > 0 and not first.refused
    again = bring_in(workspace, half, NOW)
    assert not again.told and "nothing new" in " ".join(again.notes)
    situation = situation_now(workspace, NOW)[1]
    touched = [key for key, state in situation.passes.items() if state.done_ha > 0]
    for field, pass_id in touched:
        assert situation.passes[(field, pass_id)].done_ha == pytest.approx(
            situation.farm.field_by_id[field].area_ha / 2, rel=1e-3
        )
    bring_in(workspace, completed(workspace, tmp_path, 1.0), NOW)
    after = situation_now(workspace, NOW)[1]
    assert touched and all(after.passes[key].finished for key in touched)


def test_a_task_of_an_unknown_field_or_pass_is_refused_by_name(workspace: Workspace, tmp_path: Path) -> None:
    from tests.adapters.taskdata.test_read import document, saved, task, time

    text = document(task(time("10T12:00", "10T15:00", ("DET-1", 10_000))))
    with pytest.raises(FarmFileError, match="'North Bench' is none of this farm"):
        bring_in(workspace, saved(tmp_path, text), NOW)
    known = (
        text.replace('B="north" C="North Bench"', 'B="x" C="Home Piece"')
        .replace('B="plant"', 'B="x"')
        .replace("Plant corn", "Job 7")
    )
    named = known.replace("Seed corn", "Something")
    with pytest.raises(FarmFileError, match=r"not clear which pass of Home Piece 'Job 7'"):
        bring_in(workspace, saved(tmp_path, named), NOW)
    assert "Plant corn" in bring_in(workspace, saved(tmp_path, known), NOW, dry=True).told[0], (
        "its seed tells the pass"
    )
