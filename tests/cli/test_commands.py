"""The command line from outside: the manager's week on a copy of the wet week, wrong input, JSON, exit codes."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from scheduler.cli.ground_commands import fit_lines
from scheduler.cli.main import main

ROOT = Path(__file__).resolve().parents[2]
MONDAY, TUESDAY = "2027-05-10 05:00", "2027-05-11 05:00"


def run(*words: str) -> Result:
    """Run the command; a traceback fails the test."""
    result = CliRunner().invoke(main, list(words))
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


@pytest.fixture
def farm(tmp_path: Path) -> str:
    """A copy of the wet week without its log."""
    target = tmp_path / "farm"
    shutil.copytree(ROOT / "scenarios" / "wet-week", target, ignore=shutil.ignore_patterns("*.sqlite*"))
    return str(target)


def test_a_manager_plans_reports_and_plans_again(farm: str, tmp_path: Path) -> None:
    first = run(
        "plan", farm, "--now", MONDAY, "--seconds", "2", "--json", "--page", str(tmp_path / "page.html")
    )
    assert first.exit_code == 0, first.output
    plan = json.loads(first.stdout)["plan"]
    assert plan["blocks"] and plan["value"]["total"] <= plan["value"]["dispatch_total"]
    assert plan["value"]["bound"] <= plan["value"]["total"]
    assert "Ground" in (tmp_path / "page.html").read_text(encoding="utf-8")

    lists = run("day", farm, "--json")
    assert {one["operator"] for one in json.loads(lists.stdout)} == {"ilse", "benat", "oskari", "tove"}
    assert "Beñat" in run("day", farm, "--operator", "benat").stdout

    told = run("report", farm, "down", "planter", "--until", "2027-05-12 12:00", "--now", "2027-05-10 18:00")
    assert told.exit_code == 0 and "Planter 12" in told.stdout
    again = run("plan", farm, "--now", TUESDAY, "--seconds", "2", "--json")
    assert again.exit_code == 0, again.output
    second = json.loads(again.stdout)
    early = [
        block for block in second["plan"]["blocks"]
        if "planter" in block["machines"] and block["start"] < "2027-05-12T12:00"
    ]  # fmt: skip
    assert not early, "the planter is down until Wednesday noon"
    changes = run("changes", farm)
    assert changes.exit_code == 0 and "Planter 12" in changes.stdout
    assert changes.stdout.startswith(
        "Three Alders: the plan of Tue 11 May 05:00 against that of Mon 10 May 05:00: "
    )
    assert "out of order" in run("log", farm).stdout


def test_the_same_morning_again_gives_the_same_plan(farm: str) -> None:
    plans = [
        json.loads(run("plan", farm, "--now", MONDAY, "--seconds", "1", "--json").stdout)["plan"]
        for _ in range(2)
    ]
    assert plans[0]["blocks"] == plans[1]["blocks"]


def test_fit_says_when_and_why_not(farm: str) -> None:
    table = json.loads(run("fit", farm, "--now", MONDAY, "--json").stdout)["rows"]
    assert all(0 <= row["chance"] <= 1 and 0 <= row["fit_hours"] <= 25 for row in table)
    said = run("fit", farm, "--now", MONDAY).stdout
    assert "Mill Flat" in said
    # Nothing is cut off, and what is fit on no day is told once, not cell by cell.
    closed = {row["reason"] for row in table if row["fit_hours"] < 0.5}
    assert closed and all(reason in said for reason in closed)
    assert (
        said.count("crop not far enough") < sum(row["reason"] == "crop not far enough" for row in table) / 20
    )
    why = run("fit", farm, "--now", MONDAY, "--field", "heron", "--pass", "plant", "--why").stdout
    assert "Heron" in why and "limit" in why


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["rain", "all", "1000 mm"], "1000 mm"),
        (["rain", "nowhere", "5 mm"], "nowhere"),
        (["rain", "all", "5"], "unit"),
        (["done", "north-bench", "band", "4000 ac"], "more than is left"),
        (["done", "north-bench", "terminate", "10 ac"], "finished already"),
        (["down", "plantar"], "planter"),
        (["away", "ilse", "--until", "2027-05-01"], "not after the start"),
        (["stage", "north-bench", "V4"], "not planted"),
        (["finished", "heron", "band"], "band"),
        (["rains", "all", "5 mm"], "did you mean 'rain'"),
        (["correct", "r-nothing", "nothing"], "r-nothing"),
    ],
)
def test_news_that_cannot_be_is_refused_in_a_sentence(farm: str, words: list[str], said: str) -> None:
    result = run("report", farm, *words, "--now", MONDAY)
    assert result.exit_code == 3
    assert said in result.stderr and result.stderr.count("\n") == 1
    assert "Nothing was reported" in run("log", farm).stdout


def test_news_from_the_future_is_refused(farm: str) -> None:
    result = run("report", farm, "rain", "all", "5 mm", "--at", "2027-05-11 09:00", "--now", MONDAY)
    assert result.exit_code == 3 and "future" in result.stderr


def test_the_same_report_twice_counts_once(farm: str) -> None:
    words = ["report", farm, "done", "north-bench", "band", "40 ac", "--id", "phone-7", "--now", MONDAY]
    assert "Noted" in run(*words).stdout
    assert "Known already" in run(*words).stdout
    assert len(json.loads(run("log", farm, "--json").stdout)) == 1


def test_faults_of_the_farm_come_all_at_once(farm: str) -> None:
    path = Path(farm) / "farm.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('speed = "5.5 mph"', 'speed = "-5 mph"').replace("wage = ", "wagee = ", 1))
    result = run("check", farm)
    assert result.exit_code == 2
    assert "too small" in result.stdout and "did you mean 'wage'" in result.stdout
    assert run("plan", farm, "--now", MONDAY).exit_code == 2


def test_a_missing_folder_and_a_missing_plan_are_said(farm: str, tmp_path: Path) -> None:
    gone = run("plan", str(tmp_path / "gone"))
    assert gone.exit_code == 2 and "does not exist" in gone.stderr
    assert "no plan was issued yet" in run("day", farm).output


def test_a_starter_farm_passes_its_check_and_plans_at_once(tmp_path: Path) -> None:
    folder = str(tmp_path / "new")
    assert run("init", folder, "--name", "Test farm", "--begin", "2027-05-10").exit_code == 0
    assert run("check", folder).exit_code == 0
    assert run("init", folder).exit_code == 1
    first = run("plan", folder, "--now", "2027-05-10 05:00", "--seconds", "1", "--json")
    assert first.exit_code == 0 and json.loads(first.stdout)["plan"]["blocks"]


def test_weather_that_ends_too_soon_is_said(farm: str) -> None:
    result = run("plan", farm, "--now", "2028-05-10 05:00")
    assert result.exit_code == 5 and "observed.csv" in result.stderr


def daily_weather(path: Path) -> Path:
    """Write 200 invented days."""
    from datetime import date, timedelta

    rows = ["date,rain_mm,tmax_c,tmin_c"]
    rows += [
        f"{date(2027, 1, 1) + timedelta(days=k)},{9.0 if k % 6 == 0 else 0.0},{-2 + k * 0.16:.1f},{-10 + k * 0.15:.1f}"
        for k in range(200)
    ]
    path.write_text("\n".join(rows) + "\n")
    return path


def test_workdays_and_stages_answer_without_a_farm(tmp_path: Path) -> None:
    file = str(daily_weather(tmp_path / "daily.csv"))
    days = json.loads(
        run("workdays", "--weather", file, "--latitude", "42", "--elevation-m", "300", "--json").stdout
    )
    assert len(days["days"]) == 200
    assert set(days["days"][0]) == {
        "date",
        "surface_wetness",
        "subsoil_wetness",
        "soil_temp_c",
        "suitable_chance",
    }
    assert days["notes"]
    report = json.loads(
        run("stages", "--weather", file, "--crop", "corn", "--planted", "2027-05-01", "--json").stdout
    )
    assert report["crop"] == "corn" and report["stages"]
    bad = tmp_path / "bad.csv"
    bad.write_text("date,rain_mm,tmax_c,tmin_c\n2027-01-01,wet,1,0\n")
    result = run("workdays", "--weather", str(bad), "--latitude", "42", "--json")
    assert result.exit_code == 5 and "wet" in result.stderr


def test_replay_plays_the_mornings_and_writes_pages(tmp_path: Path) -> None:
    # A copy: what other tests do with the scenario meanwhile (the log beside it) is none of this one's business.
    scenario = tmp_path / "wet-week"
    shutil.copytree(
        ROOT / "scenarios" / "wet-week", scenario, ignore=shutil.ignore_patterns("fitground.sqlite*")
    )
    before = {path.name for path in scenario.iterdir()}
    out = tmp_path / "out"
    result = run("replay", str(scenario), "--out", str(out), "--mornings", "2", "--seconds", "2", "--json")
    assert result.exit_code == 0, result.output
    rows = json.loads(result.stdout)
    assert [row["morning"] for row in rows] == ["2027-05-10", "2027-05-11"]
    for row in rows:
        page = Path(str(row["page"])).read_text(encoding="utf-8")
        assert "http://" not in page and "https://" not in page
    assert {path.name for path in scenario.iterdir()} == before


def test_the_plan_goes_on_paper_into_calendars_and_into_text_messages(farm: str, tmp_path: Path) -> None:
    early = run("paper", farm, "--out", str(tmp_path / "x.pdf"))
    assert early.exit_code == 1 and "no plan was issued yet" in early.output
    assert run("calendar", farm, "--out", str(tmp_path / "cal")).exit_code == 1
    run("plan", farm, "--now", MONDAY, "--seconds", "0.5")
    done = run(
        "paper", farm, "--out", str(tmp_path / "day.pdf"), "--size", "a4", "--link", "http://office.example"
    )
    assert done.exit_code == 0 and "4 pages written" in done.output
    assert (tmp_path / "day.pdf").read_bytes().startswith(b"%PDF-")
    refused = run("paper", farm, "--date", "soon").output.strip()
    assert refused.endswith("allowed: a date such as 2027-05-11, today, tomorrow, yesterday or a weekday such as fri.")  # fmt: skip
    files = run("calendar", farm, "--out", str(tmp_path / "cal"), "--now", MONDAY).output.split()
    names = {Path(file).name for file in files}
    assert {"ilse.ics", "benat.ics", "oskari.ics", "tove.ics", "rig-planter.ics"} <= names
    before = {
        path.name: (path.read_bytes(), path.stat().st_mtime_ns) for path in (tmp_path / "cal").iterdir()
    }
    run("calendar", farm, "--out", str(tmp_path / "cal"), "--now", MONDAY)
    assert before == {
        path.name: (path.read_bytes(), path.stat().st_mtime_ns) for path in (tmp_path / "cal").iterdir()
    }
    lines = run("day", farm, "--format", "sms").stdout.strip().splitlines()
    assert len(lines) == 4 and all(len(line.split(": ", 1)[1]) <= 320 for line in lines)


def test_a_long_fit_table_tells_fields_that_are_alike_once() -> None:
    """Forty rows and fewer have a line each; more are told by what is the same, and not every closed field by name."""
    rows = [
        {"field_name": f"F{k}", "pass": "plant", "date": f"2027-05-1{d}", "fit_hours": 9.0, "chance": 0.5 + 0.1 * (k % 2),
         "reason": ""}
        for k in range(41) for d in (2, 3)
    ] + [
        {"field_name": f"F{k}", "pass": "scout", "date": "2027-05-12", "fit_hours": 0.0, "chance": 0.0, "reason": "too early"}
        for k in range(20)
    ]  # fmt: skip
    text = fit_lines(rows)
    assert sum("9 h" in line for line in text) == 2
    assert all(any(re.search(rf"\bF{k}\b", line) for line in text) for k in range(41))
    assert text[-1].split() == ["scout", *(f"F{k}," for k in range(7)), "F7", "and", "12", "more"]
    few = fit_lines(rows[:80])
    assert sum("9 h" in line for line in few) == 40
