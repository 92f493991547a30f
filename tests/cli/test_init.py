"""`fitground init`: from boundaries or a list to a farm that plans, by flags and by conversation; nothing half-written."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from adapters.storage.farm_files import read_farm_folder
from scheduler.cli.main import main
from scheduler.farm.build import build_farm
from scheduler.farm.machine import work_rate_ha_per_h
from scheduler.wiring.boundaries import geometries
from tests.adapters.boundaries.files import bow_tie, feature, geojson, shape_zip, square

BEGIN = ("--begin", "2027-05-10")


def init(*arguments: str | Path, keys: str | None = None) -> Result:
    return CliRunner().invoke(main, ["init", *map(str, arguments)], input=keys)


def test_a_shapefile_becomes_a_farm_that_plans_in_one_command(tmp_path: Path) -> None:
    source = shape_zip(tmp_path / "f.zip", [("North", square()), ("South", square(-93.60))])
    folder = tmp_path / "farm"
    result = init(folder, "--from", source, "--cover", "rye", *BEGIN, "--plan", "--seconds", "1", "--json")
    assert result.exit_code == 0, result.output
    plan = json.loads(result.stdout)["plan"]
    assert {block["field"] for block in plan["blocks"]} <= {"north", "south"} and plan["blocks"]
    farm, warnings = build_farm(read_farm_folder(folder))
    assert not [one for one in warnings if not one.warning] and farm.fields[0].cover.value == "rye"
    assert set(geometries(folder)) == {"north", "south"}
    assert farm.fields[0].area_ha == pytest.approx(23.0, abs=0.1)


def test_the_conversation_asks_and_the_answers_are_written(tmp_path: Path) -> None:
    source = geojson(
        tmp_path / "f.geojson",
        feature(bow_tie(), name="Tie"),
        feature(square(-93.5), name="Whole", crop="corn"),
    )
    folder = tmp_path / "farm"
    answers = [folder, "Three Oaks", source, "y", "soybean", "clover", "41.95, -93.55", "metric"]
    result = init("--ask", *BEGIN, keys="\n".join(map(str, answers)) + "\n")
    assert result.exit_code == 0, result.output
    assert "--repair" in result.output and "Mend these outlines?" in result.output
    farm, _ = build_farm(read_farm_folder(folder))
    assert (farm.name, farm.units, farm.yards[0].latitude_deg) == ("Three Oaks", "metric", 41.95)
    assert [(one.id, one.crop.value, one.cover.value) for one in farm.fields] == [
        ("tie", "soybean", "clover"),
        ("whole", "corn", "clover"),
    ]


def test_a_column_of_hybrids_becomes_products_that_are_planned(tmp_path: Path) -> None:
    source, folder = tmp_path / "list.csv", tmp_path / "farm"
    source.write_text(
        "Field,Acres,Lat,Long,Crop,Hybrid\n"
        "Top,40,42.01,-93.02,corn,Tall Ear 107\nBottom,60,42.03,-93.05,corn,Short Ear 99\n"
        "Pond,80,42.02,-93.01,corn,Tall Ear 107\nLot,30,42,-93.03,corn,\nLong,70,42.05,-93.02,soybean,Corn seed\n",
        encoding="utf-8",
    )
    result = init(folder, "--from", source, "--cover", "rye", *BEGIN)
    assert result.exit_code == 0, result.output
    assert "Tall Ear 107, Short Ear 99, Corn seed." in result.output
    farm, _ = build_farm(read_farm_folder(folder))
    sown = {one.id: next(iter(farm.taken_by(farm.spec(one.id, "plant")))) for one in farm.fields}
    # A seed that is called as one of the usual products is gets an id of its own.
    assert sown == {
        "top": "tall-ear-107",
        "bottom": "short-ear-99",
        "pond": "tall-ear-107",
        "lot": "corn-seed",
        "long": "corn-seed-2",
    }
    bags = {name: farm.product_by_id[name].amount(farm.product_by_id[name].stock) for name in sown.values()}
    assert (
        bags["tall-ear-107"]
        >= 120 * 34000
        > bags["short-ear-99"]
        >= 60 * 34000
        > bags["corn-seed"]
        >= 30 * 34000
    )
    assert bags["corn-seed-2"] >= 70 * 140000


def test_the_conversation_asks_for_columns_that_look_like_something(tmp_path: Path) -> None:
    source, folder = tmp_path / "list.csv", tmp_path / "farm"
    source.write_text(
        "Piece,acres,lat,lon,CRP27\nLow Meadow,20,42,-93,soybean\nCrane Marsh,30,42.01,-93,corn\n"
    )
    answers = ["y", "n", "none", "", "us"]
    result = init(folder, "--ask", "--name", "X", "--from", source, *BEGIN, keys="\n".join(answers) + "\n")
    assert result.exit_code == 0, result.output
    assert (
        "Column 'CRP27' looks like the crop" in result.output
        and "'Piece' looks like the name" in result.output
    )
    farm, _ = build_farm(read_farm_folder(folder))
    assert [(one.name, one.crop.value) for one in farm.fields] == [
        ("Field 1", "soybean"),
        ("Field 2", "corn"),
    ]


def test_no_in_the_conversation_leaves_nothing(tmp_path: Path) -> None:
    source, folder = geojson(tmp_path / "f.geojson", feature(bow_tie(), name="Tie")), tmp_path / "farm"
    result = init(folder, "--ask", "--name", "X", "--from", source, keys="n\n")
    assert result.exit_code == 2 and not folder.exists()


@pytest.mark.parametrize("broken", ["crosses", "projection", "folder taken", "bad column", "bad value"])
def test_nothing_is_left_of_an_init_that_fails(tmp_path: Path, broken: str) -> None:
    folder, extra = tmp_path / "farm", []
    source = geojson(tmp_path / "f.geojson", feature(square(), name="A"))
    if broken == "crosses":
        source = geojson(tmp_path / "f.geojson", feature(bow_tie(), name="A"))
    elif broken == "projection":
        source = shape_zip(tmp_path / "f.zip", [("A", square())], None)
    elif broken == "folder taken":
        folder.mkdir()
        (folder / "fields.csv").write_text("mine")
    elif broken == "bad column":
        extra = ["--column", "name"]
    else:
        source = geojson(tmp_path / "f.geojson", feature(square(), name="A", slope="steep"))
    before = sorted(path for path in tmp_path.rglob("*"))
    result = init(folder, "--from", source, *extra)
    assert result.exit_code in (1, 2) and result.stderr and "Traceback" not in result.output
    assert sorted(path for path in tmp_path.rglob("*")) == before
    if broken == "bad value":
        assert "A, slope" in result.stderr and "'steep'" in result.stderr


def test_a_large_farm_gets_machines_in_proportion(tmp_path: Path) -> None:
    source = geojson(
        tmp_path / "f.geojson",
        *[feature(square(-93.9 + k * 0.03, 41.7, 0.025), name=f"P{k}") for k in range(10)],
    )
    folder = tmp_path / "farm"
    assert init(folder, "--from", source, *BEGIN).exit_code == 0
    farm, _ = build_farm(read_farm_folder(folder))
    planters = [one for one in farm.machines if "plant" in one.operations]
    area_ac = sum(one.area_ha for one in farm.fields) * 2.471
    rates = [
        work_rate_ha_per_h(one.width_m, one.speed_km_h, one.field_efficiency)
        for one in planters
        if one.width_m and one.speed_km_h
    ]
    days = area_ac / (sum(rates) * 2.471 * 9)
    assert len(planters) == 7 and 8 < days <= 10.1, (len(planters), days)
    names = [one.name for one in farm.operators]
    assert names[:3] == ["First operator", "Second operator", "Third operator"]
    assert names[-2:] == ["13th operator", "14th operator"]


def test_live_weather_is_named_with_its_contact(tmp_path: Path) -> None:
    source, folder = geojson(tmp_path / "f.geojson", feature(square(), name="A")), tmp_path / "farm"
    result = init(folder, "--from", source, "--contact", "me@example.org")
    assert result.exit_code == 0 and "--now" not in result.output
    farm, _ = build_farm(read_farm_folder(folder))
    assert (
        farm.weather.forecast == ("us-national", "norway")
        and farm.weather.options["contact"] == "me@example.org"
    )
    assert not (folder / "weather").exists()
