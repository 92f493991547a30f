"""TASKDATA out: valid by the public schema's rules, read back by a library that was not written here."""

from __future__ import annotations

import re
import zipfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from adapters.taskdata import PlannedTask, Rate, TaskFile, TaskGround, taskdata_xml, write_taskdata
from tests.adapters.boundaries.files import square
from tests.adapters.taskdata.schema_rules import violations

isoxml = pytest.importorskip("isoxml.util.isoxml_io", reason="the independent reader isoxml is not installed")
SAMPLES = Path(__file__).resolve().parents[4] / "shared" / "samples" / "TASKDATA"
START = datetime(2027, 5, 10, 12, tzinfo=UTC)
HOLE = [(-93.608, 41.901), (-93.608, 41.902), (-93.607, 41.902), (-93.607, 41.901), (-93.608, 41.901)]
SHAPE = {"type": "MultiPolygon", "coordinates": [[square(), HOLE], [square(-93.59)]]}


def example(*rates: Rate, geometry: object = SHAPE) -> TaskFile:
    ground = TaskGround("north", "North Bench", 45.5, geometry)  # type: ignore[arg-type]
    task = PlannedTask(
        "Plant corn: North Bench", "north", "plant", "Ana", rates, ((START, START + timedelta(hours=3)),)
    )
    return TaskFile("Three Alders", (ground,), (task,))


def read_back(file: TaskFile):  # type: ignore[no-untyped-def]
    return isoxml.isoxml_from_text(taskdata_xml(file, "1.0").decode())


def test_rates_in_steps_of_the_dictionary() -> None:
    """Worked out in `formats.md`: 300 L/ha are 3000000, 201.75 kg/ha 20175, 79,074 seeds/ha 7907."""
    found = read_back(
        example(Rate("N", "liquid", 300.0), Rate("Mix", "dry", 201.75), Rate("Seed", "seed", 79_074.0))
    )
    outside, whole = found.tasks[0].treatment_zones
    assert [(v.process_data_ddi.hex().upper(), v.process_data_value) for v in whole.process_data_variables] == [
        ("0001", 3_000_000), ("0006", 20_175), ("000B", 7_907),
    ]  # fmt: skip
    assert {v.process_data_value for v in outside.process_data_variables} == {0}
    assert (found.tasks[0].default_treatment_zone_code, found.tasks[0].out_of_field_treatment_zone_code) == (
        1,
        0,
    )


def test_a_document_breaks_no_rule_of_the_schema() -> None:
    found = read_back(example(Rate("N", "liquid", 225.0)))
    assert violations(found) == []
    field = found.partfields[0]
    assert (field.code, field.designator, field.area) == ("north", "North Bench", 455_000)
    assert [len(one.line_strings) for one in field.polygons] == [2, 1]
    assert [int(one.type.value) for one in field.polygons[0].line_strings] == [1, 2]
    first = field.polygons[0].line_strings[0].points[0]
    assert (float(first.north), float(first.east)) == (41.9, -93.61)
    assert int(found.tasks[0].status.value) == 1 and not found.devices


def test_the_walker_finds_what_is_broken() -> None:
    """A check of the check: each rule broken once is named."""
    content = taskdata_xml(example(Rate("N", "liquid", 225.0)), "1.0").decode()
    for old, new in (('E="PFD1"', 'E="PFD9"'), (' D="455000"', ""), ('A="WKR1" B="Ana"', 'A="WORKER" B="Ana"'), ('B="Ana"', f'B="{"x" * 40}"'), ('A="1" B="Whole field"', 'A="300" B="Whole field"')):  # fmt: skip
        assert old in content
        assert violations(isoxml.isoxml_from_text(content.replace(old, new))), (old, new)


@pytest.mark.skipif(not SAMPLES.exists(), reason="the shared samples are not beside this clone")
def test_the_sample_of_the_standard_breaks_no_rule_either() -> None:
    found, _ = isoxml.isoxml_from_path(SAMPLES / "TASKDATA.XML")
    assert violations(found) == []


names = st.text(
    st.characters(codec="utf-8", categories=["L", "N", "P", "S", "Zs"]), min_size=1, max_size=60
).filter(str.strip)


@settings(max_examples=60, deadline=None)
@given(
    farm=names, title=names, worker=names, product=names, per_ha=st.floats(0, 5000), area=st.floats(0.05, 4000),
    form=st.sampled_from(["liquid", "dry", "seed"]), hours=st.integers(1, 200),
)  # fmt: skip
def test_any_plan_makes_a_valid_document(
    farm: str, title: str, worker: str, product: str, per_ha: float, area: float, form: str, hours: int
) -> None:
    ground = TaskGround("f-1", title, area, None)
    task = PlannedTask(
        title,
        "f-1",
        "plant",
        worker,
        (Rate(product, form, per_ha),),
        ((START, START + timedelta(hours=hours)),),
    )
    found = read_back(TaskFile(farm, (ground,), (task,)))
    assert violations(found) == []
    plain = re.sub(r"[\s\x00-\x1f]", " ", title)
    assert found.tasks[0].designator == plain[:32] and found.partfields[0].area == round(area * 10_000)


def test_same_input_same_bytes_and_both_homes(tmp_path: Path) -> None:
    file = example(Rate("N", "liquid", 225.0))
    one = write_taskdata(file, tmp_path / "a.zip", "1").read_bytes()
    assert one == write_taskdata(file, tmp_path / "b.zip", "1").read_bytes()
    with zipfile.ZipFile(tmp_path / "a.zip") as archive:
        assert archive.namelist() == ["TASKDATA/TASKDATA.XML"]
        inside = archive.read("TASKDATA/TASKDATA.XML")
    assert write_taskdata(file, tmp_path / "card", "1").read_bytes() == inside
    found, _ = isoxml.isoxml_from_path(tmp_path / "card" / "TASKDATA")
    assert violations(found) == []
