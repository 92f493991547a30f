"""Ways side by side: nothing changed is nothing changed to the cent, the same question has one answer, files round trip."""

from __future__ import annotations

import csv
import io
import json
import tomllib
from datetime import datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from adapters.storage.farm_files import read_farm_folder
from scheduler.cli.main import main
from scheduler.events.state import State
from scheduler.farm.build import build_farm
from scheduler.farm.starter import OwnFarm, OwnField, starter_farm
from scheduler.whatif.imagine import imagine
from scheduler.whatif.outcome import Outcome, best_of, sure_from
from scheduler.whatif.study import PRESENT, Study, Way, read_study
from scheduler.whatif.tell import against, ranked, short_name, study_csv
from scheduler.whatif.worth import KINDS, one_more_of_each, worths
from scheduler.wiring.whatif import run_ways, study_text, what_if_morning
from scheduler.wiring.workspace import open_farm
from shared.errors import FarmFileError

WET_WEEK = Path(__file__).resolve().parents[2] / "scenarios" / "wet-week"
NOW = datetime.fromisoformat("2027-05-10T05:00:00-05:00")
WAYS = (
    Way(name=PRESENT),
    Way(name="nothing at all", changes=()),
    Way(name="down", changes=("out planter until 2027-05-14",)),
    Way(name="hired", changes=("out planter until 2027-05-14", 'hire "Lent" like planter cost "900 $/day"')),
    Way(name="given up", changes=("give-up alder-bottom",)),
    Way(name="cannot", changes=("out the-moon",)),
)


@pytest.fixture(scope="module")
def outcomes() -> dict[str, Outcome]:
    morning = what_if_morning(open_farm(WET_WEEK, quiet_log=True), NOW, 0.3)
    return {one.name: one for one in run_ways(morning, WAYS, 1)}


def test_a_change_that_changes_nothing_changes_nothing_to_the_cent(outcomes: dict[str, Outcome]) -> None:
    same = outcomes["nothing at all"].model_copy(update={"name": PRESENT})
    assert same == outcomes[PRESENT]


def test_two_identical_studies_give_identical_numbers(outcomes: dict[str, Outcome]) -> None:
    morning = what_if_morning(open_farm(WET_WEEK, quiet_log=True), NOW, 0.3)
    again = run_ways(morning, [WAYS[2], WAYS[4]], 2)
    assert again == [outcomes["down"], outcomes["given up"]]


def test_money_adds_up_and_hire_is_owed(outcomes: dict[str, Outcome]) -> None:
    for one in outcomes.values():
        if not one.refused:
            assert sum(one.money.values()) == pytest.approx(one.total, abs=0.06)
            assert one.bound <= one.total + 0.01
    # Fourteen days of the plan at 900 a day.
    assert outcomes["hired"].money["hire"] == pytest.approx(14 * 900)
    assert outcomes["given up"].money["dropped"] > 0


def test_names_that_differ_at_their_end_differ_in_a_table() -> None:
    names = [f"change plan fit_chance_least {chance}" for chance in (0.2, 0.35, 0.65)]
    shown = [short_name(name) for name in names]
    assert len(set(shown)) == 3 and max(len(name) for name in shown) <= 28
    assert short_name("Hire a planter") == "Hire a planter"


def test_a_way_that_cannot_be_says_why_and_stands_last(outcomes: dict[str, Outcome]) -> None:
    rows = ranked(list(outcomes.values()))
    assert rows[-1].name == "cannot" and "the-moon" in rows[-1].refused
    assert [one.expected for one in rows[:-1]] == sorted(one.expected for one in rows[:-1])


def test_area_by_day_never_falls_and_ends_where_it_says(outcomes: dict[str, Outcome]) -> None:
    for one in outcomes.values():
        for row in one.passes:
            assert list(row.done_ha) == sorted(row.done_ha) and row.done_ha[-1] <= row.left_ha + 0.1
            if row.finished_on is not None:
                assert row.done_ha[one.days.index(row.finished_on)] == pytest.approx(row.left_ha, abs=0.1)


def test_the_table_file_holds_every_way(outcomes: dict[str, Outcome]) -> None:
    rows = list(csv.DictReader(io.StringIO(study_csv(list(outcomes.values())))))
    assert {row["way"] for row in rows} == set(outcomes) - {"cannot"}
    assert all(float(row["expected_loss"]) > 0 for row in rows)


def test_a_study_written_and_read_is_the_same() -> None:
    study = Study(
        question='Who "pays"?',
        always=("out planter",),
        way=(Way(name="Beñat", changes=('hours all "05:00-22:00"',)),),
    )
    assert read_study(tomllib.loads(study_text(study)), "x.toml") == study


def test_every_fault_of_a_study_is_named() -> None:
    values = {
        "questoin": "", "always": ["fire benat"],
        "way": [{"name": "a", "changes": ["out"]}, {"name": "A", "changes": []}],
    }  # fmt: skip
    with pytest.raises(FarmFileError) as refusal:
        read_study(values, "s.toml")
    said = " ".join(fault.sentence() for fault in refusal.value.faults)
    for part in ("did you mean 'question'", "fire benat", "way[0].changes[0]", "stands there twice"):
        assert part in said


def test_the_command(tmp_path: Path) -> None:
    table = tmp_path / "t.csv"
    asked = [
        "whatif",
        str(WET_WEEK),
        "-c",
        "off sat + off fri",
        "--now",
        "2027-05-10 05:00",
        "--seconds",
        "0.3",
    ]
    out = CliRunner().invoke(main, [*asked, "--processes", "1", "--csv", str(table)])
    assert out.exit_code == 0 and "against now" in out.output and "off sat + off fri" in table.read_text()
    told = CliRunner().invoke(main, [*asked, "--processes", "1", "--json"])
    assert {way["name"] for way in json.loads(told.output)["ways"]} == {PRESENT, "off sat + off fri"}
    wrong = CliRunner().invoke(main, ["whatif", str(WET_WEEK), "no-such-study"])
    assert wrong.exit_code == 2 and "Traceback" not in wrong.output


def test_one_more_of_each_is_a_way_that_can_be() -> None:
    """Every line is planned; the pair that shares lines is widened together, or its widths would not match."""
    farm = open_farm(WET_WEEK, quiet_log=True).farm
    kinds = one_more_of_each(farm)
    assert {kind for kind, _ in kinds.values()} == set(KINDS)
    for _, way in kinds.values():
        imagine(farm, State(), NOW, way.changes)
    (pair,) = [way for _, way in kinds.values() if "nbar,planter" in way.changes[0]]
    wide = imagine(farm, State(), NOW, pair.changes).situation.farm.machine_by_id
    assert wide["planter"].rows == wide["nbar"].rows == 16


def test_worth_is_the_present_loss_less_that_with_one_more(outcomes: dict[str, Outcome]) -> None:
    kinds = {"down": ("machine", WAYS[2]), "cannot": ("machine", WAYS[5])}
    (only,) = worths(kinds, list(outcomes.values()))
    assert only.gain == pytest.approx(outcomes[PRESENT].total - outcomes["down"].total)


def test_of_two_searches_the_better_counts_and_their_distance_says_what_is_sure(
    outcomes: dict[str, Outcome],
) -> None:
    one = outcomes["down"]
    dear = one.model_copy(update={"total": one.total + 70.0, "odds": None})
    refused = outcomes["cannot"]
    best = best_of([dear, one.model_copy(update={"odds": None}), refused])
    assert (best.total, best.total_apart, best.expected_apart) == (one.total, 70.0, 70.0)
    assert best_of([refused, refused]) == refused
    assert sure_from([70.0, 30.0]) == 100.0 and sure_from([]) == 0.0
    present = outcomes[PRESENT].model_copy(update={"odds": None})
    near = present.model_copy(update={"name": "near", "total": present.total - 60.0})
    assert (against(near, present, 50.0), against(near, present, 70.0)) == ("saves $60", "about the same")


def test_machines_and_people_alike_are_asked_for_once(tmp_path: Path) -> None:
    """Three sets of the starter farm: the widths change set by set, so that each planter finds a bar as wide."""
    own = OwnFarm(
        (OwnField("a", "A", 2500.0, 42.0, -93.0),), yard_latitude_deg=42.0, yard_longitude_deg=-93.0
    )
    for name, text in starter_farm("Alike", own=own).items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8")
    farm, _ = build_farm(read_farm_folder(tmp_path))
    assert len([one for one in farm.machines if "plant" in one.operations]) == 3
    kinds = one_more_of_each(farm)
    assert [kind for kind, _ in kinds.values()] == [
        "hours", "day", "operator", "hours", "day", "operator", *["machine"] * 5, "width", "width", "tank", "tank",
    ]  # fmt: skip
    wide = next(way for name, (kind, way) in kinds.items() if kind == "width" and "such set" in name)
    there = imagine(farm, State(), NOW, wide.changes).situation.farm
    widths = sorted((one.width_m, one.operations[0]) for one in there.machines if one.width_m and one.rows)
    assert len({width for width, _ in widths}) == 2 and widths[-2][0] == widths[-1][0]
    # One that is down is like none that runs.
    apart = one_more_of_each(farm, ["planter-2"])
    assert len([name for name, (kind, _) in apart.items() if kind == "machine"]) == 6


def test_the_worth_command() -> None:
    asked = ["worth", str(WET_WEEK), "--now", "2027-05-10 05:00", "--seconds", "0.2", "--processes", "1"]
    answer = json.loads(CliRunner().invoke(main, [*asked, "--kind", "tank", "--json"]).output)
    gains = [row["gain"] for row in answer["worth"]]
    assert len(gains) == 3 and gains == sorted(gains, reverse=True) and answer["sure_from"] >= 0
