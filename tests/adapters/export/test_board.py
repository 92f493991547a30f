"""The week board on paper, read back by pypdf: every block is on it, black and white, one page while the type can be read."""

from __future__ import annotations

import re
from io import BytesIO
from pathlib import Path

import pytest
from click.testing import CliRunner
from pypdf import PdfReader

from adapters.export.board_sheet import board_pdf
from scheduler.cli.main import main
from scheduler.crew.week_board import week_board
from scheduler.farm.starter import starter_farm
from scheduler.wiring.plans_known import latest_plan
from scheduler.wiring.workspace import open_farm
from shared.board import Board, BoardRow


def board(rows: int, lines: int) -> Board:
    cells = tuple(
        tuple(f"07:00-09:00 Field {k}-{n}: Plant corn, 20 ac" for n in range(lines)) for k in range(7)
    )
    return Board(
        "Week",
        "Farm",
        tuple(f"Day {k}" for k in range(7)),
        (("People", tuple(BoardRow(f"Person {r}", cells) for r in range(rows))),),
        "The plan advises.",
    )


@pytest.mark.parametrize(("size", "wide"), [("a4", 297.0), ("letter", 279.4)])
def test_a_small_farm_fits_one_page_of_the_right_size(size: str, wide: float) -> None:
    """ISO 216 A4 and letter, lying."""
    reader = PdfReader(BytesIO(board_pdf(board(3, 2), size)))
    assert len(reader.pages) == 1
    assert float(reader.pages[0].mediabox.width) / 72 * 25.4 == pytest.approx(wide, abs=0.1)


def test_a_large_farm_gets_more_pages_and_loses_nothing() -> None:
    reader = PdfReader(BytesIO(board_pdf(board(14, 9), "letter")))
    text = re.sub(r"\s+", " ", " ".join(page.extract_text() for page in reader.pages))
    assert len(reader.pages) > 1
    assert all(len(re.findall(f"Field {k}-{n}:", text)) == 14 for k in range(7) for n in range(9))
    assert all(
        "The plan advises." in page.extract_text() and "Day 6" in page.extract_text() for page in reader.pages
    )


def test_a_row_that_is_higher_than_a_page_is_split() -> None:
    reader = PdfReader(BytesIO(board_pdf(board(1, 45), "letter")))
    text = " ".join(page.extract_text() for page in reader.pages)
    assert len(reader.pages) > 1 and all(f"Field 3-{n}:" in re.sub(r"\s+", " ", text) for n in range(45))
    for page in reader.pages:
        places = [
            float(y) for y in re.findall(r"([\d.]+) Td", page.get_contents().get_data().decode("latin-1"))
        ]  # type: ignore[union-attr]
        assert min(places) > 15, "nothing stands below the page's last line"


def test_the_board_of_a_plan_holds_its_blocks_for_people_and_machines(tmp_path: Path) -> None:
    folder = tmp_path / "farm"
    for name, text in starter_farm("Board").items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    runner = CliRunner()
    assert runner.invoke(main, ["paper", str(folder), "--week"]).exit_code == 1, "no plan yet"
    assert (
        runner.invoke(main, ["plan", str(folder), "--now", "2027-05-10 05:00", "--seconds", "1"]).exit_code
        == 0
    )
    workspace = open_farm(folder)
    plan = latest_plan(workspace)
    assert plan is not None
    made = week_board(plan, workspace.farm, plan.first_day, language="es")
    people, machines = (dict((row.label, row.cells) for row in rows) for _, rows in made.parts)
    week = [b for b in plan.blocks if (b.start.date() - plan.first_day).days < 7]
    assert sum(len(cell) for cells in people.values() for cell in cells) == len(week) + sum(
        b.support is not None for b in week
    )
    assert sum(len(cell) for cells in machines.values() for cell in cells) == sum(
        len(b.machines) for b in week
    )
    doubtful = sum(b.chance < 0.5 and not b.under_way for b in week)
    assert (
        sum(line.startswith("? ") for cells in people.values() for cell in cells for line in cell) >= doubtful
    )
    assert made.parts[0][0] == "Personas" and "Semana" in made.title
    out = tmp_path / "week.pdf"
    assert (
        runner.invoke(main, ["paper", str(folder), "--week", "--out", str(out), "--size", "a4"]).exit_code
        == 0
    )
    page = PdfReader(out).pages[0]
    text, content = re.sub(r"\s+", " ", page.extract_text()), page.get_contents().get_data().decode("latin-1")  # type: ignore[union-attr]
    assert all(workspace.farm.field_by_id[b.field].label in text for b in week)
    assert not re.findall(r"[\d.]+ [\d.]+ [\d.]+ rg", content), "grey levels alone, no colour"
