"""`fitground calibrate`: from the public weekly reports (open data), from past records, from spade tests; kept as events.

Source of the weeks and the weather: SOURCES.md beside the open data (weekly days suitable, central Iowa; daily weather of Ames).
"""

from __future__ import annotations

import csv
import json
import shutil
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from adapters.files.past_records import read_past_checks, read_week_reports
from scheduler.cli.main import main
from scheduler.wiring.mornings import look_ahead
from scheduler.wiring.news import read_state
from scheduler.wiring.workspace import open_farm
from scheduler.workability.calibrate import WeekReport, aligned
from shared.errors import FarmFileError
from tests.data_paths import open_data
from tests.whatif.test_ways import NOW
from tests.workability.open_data import AMES, ames

WET_WEEK = Path(__file__).resolve().parents[2] / "scenarios" / "wet-week"


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    shutil.copytree(WET_WEEK, tmp_path / "farm", ignore=shutil.ignore_patterns("*.sqlite*"))
    return tmp_path / "farm"


def run(*words: str, hour: str = "05:00") -> Result:
    return CliRunner().invoke(main, [*words, "--now", f"2027-05-10 {hour}"])


def weather_file(folder: Path) -> Path:
    rows = csv.DictReader(open_data("ames_daily_1980_2019.csv").open(encoding="utf-8"))
    path = folder / "ames.csv"
    lines = [
        f"{r['date']},{r['rain']},{r['maxt']},{r['mint']},{r['radn']}" for r in rows if r["date"] >= "1986"
    ]
    path.write_text("date,rain_mm,tmax_c,tmin_c,solar_mj_m2\n" + "\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_weekly_reports_move_the_limits_and_the_weeks_held_back_agree(farm: Path, tmp_path: Path) -> None:
    weeks = open_data("nass_iowa_central_days_suitable_1988_2012.csv")
    done = run(
        "calibrate", str(farm), "--weeks", str(weeks), "--weather", str(weather_file(tmp_path)), "--json"
    )
    answer = json.loads(done.output)
    (learned,) = answer["learned"]
    assert answer["kept"] and learned["field"] is None
    assert learned["error_after"] <= learned["error_before"], "every fourth week was not used for fitting"
    assert learned["error_after"] < 0.75
    workspace = open_farm(farm)
    situation, outlook = look_ahead(workspace, NOW)
    assert situation.calibrated[""].limit_shift == learned["limit_shift"]
    # Taken back, everything is as before.
    before = look_ahead(open_farm(WET_WEEK, quiet_log=True), NOW)[1]
    assert run("report", str(farm), "correct", answer["kept"][0], "nothing", hour="05:10").exit_code == 0
    again = look_ahead(open_farm(farm), NOW.replace(minute=15))[1]
    key = next(iter(before.fit))
    rig = next(iter(before.fit[key]))
    if learned["limit_shift"]:
        assert (outlook.fit[key][rig].chance != before.fit[key][rig].chance).any()
    assert (again.fit[key][rig].chance[12:] == before.fit[key][rig].chance[12:]).all()


def test_the_day_on_which_a_week_ends_is_found() -> None:
    """Until about 2005 the dates of the open table mean the day after the week, later its last day (SOURCES.md beside it)."""
    told = read_week_reports(open_data("nass_iowa_central_days_suitable_1988_2012.csv"))
    found = aligned(ames("1986-01-01", "2012-12-31"), AMES, [WeekReport(day, value) for day, value in told])
    changed = min(report.week_ending.year for report in found if report.ends_before_d == 0)
    assert abs(changed - 2005) <= 5
    assert all(report.ends_before_d == int(report.week_ending.year < changed) for report in found)


def test_spade_tests_are_kept_with_their_sureness_and_not_counted_twice(farm: Path) -> None:
    for field, verdict in (("mill-flat", "unfit"), ("sand-loop", "fit")):
        assert run("report", str(farm), "ground", field, verdict).exit_code == 0
    seen = look_ahead(open_farm(farm), NOW.replace(hour=6))[1]
    assert "ground checks" in seen.fields["mill-flat"].learned and "+-" in seen.fields["mill-flat"].learned
    shown = run("calibrate", str(farm), "--dry-run", hour="06:00")
    assert "Mill Flat" in shown.output and "->" in shown.output and "Nothing was kept" in shown.output
    kept = json.loads(run("calibrate", str(farm), "--json", hour="06:00").output)
    bodies = {body["field"]: body for body in kept["learned"]}
    assert bodies["mill-flat"]["limit_shift"] < 0 < bodies["sand-loop"]["limit_shift"]
    assert bodies["mill-flat"]["drying_factor"] > 1
    after = look_ahead(open_farm(farm), NOW.replace(hour=7))[1]
    assert "ground checks" not in after.fields["mill-flat"].learned
    assert "calibrated" in after.fields["mill-flat"].learned
    assert len(read_state(open_farm(farm)).facts) == 4


def test_past_records_of_a_file_count(farm: Path, tmp_path: Path) -> None:
    """Too wet on days that the model calls dry lowers the limit, worked on days that it calls wet raises it."""
    path = tmp_path / "past.csv"

    def learned(*rows: str) -> dict[str, float]:
        path.write_text("date,field,verdict,time\n" + "\n".join(rows) + "\n", encoding="utf-8")
        told = json.loads(run("calibrate", str(farm), "--records", str(path), "--dry-run", "--json").output)
        (body,) = told["learned"]
        return {key: float(body[key]) for key in ("limit_shift", "limit_sd", "drying_factor")}

    dry = [f"2027-05-{day:02d},Kiln Field" for day in (1, 5)]
    wet = ["2027-05-03,kiln", "2027-05-08,kiln"]
    low = learned(*(f"{row},too wet,15:00" for row in dry))
    high = learned(*(f"{row},worked,15:00" for row in wet))
    assert low["limit_shift"] < -0.01 < 0.01 < high["limit_shift"]
    assert low["drying_factor"] > high["drying_factor"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("date,field\n", "lacks the column verdict"),
        ("date,field,verdict\n", "holds no row below its headings"),
        ("date,field,verdict\n2027-13-01,kiln,fit\n", "is not a date"),
        ("date,field,verdict\n2027-05-01,moon,fit\n", "is no field of this farm"),
        ("date,field,verdict\n2027-05-01,kiln,soggy\n", "is not known"),
        ("date,field,verdict,time\n2027-05-01,kiln,fit,night\n", "is no time of day"),
    ],
)
def test_faults_of_a_records_file_are_sentences(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "past.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FarmFileError, match=said):
        read_past_checks(path, {"kiln": "Kiln Field"})


def test_records_as_a_spreadsheet_keeps_them(tmp_path: Path) -> None:
    path = tmp_path / "past.csv"
    path.write_text("Day;Field;Found;Time\n5/14/2026;Kiln Field;Too wet;\n5/6/2026;kiln;worked;7:30 AM\n")
    found = read_past_checks(path, {"kiln": "Kiln Field"})
    assert [(one.day.day, one.at.hour, str(one.verdict)) for one in found] == [(14, 12, "unfit"), (6, 7, "fit")]  # fmt: skip


def test_weekly_reports_are_read_from_the_public_answer(tmp_path: Path) -> None:
    """The shape of the public service's answer: rows under data with week_ending and Value."""
    path = tmp_path / "weeks.json"
    path.write_text(
        json.dumps({"data": [{"week_ending": "2026-04-19", "Value": "3.8", "unit_desc": "DAYS / WEEK"}]})
    )
    assert read_week_reports(path) == [(date(2026, 4, 19), 3.8)]
    path.write_text(
        "Program,Week Ending,Data Item,Value\nSURVEY,04/19/2026,days,3.8\nSURVEY,04/12/2026,days,2\n"
    )
    assert read_week_reports(path) == [(date(2026, 4, 12), 2.0), (date(2026, 4, 19), 3.8)]
    path.write_text("week_ending,days_suitable\n2026-04-19,5\n2026-04-19,5\n2026-04-19,4\n")
    with pytest.raises(FarmFileError, match=r"row 4, .*'4' differs from 5.* of the week of 2026-04-19"):
        read_week_reports(path)
    path.write_text("week_ending,days_suitable\n2026-04-19,9\n")
    with pytest.raises(FarmFileError, match="0 to 7 days"):
        read_week_reports(path)


def test_nothing_to_learn_from_is_one_sentence(farm: Path) -> None:
    told = run("calibrate", str(farm))
    assert told.exit_code == 1 and "no spade test in the log" in told.output
