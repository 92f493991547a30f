"""Soil keys of a farm: groups by tile, water limits from particles, shown before written, the old file kept.

Saxton & Rawls (2006), Table 3, is the outside check for limits and for the texture triangle: each class's mean particles are of that class.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from adapters.soil import FoundSoil, read_soil_table
from adapters.storage.farm_files import read_farm_folder
from scheduler.cli.main import main
from scheduler.farm.build import build_farm
from scheduler.farm.starter import starter_farm
from scheduler.wiring.farm_edit import replace_files
from scheduler.wiring.soils import keys_of
from scheduler.workability.published import rows
from scheduler.workability.texture import texture_of_particles
from shared.errors import FarmFileError
from tests.adapters.soil.survey import PATH, answers, rectangle
from tests.adapters.weather.fault_server import served

NOW = datetime(2027, 5, 10, 12, tzinfo=UTC)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name, text in starter_farm("Soils").items():
        (tmp_path / "farm" / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / "farm" / name).write_text(text, encoding="utf-8")
    return tmp_path / "farm"


def soils(folder: Path, *options: str | Path) -> Result:
    return CliRunner().invoke(main, ["soils", str(folder), *map(str, options)])


def test_the_class_of_every_row_of_the_published_table() -> None:
    """Saxton & Rawls (2006), Table 3: sand and clay of each class."""
    for row in rows("soil_texture"):
        assert (
            str(texture_of_particles(float(row["sand_pct"]) / 100, float(row["clay_pct"]) / 100))
            == row["texture"]
        )


def test_the_triangle_has_no_hole() -> None:
    for sand in range(101):
        for clay in range(101 - sand):
            texture_of_particles(sand / 100, clay / 100)


@pytest.mark.parametrize(("tiled", "group"), [(True, "C"), (False, "D")])
def test_a_dual_group_is_settled_by_tile(tiled: bool, group: str) -> None:
    """National Engineering Handbook 630, chapter 7: the first letter holds when drained, D when not (from memory)."""
    assert keys_of(FoundSoil(group="C/D"), tiled, False)["hydrologic_group"] == group
    assert keys_of(FoundSoil(group="B"), tiled, False)["hydrologic_group"] == "B"


def test_particles_alone_give_class_and_limits() -> None:
    """Saxton & Rawls (2006), Table 3, silty clay loam at 2.5 % organic matter: 38.2 and 21.5 % (the paper rounds)."""
    found = keys_of(FoundSoil(sand_share=0.10, clay_share=0.35, organic_matter_pct=2.5), False, False)
    assert found["texture"] == "silty clay loam"
    assert float(found["field_capacity"].split()[0]) == pytest.approx(38.2, abs=0.3)
    assert float(found["wilting_point"].split()[0]) == pytest.approx(21.5, abs=0.3)


def test_a_table_is_shown_then_written_and_the_old_file_kept(folder: Path, tmp_path: Path) -> None:
    table = tmp_path / "lab.csv"
    table.write_text(
        "field,texture,sand_pct,clay_pct,hydrologic_group,slope_pct,tiled\nHome Piece,,10,35,C/D,2.5,no\nlong-strip,loam,,,B,,\n"
    )
    before = (folder / "fields.csv").read_text()
    shown = soils(folder, "--table", table)
    assert (
        shown.exit_code == 0
        and "slope 1 % -> 2.5 %" in shown.output
        and "Nothing was written" in shown.output
    )
    assert (folder / "fields.csv").read_text() == before
    assert soils(folder, "--table", table, "--write").exit_code == 0
    farm, _ = build_farm(read_farm_folder(folder))
    home, strip = farm.field_by_id["home-piece"], farm.field_by_id["long-strip"]
    assert (home.hydrologic_group, home.tiled, home.slope_share) == ("D", False, 0.025)
    assert home.field_capacity_share == pytest.approx(0.382, abs=0.003) and strip.texture.value == "loam"
    assert home.area_ha == pytest.approx(35.6, abs=0.1) and home.hazards == ("power line",), (
        "everything else stands"
    )
    kept = list((folder / "before").rglob("fields.csv"))
    assert len(kept) == 1 and kept[0].read_text() == before


def test_what_stands_there_can_be_kept(folder: Path) -> None:
    assert soils(folder, "--texture", "sandy loam", "--write", "--only-empty").exit_code == 0
    farm, _ = build_farm(read_farm_folder(folder))
    assert farm.fields[0].texture.value == "silty clay loam"
    assert soils(folder, "--texture", "sandy loam", "--write").exit_code == 0
    assert {one.texture.value for one in build_farm(read_farm_folder(folder))[0].fields} == {"sandy loam"}


def test_the_survey_by_command(folder: Path) -> None:
    with served() as service:
        answers(
            service,
            [("999001", rectangle(-93.1, 41.9, -92.9, 42.1))],
            horizons=(("9990011", "0", "30", "31.5", "17.2", "32", "30", "5", "Clay loam"),),
        )
        result = soils(
            folder,
            "--us-survey",
            "--contact",
            "me@example.org",
            "--survey-url",
            service.url + PATH,
            "--write",
        )
    assert result.exit_code == 0 and "Exampleville clay loam" in result.output
    farm, _ = build_farm(read_farm_folder(folder))
    assert [one.hydrologic_group for one in farm.fields] == ["C", "D", "D", "C"], (
        "each field's own word about tile"
    )
    assert {one.texture.value for one in farm.fields} == {"clay loam"}
    assert farm.fields[0].field_capacity_share == pytest.approx(0.315)


def test_a_field_that_the_survey_does_not_know_is_left_as_it_is(folder: Path) -> None:
    before = (folder / "fields.csv").read_text()
    with served() as service:
        answers(service, [])
        result = soils(
            folder,
            "--us-survey",
            "--contact",
            "me@example.org",
            "--survey-url",
            service.url + PATH,
            "--write",
        )
    assert result.exit_code == 0 and result.output.count("no map unit there") == 4
    assert [line.split(",")[:9] for line in (folder / "fields.csv").read_text().splitlines()] == [
        line.split(",")[:9] for line in before.splitlines()
    ]


@pytest.mark.parametrize(
    ("options", "part"),
    [((), "one of --us-survey"), (("--texture", "chalk"), "the texture 'chalk' is not known"), (("--us-survey",), "told who asks"),
     (("--texture", "loam", "--us-survey"), "one of --us-survey"), (("--table", "nowhere.csv"), "does not exist")],
)  # fmt: skip
def test_what_cannot_be_is_said(folder: Path, options: tuple[str, ...], part: str) -> None:
    result = soils(folder, *options)
    assert result.exit_code in (1, 2) and part in result.output and "Traceback" not in result.output


@pytest.mark.parametrize(
    ("text", "part"),
    [("field,texture\nA,chalk\n", "row 2, texture: 'chalk'"), ("field,sand_pct\nA,10\n", "only one of sand_pct and clay_pct"), ("texture\nloam\n", "lacks the column field"),
     ("field,sand_pct,clay_pct\nA,10,140\n", "'140' is no percentage"), ("field,texture\nA,loam\nA,loam\n", "stands there twice"), ("field,colour\nA,red\n", "colour")],
)  # fmt: skip
def test_soil_tables_that_are_none(tmp_path: Path, text: str, part: str) -> None:
    (tmp_path / "s.csv").write_text(text)
    with pytest.raises(FarmFileError) as caught:
        read_soil_table(tmp_path / "s.csv")
    assert part in str(caught.value)


def test_a_file_that_would_spoil_the_farm_is_not_written(folder: Path) -> None:
    before = {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}
    with pytest.raises(FarmFileError, match="too large"):
        replace_files(folder, {"fields.csv": before["fields.csv"].decode().replace("88 ac", "88000 ac")}, NOW)
    assert {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()} == before
    assert replace_files(folder, {"fields.csv": before["fields.csv"].decode()}, NOW) is None, (
        "the same again changes nothing"
    )
