"""Every fault of a farm description is one sentence with file, key, value and what is allowed; all come at once.

The base is the starter farm, which has no fault; each case spoils one value of it. What counts as a fault is common
practice of the trade, no source.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from adapters.storage.farm_files import read_farm_folder
from scheduler.farm.build import build_farm
from scheduler.farm.starter import starter_farm
from shared.errors import FarmFileError, Fault

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"
TODAY = date(2027, 5, 10)
Change = tuple[str, str, str]


def write(folder: Path, *changes: Change) -> Path:
    """Write the starter farm with texts replaced: (file, old, new), each old text once, the first place."""
    texts = starter_farm("Spoilt")
    for file, old, new in changes:
        assert old in texts[file], f"the starter's {file} no longer holds {old!r}"
        texts[file] = texts[file].replace(old, new, 1)
    for file in ("farm.toml", "fields.csv"):
        (folder / file).write_text(texts[file], encoding="utf-8")
    return folder


def faults(folder: Path, *changes: Change, today: date | None = None) -> list[Fault]:
    """Return the faults of the changed starter farm, errors and warnings."""
    try:
        return build_farm(read_farm_folder(write(folder, *changes)), today)[1]
    except FarmFileError as error:
        return list(error.faults)


T, F = "farm.toml", "fields.csv"
# name, change, parts that the sentence must hold
CASES: list[tuple[str, Change, tuple[str, ...]]] = [
    ("negative area", (F, "88 ac", "-88 ac"), (F, "row 2", "area", "-88 ac", "allowed")),
    ("absurd area", (F, "88 ac", "60000 ac"), (F, "row 2", "area", "60000 ac", "too large")),
    ("tiny area", (F, "88 ac", "0.001 ac"), (F, "row 2", "area")),
    ("missing area", (F, "88 ac", ""), (F, "row 2", "area", "is missing")),
    ("area without unit", (F, "88 ac", "88"), (F, "row 2", "area", "'88'", "unit")),
    ("unknown texture", (F, "silty clay loam", "silty clay lome"), (F, "texture", "did you mean 'silty clay loam'")),
    ("absurd yield", (F, "205 bu/ac", "2050 bu/ac"), (F, "expected_yield", "allowed")),
    ("unknown programme", (F, ",corn,corn,", ",corn,corm,"), (F, "row 2", "'corm'", "did you mean 'corn'")),
    ("latitude and longitude swapped", (F, "42.015,-92.975", "-92.975,42.015"), (F, "row 2", "latitude", "-92.975")),
    ("far away", (F, "42.015,-92.975", "42.015,92.975"), (F, "row 2", "km from every yard", "swapped?")),
    ("same field twice", (F, "long-strip", "home-piece"), (F, "row 3", "id", "'home-piece'", "twice")),
    ("unknown key", (T, "road_speed", "road_sped"), (T, "machine[0].road_sped", "did you mean 'road_speed'")),
    ("missing width", (T, 'width = "60 ft"\n', ""), (T, "machine[1].width", "is missing")),
    ("negative speed", (T, 'speed = "9 mph"', 'speed = "-9 mph"'),
     (T, "machine[1].speed", "-9 mph", "allowed")),
    ("wrong kind of unit", (T, 'width = "60 ft"', 'width = "60 mph"'), (T, "machine[1].width", "60 mph", "allowed")),
    ("rows against width", (T, "rows = 8", "rows = 12"), (T, "machine[2].rows", "row spacing", "width")),
    ("unknown tractor", (T, 'pulled_by = ["tractor"]', 'pulled_by = ["tracter"]'),
     (T, "pulled_by", "'tracter'", "did you mean 'tractor'")),
    ("same machine twice", (T, 'id = "planter"', 'id = "sprayer"'), (T, "machine[2].id", "twice")),
    ("hours contradict", (T, 'normal_hours = "10 h"', 'normal_hours = "13.5 h"'),
     (T, "operator[0].normal_hours", "above most_hours", "at most 13 h")),
    ("shift ends before it starts", (T, 'end = "20:30"', 'end = "05:30"'),
     (T, "operator[0].shift[0].end", "05:30", "later than 06:30")),
    ("not a date", (T, "2029-03-31", "2029-13-31"), (T, "operator[0].licences[0].expires", "2029-13-31", "date")),
    ("negative stock", (T, '"6000 gal"', '"-6000 gal"'), (T, "product[0].stock", "-6000 gal")),
    ("rate of another form", (T, 'rate = "34000 seeds/ac"', 'rate = "20 gal/ac"'),
     (T, "programme[0].pass[2].product[0].rate", "20 gal/ac", "does not fit the product")),
    ("unknown product", (T, 'product = "corn-seed"', 'product = "corn-sead"'), ("'corn-sead'", "did you mean 'corn-seed'")),
    ("lags in a circle", (T, 'name = "Band nitrogen"', 'name = "Band nitrogen"\nafter = [{ pass = "plant" }]'),
     (T, "programme[0].pass", "band -> plant -> band", "waits for itself")),
    ("lag contradicts", (T, 'at_least = "2 h", at_most = "14 days"', 'at_least = "20 days", at_most = "14 days"'),
     (T, "at_most", "below at_least")),
    ("no rig for a pass", (T, 'operations = ["plant"]', 'operations = ["interseed"]'), ("plant", "can be done by no rig")),
    ("nobody has the skill", (T, '"terminate", "spray", "scout", "tissue-sample", "tender"]', '"scout", "tissue-sample", "tender"]'),
     (T, "terminate", "a skill that nobody has")),
    ("nobody holds the licence", (T, 'licences = [{ name = "applicator", expires = "2029-03-31" }]', "licences = []"),
     (T, "applicator", "held by nobody")),
    ("guidance of a pair", (T, 'guidance = "centimetre"', 'guidance = "decimetre"'),
     (T, "programme[0].pass[2].same_lines_as", "no two rigs match", "centimetre guidance")),
    ("sum of money", (T, "horizon_days = 14", 'handover_cost = "dear"\nhorizon_days = 14'),
     (T, "plan.handover_cost", "'dear'", "a sum of money")),
    ("sum below nothing", (T, "horizon_days = 14", 'change_cost = "-5 $"\nhorizon_days = 14'),
     (T, "plan.change_cost", "too small")),
    ("window closes before it opens",
     (T, 'name = "Plant corn"', 'name = "Plant corn"\nwindow = { first_date = "2027-05-20", last_date = "2027-05-01" }'),
     (T, "window.last_date", "2027-05-01", "closes before it opens")),
]  # fmt: skip


@pytest.mark.parametrize(("change", "parts"), [case[1:] for case in CASES], ids=[case[0] for case in CASES])
def test_one_spoilt_value_is_named(tmp_path: Path, change: Change, parts: tuple[str, ...]) -> None:
    found = [fault.sentence() for fault in faults(tmp_path, change) if not fault.warning]
    assert any(all(part in sentence for part in parts) for sentence in found), found


def test_a_pair_of_other_width_shares_no_lines(tmp_path: Path) -> None:
    """A 25 ft bar before a 20 ft planter: neither equal nor a whole multiple."""
    bar = 'width = "20 ft"                 # as wide as the planter that follows on its lines\nrows = 8'
    found = faults(tmp_path, (T, bar, 'width = "25 ft"\nrows = 10'))
    assert [fault.key for fault in found] == ["programme[0].pass[2].same_lines_as"]
    assert "same working width" in found[0].sentence()


def test_all_faults_come_at_once(tmp_path: Path) -> None:
    found = faults(
        tmp_path,
        (F, "88 ac", "-88 ac"),
        (F, "long-strip", "back-hill"),
        (T, 'normal_hours = "10 h"', 'normal_hours = "13.5 h"'),
        (T, "2029-03-31", "2029-13-31"),
        (T, '"6000 gal"', '"-6000 gal"'),
        (T, 'road_speed = "20 mph"', 'road_sped = "20 mph"'),
    )
    text = " ".join(fault.sentence() for fault in found)
    for part in ("-88 ac", "back-hill", "2029-13-31", "-6000 gal", "road_sped"):
        assert part in text, part


def test_expired_licence_is_a_warning(tmp_path: Path) -> None:
    found = faults(tmp_path, (T, "2029-03-31", "2027-05-01"), today=TODAY)
    assert found and all(fault.warning for fault in found)
    assert any("2027-05-01" in f.sentence() and "has expired" in f.sentence() for f in found)


def test_window_that_is_over_is_a_warning(tmp_path: Path) -> None:
    change = (T, 'name = "Plant corn"', 'name = "Plant corn"\nwindow = { last_date = "2027-05-01" }')
    found = faults(tmp_path, change, today=TODAY)
    assert [fault.warning for fault in found] == [True]
    assert "is over already" in found[0].sentence()


def test_the_starter_has_no_fault(tmp_path: Path) -> None:
    assert faults(tmp_path, today=TODAY) == []


@pytest.mark.parametrize(("name", "today"), [("wet-week", TODAY), ("closing-window", date(2027, 6, 7))])
def test_scenario_farms_have_no_fault(name: str, today: date) -> None:
    assert build_farm(read_farm_folder(SCENARIOS / name), today)[1] == []


def test_a_pass_done_everywhere_needs_no_rig() -> None:
    """In June the planter is no part of the farm's file any more: planted fields do not ask for one."""
    farm, _ = build_farm(read_farm_folder(SCENARIOS / "closing-window"))
    assert all("plant" in field.done for field in farm.fields)
    assert not any("plant" in machine.operations for machine in farm.machines)
