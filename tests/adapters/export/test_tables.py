"""Exports opened by programs that were not written here: pandas with pyarrow, shapely, jsonschema."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pandas as pd
import pyarrow.parquet as parquet
import pytest
from shapely.geometry import shape

from adapters.export.tables import feature, write_table
from scheduler.farm.service_settings import StoreSettings
from scheduler.wiring.export import SCHEMAS, export_farm, plan_schema, without_secrets
from scheduler.wiring.mornings import issue, plan_morning
from scheduler.wiring.workspace import open_farm
from tests.service.farms import at, wet_week

ROWS = [
    {"a": "=1+1", "b": 2.5, "c": None},
    {"a": "+49 30", "b": -1.0, "c": "x"},
    {"a": 'plain, with "quotes"\nand lines', "b": 0.0, "c": "ñ"},
]


def test_a_table_comes_back_alike_from_both_forms_and_no_cell_is_a_formula(tmp_path: Path) -> None:
    csv, packed = write_table(tmp_path, "t", ROWS, ("a", "b", "c"))
    read = pd.read_csv(csv)
    assert list(read["a"]) == ["'=1+1", "'+49 30", ROWS[2]["a"]]
    assert list(read["b"]) == [2.5, -1.0, 0.0]
    assert parquet.read_table(packed).to_pylist() == ROWS
    assert sorted(path.name for path in tmp_path.iterdir()) == ["t.csv", "t.parquet"]


def test_a_table_without_rows_still_has_its_columns(tmp_path: Path) -> None:
    csv, packed = write_table(tmp_path, "t", [], ("a", "b"))
    assert csv.read_text() == "a,b\n"
    assert parquet.read_table(packed).column_names == ["a", "b"]


@pytest.mark.parametrize("ring", [[(0, 0), (1, 0), (1, 1), (0, 1)], [(0, 0), (0, 1), (1, 1), (1, 0)]])
def test_outlines_run_counter_clockwise_and_are_closed(ring: list[tuple[float, float]]) -> None:
    """RFC 7946, 3.1.6: a linear ring is closed, and exterior rings run counter-clockwise; judged by shapely."""
    outline = {"type": "Polygon", "coordinates": [[*ring, ring[0]]]}
    made = shape(feature(outline, (0.5, 0.5), {"id": "f"})["geometry"])
    assert made.is_valid and made.exterior.is_ccw and made.area == pytest.approx(1.0)
    assert shape(feature(None, (0.5, 0.25), {"id": "f"})["geometry"]).coords[0] == (0.5, 0.25)


def test_a_farm_goes_out_whole(tmp_path: Path) -> None:
    space = open_farm(wet_week(tmp_path))
    now = at(10, "07:30")
    assert {path.name for path in export_farm(space, tmp_path / "before", now)} == {
        "fields.geojson",
        "fit.csv",
        "fit.parquet",
        "farm.json",
        "events.json",
        "farm.schema.json",
        "events.schema.json",
        "plan.schema.json",
    }
    morning = plan_morning(space, at(10, "05:00"), 0.5)
    issue(space, morning)
    files = {path.name for path in export_farm(space, tmp_path / "out", now)}
    assert {
        "plan.csv",
        "plan.parquet",
        "plan.json",
        "plan.schema.json",
        "later.csv",
        "fit.parquet",
        "fields.geojson",
    } <= files
    blocks = pd.read_parquet(tmp_path / "out" / "plan.parquet")
    assert len(blocks) == len(morning.plan.blocks)
    assert blocks["area_ha"].sum() == pytest.approx(sum(block.area_ha for block in morning.plan.blocks))
    fit = pd.read_csv(tmp_path / "out" / "fit.csv")
    assert fit["chance"].between(0, 1).all() and set(fit["field"]) <= {
        field.id for field in space.farm.fields
    }
    for name in ("farm", "events"):
        made, shape_of = (
            json.loads((tmp_path / "out" / f"{name}{end}.json").read_text(encoding="utf-8"))
            for end in ("", ".schema")
        )
        jsonschema.Draft202012Validator.check_schema(shape_of)
        jsonschema.validate(made, shape_of, cls=jsonschema.Draft202012Validator)
    assert made and made[-1]["kind"] == "plan_issued"
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(
            [made[0] | {"body": {"surprise": 1}}], shape_of, cls=jsonschema.Draft202012Validator
        )
    document = json.loads((tmp_path / "out" / "plan.json").read_text(encoding="utf-8"))
    schema = json.loads((tmp_path / "out" / "plan.schema.json").read_text(encoding="utf-8"))
    assert schema == plan_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(document, schema, cls=jsonschema.Draft202012Validator)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(document | {"blocks": [{"id": 1}]}, schema, cls=jsonschema.Draft202012Validator)
    fields = json.loads((tmp_path / "out" / "fields.geojson").read_text(encoding="utf-8"))["features"]
    assert [one["id"] for one in fields] == [field.id for field in space.farm.fields]
    assert {one["properties"]["status"] for one in fields} >= {"fit", "marginal"}


@pytest.mark.parametrize("name", ["plan", "farm", "events"])
def test_the_published_schemas_are_those_of_the_models(name: str) -> None:
    """`python -m scheduler.wiring.schemas` writes them anew."""
    published = Path(__file__).resolve().parents[3] / "docs" / "schema" / f"{name}.schema.json"
    assert json.loads(published.read_text(encoding="utf-8")) == json.loads(json.dumps(SCHEMAS[name]()))


def test_no_password_goes_out(tmp_path: Path) -> None:
    farm = open_farm(wet_week(tmp_path)).farm
    weather = farm.weather.model_copy(update={"options": {"api_key": "secret-1"}})
    store = StoreSettings(url="postgresql://secret-2.example/x")
    told = without_secrets(farm.model_copy(update={"store": store, "weather": weather})).model_dump_json()
    assert "secret" not in told and farm.name in told
