"""Between two plans the farm loses a field, or somebody who had joined is taken back out: no list, page or file breaks."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient

from scheduler.cli.main import main
from scheduler.service.handouts import MANAGER
from scheduler.web.app import make_app
from scheduler.wiring.desk import FarmDesk
from scheduler.wiring.office import Office
from tests.service.farms import at

NOW, LATER = "2027-05-10 05:00", "2027-05-10 06:00"
LIST = "Piece,Acres,Lat,Lon,Crop,Cover,Texture\nNorth,40,42.0,-93.5,corn,rye,silt loam\nSouth,60,42.01,-93.5,soybeans,rye,clay loam\n"


def run(*words: object) -> str:
    """Run a command that must succeed; return what it says on both streams."""
    found = CliRunner().invoke(main, [str(one) for one in words])
    if found.exception is not None and not isinstance(found.exception, SystemExit):
        raise found.exception
    assert found.exit_code == 0, found.output
    return found.output


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A farm whose plan counts on a helper who joined, and the report that said so."""
    home = tmp_path_factory.mktemp("since")
    (home / "list.csv").write_text(LIST)
    farm = home / "farm"
    run(
        "init",
        farm,
        "--from",
        home / "list.csv",
        "--column",
        "name=Piece",
        "--begin",
        "2027-05-10",
        "--no-ask",
    )
    said = run("report", farm, "join", "Helper", "like", "First", "operator", "--now", NOW)
    run("report", farm, "First", "operator", "off", "until", "2027-05-20", "--now", NOW)
    run("plan", farm, "--now", NOW, "--seconds", "1")
    return farm, said.split("(event ")[1].split(";")[0]


@pytest.fixture
def farm(planned: tuple[Path, str], tmp_path: Path) -> Path:
    """A copy for one test."""
    return Path(shutil.copytree(planned[0], tmp_path / "farm"))


def shows(farm: Path, out: Path) -> str:
    """Run everything that shows the issued plan."""
    said = [run(one, farm, "--now", LATER) for one in ("day", "fit")]
    said.append(CliRunner().invoke(main, ["status", str(farm), "--now", LATER]).output)
    said.append(run("calendar", farm, "--out", out / "cal", "--now", LATER))
    said.append(run("export", farm, "--out", out / "ex", "--now", LATER))
    said.append(run("paper", farm, "--out", out / "day.pdf", "--now", LATER))
    said.append(run("paper", farm, "--week", "--out", out / "week.pdf", "--now", LATER))
    said.append(run("plot", farm, "week", "--out", out / "week.svg", "--now", LATER))
    with TestClient(make_app(Office(farm, lambda: at(10, "06:00"), 1.0))) as client:
        client.post("/welcome", data={"password": "ten letters or more", "again": "ten letters or more"})
        for page in ("/", "/days", "/days?by=rig", "/days?by=field", "/windows", "/ground"):
            assert client.get(page).status_code == 200, page
    return "\n".join(said)


def test_somebody_who_joined_has_lists_calendar_and_reminder(farm: Path, tmp_path: Path) -> None:
    said = shows(farm, tmp_path)
    assert "Helper   Monday 10 May" in said and "no longer has" not in said
    assert b"BEGIN:VEVENT" in (tmp_path / "cal/helper.ics").read_bytes()
    assert "Helper joined the crew" in run("log", farm)
    asked = {one.to: one.text for one in FarmDesk(farm, 1.0).reminders(at(10, "20:00"))}
    assert "helper" in asked and "(Helper)" in asked[MANAGER]


def test_who_is_taken_back_out_is_no_longer_shown_and_that_is_said(
    farm: Path, planned: tuple[Path, str], tmp_path: Path
) -> None:
    run("report", farm, "correct", planned[1], "nothing", "--now", LATER)
    said = shows(farm, tmp_path)
    assert said.count("counts on what the farm no longer has (helper)") == 4
    assert "Helper   Monday" not in said
    assert FarmDesk(farm, 1.0).reminders(at(10, "20:00"))


def test_a_field_out_of_the_files_is_no_longer_shown_and_that_is_said(farm: Path, tmp_path: Path) -> None:
    fields = farm / "fields.csv"
    fields.write_text(
        "".join(line for line in fields.read_text().splitlines(keepends=True) if not line.startswith("south"))
    )
    said = shows(farm, tmp_path)
    assert "counts on what the farm no longer has (south)" in said
    assert FarmDesk(farm, 1.0).reminders(at(10, "20:00"))
    assert "South" not in run("plan", farm, "--now", LATER, "--seconds", "1").split("Today")[1]
