"""Pictures: the numbers by hand, files that other programs open, no colour that carries meaning alone."""

from __future__ import annotations

import struct
import xml.etree.ElementTree as ET
from concurrent.futures import ThreadPoolExecutor
from datetime import date, datetime, timedelta
from io import BytesIO
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from click.testing import CliRunner
from pypdf import PdfReader

from adapters.export.pictures import draw
from scheduler.cli.main import main
from scheduler.crew.pictures import area_planned, days, progress, windows
from scheduler.farm.starter import starter_farm
from scheduler.wiring.mornings import look_ahead
from scheduler.wiring.news import situation_now, take_report
from scheduler.wiring.plans_known import latest_plan
from scheduler.wiring.workspace import Workspace, open_farm
from shared.pictures import Days, Piece, Progress, Water, WindowBar, Windows

ZONE = ZoneInfo("America/Chicago")
NOW = datetime(2027, 5, 11, 5, tzinfo=ZONE)
FIRST = date(2027, 5, 10)
START = datetime(2027, 5, 10, 8, tzinfo=ZONE)
SVG = "{http://www.w3.org/2000/svg}"
PICTURES = {
    "water": Water("Heron", tuple(FIRST + timedelta(days=k) for k in range(4)), (5.0, 0.0, 3.0, 1.0), (5.0, 0.0, 9.0, 4.0), 2, ((0.8,) * 48, (0.9,) * 48, (1.1,) * 48)),
    "progress": (Progress("Plant", tuple(FIRST + timedelta(days=k) for k in range(4)), (0.0, 10.0), (10.0, 20.0, 40.0), (10.0, 15.0, 22.0), 40.0),),
    "windows": Windows("Farm", FIRST, FIRST + timedelta(days=20), (WindowBar("North: Plant", None, FIRST + timedelta(days=9), ((START, START + timedelta(hours=5)),)), WindowBar("South: Spray", FIRST - timedelta(days=9), FIRST - timedelta(days=2), ()))),
    "days": Days("Farm", FIRST, 7, (("Ana", (Piece(START, START + timedelta(hours=5), "North", "Plant", 0.9), Piece(START + timedelta(days=1), START + timedelta(days=1, hours=2), "South", "Spray", 0.3))), ("Bo", ()))),
}  # fmt: skip
WORDS = {"water": ("Heron", "field capacity", "today"), "progress": ("Plant: 25 of 99 ac done", "done"), "windows": ("North: Plant", "19 May", "closed"), "days": ("Ana", "Bo", "North", "Spray", "may well not run")}  # fmt: skip


@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_says_its_words_and_is_the_same_again(name: str) -> None:
    content = draw(PICTURES[name], "svg", "us", ZONE)  # type: ignore[arg-type]
    text = " ".join(node.text or "" for node in ET.fromstring(content).iter(f"{SVG}text"))
    assert all(word in text for word in WORDS[name]), text
    assert content == draw(PICTURES[name], "svg", "us", ZONE)  # type: ignore[arg-type]


def test_threads_that_draw_at_once_draw_the_same() -> None:
    """The library's settings hold for the whole program; a server draws for several people."""
    alone = {name: draw(one, "svg", "us", ZONE) for name, one in PICTURES.items()}  # type: ignore[arg-type]
    with ThreadPoolExecutor(8) as pool:
        at_once = list(
            pool.map(lambda name: (name, draw(PICTURES[name], "svg", "us", ZONE)), list(PICTURES) * 4)
        )  # type: ignore[arg-type]
    assert all(content == alone[name] for name, content in at_once)


@pytest.mark.parametrize("name", PICTURES)
def test_other_programs_open_it(name: str) -> None:
    png = draw(PICTURES[name], "png", "metric", ZONE)  # type: ignore[arg-type]
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    wide, high = struct.unpack(">II", png[16:24])
    assert wide > 1000 and high > 150
    assert len(PdfReader(BytesIO(draw(PICTURES[name], "pdf", "metric", ZONE))).pages) == 1  # type: ignore[arg-type]


def test_kinds_are_told_apart_without_colour() -> None:
    """Two kinds of work differ by their hatching, and what may not run by its dotted line: as read from the drawing itself."""
    root = ET.fromstring(draw(PICTURES["days"], "svg", "us", ZONE))  # type: ignore[arg-type]
    styles = [node.get("style", "") for node in root.iter(f"{SVG}path")]
    assert any("url(#" in style for style in styles), "hatching"
    assert any("stroke-dasharray" in style for style in styles), "dotted"


@pytest.fixture(scope="module")
def workspace(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    folder = tmp_path_factory.mktemp("plots") / "farm"
    for name, text in starter_farm("Pictures").items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    workspace = open_farm(folder)
    take_report(workspace, ["done", "home-piece", "terminate", "40 ac"], {"at": "2027-05-10 18:00"}, NOW)
    result = CliRunner().invoke(main, ["plan", str(folder), "--now", "2027-05-11 05:00", "--seconds", "1"])
    assert result.exit_code == 0
    return workspace


def test_the_numbers_behind_them(workspace: Workspace) -> None:
    plan = latest_plan(workspace)
    assert plan is not None
    state, situation = situation_now(workspace, NOW)
    _, outlook = look_ahead(workspace, NOW)
    found = progress(situation, outlook, state, plan, "terminate")
    assert found is not None
    assert found.total_ha * 2.471054 == pytest.approx(88 + 64 + 72 + 46, abs=0.1)
    assert [round(v * 2.471054) for v in found.done[-2:]] == [40, 40] and found.done[-3] == pytest.approx(
        0, abs=1e-9
    )
    assert found.days[len(found.done) - 1] == date(2027, 5, 11)
    assert found.plan[-1] - found.done[-1] == pytest.approx(
        sum(b.area_ha for b in plan.blocks if b.pass_id == "terminate")
    )
    assert all(s <= p + 1e-9 for s, p in zip(found.sure, found.plan, strict=True))
    assert sum(area_planned(situation, plan, "plant")[0].values()) == pytest.approx(
        sum(b.area_ha for b in plan.blocks if b.pass_id == "plant")
    )
    bars = windows(situation, outlook, plan).bars
    assert sum(len(bar.planned) for bar in bars) == len(plan.blocks)
    week = [b for b in plan.blocks if (b.start.date() - plan.first_day).days < 7]
    assert sum(len(row) for _, row in days(situation, plan).rows) == len(week) + sum(
        b.support is not None for b in week
    )
    assert progress(situation, outlook, state, plan, "no-such-pass") is None


@pytest.mark.parametrize("what", ["week", "machines", "windows", "progress", "water"])
def test_the_command_draws_each(workspace: Workspace, tmp_path: Path, what: str) -> None:
    out = tmp_path / "deep" / f"{what}.svg"
    result = CliRunner().invoke(
        main, ["plot", str(workspace.folder), what, "--out", str(out), "--now", "2027-05-11 05:00"]
    )
    assert result.exit_code == 0, result.output
    files = [Path(line) for line in result.output.split()]
    assert len(files) == (4 if what == "water" else 1)
    for path in files:
        assert ET.parse(path).getroot().tag == f"{SVG}svg"


def test_what_cannot_be_drawn_is_said(workspace: Workspace, tmp_path: Path) -> None:
    odd = CliRunner().invoke(main, ["plot", str(workspace.folder), "week", "--out", str(tmp_path / "w.gif")])
    assert odd.exit_code == 1 and "svg, png, pdf" in odd.output
    field = CliRunner().invoke(
        main, ["plot", str(workspace.folder), "water", "--field", "moon", "--now", "2027-05-11 05:00"]
    )
    assert field.exit_code == 3 and "known: home-piece" in field.output
