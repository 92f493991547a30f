"""The farm's own table of roads: minutes by hand, roads that are too narrow, and the checker that knows them too.

Travel times are worked out by hand: 12 minutes at 20 mph are 4 miles (6.437 km); at 25 mph those 4 miles take 9.6 minutes.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from adapters.storage.farm_files import read_farm_folder
from scheduler.farm.build import build_farm
from scheduler.farm.farm import Farm
from scheduler.farm.road_table import Road
from scheduler.farm.roads import road_minutes, way_km
from scheduler.farm.starter import starter_farm
from scheduler.planning.check_days import NEVER, road
from scheduler.planning.checker import check_plan
from scheduler.planning.places import Places
from scheduler.planning.schedule import make_plan
from scheduler.solver.result import Limits
from shared.errors import FarmFileError, Fault
from tests.planning import builders as make

MPH = 1.609344
HEAD = "from,to,road,widest,around,at,note\n"


def farm_of(folder: Path, *rows: str, toml: tuple[str, str] | None = None) -> tuple[Farm, list[Fault]]:
    """Return the starter farm with a road table."""
    for file, text in starter_farm("Roads").items():
        if "/" not in file:
            (folder / file).write_text(text.replace(*toml) if toml else text, encoding="utf-8")
    (folder / "roads.csv").write_text(HEAD + "\n".join(rows) + "\n", encoding="utf-8")
    return build_farm(read_farm_folder(folder))


def said(folder: Path, *rows: str) -> str:
    with pytest.raises(FarmFileError) as caught:
        farm_of(folder, *rows)
    return str(caught.value)


def test_minutes_and_miles_by_hand(tmp_path: Path) -> None:
    farm, _ = farm_of(
        tmp_path,
        "home,home-piece,12 min,,,20 mph,bridge",
        "home-piece,long-strip,3.5 mi,,,,",
        "home,long-strip,30 min,,,10 mph,",
    )
    home, piece, strip = farm.yards[0], farm.field_by_id["home-piece"], farm.field_by_id["long-strip"]
    assert way_km(farm, home, piece) == pytest.approx(4 * MPH)
    assert road_minutes(farm, piece, home, 25 * MPH) == pytest.approx(9.6), (
        "both ways, at the machine's own speed"
    )
    assert way_km(farm, piece, strip) == pytest.approx(3.5 * MPH)
    assert way_km(farm, home, strip) == pytest.approx(5 * MPH)
    places = Places(farm)
    assert places.quarters(10 * MPH)[0, places.site["home-piece"]] == 2, (
        "4 miles at 10 mph: 24 minutes, two quarters"
    )
    assert road(farm, home, piece, 10 * MPH, 0.0).total_seconds() == pytest.approx(24 * 60)


def test_a_road_that_is_too_narrow_is_gone_around_or_not_at_all(tmp_path: Path) -> None:
    farm, warnings = farm_of(tmp_path, "home,home-piece,6 mi,18 ft,9 mi,,", "home,back-hill,4 mi,12 ft,,,")
    home, piece, hill = farm.yards[0], farm.field_by_id["home-piece"], farm.field_by_id["back-hill"]
    assert way_km(farm, home, piece, 17 * 0.3048) == pytest.approx(6 * MPH)
    assert way_km(farm, home, piece, 20 * 0.3048) == pytest.approx(9 * MPH)
    assert (
        way_km(farm, home, hill, 20 * 0.3048) is None and road(farm, home, hill, 30.0, 20 * 0.3048) == NEVER
    )
    barred = [one.sentence() for one in warnings]
    assert len([one for one in barred if "Back Hill" in one]) == 3, (
        "sprayer, planter and bar; no tractor, no truck"
    )
    assert any("Planter (20.0 ft wide; its working width counts" in one for one in barred)
    folded, fewer = farm_of(
        tmp_path,
        "home,back-hill,4 mi,12 ft,,,",
        toml=('hitch = "20 min"\n', 'hitch = "20 min"\nroad_width = "11 ft"\n'),
    )
    assert way_km(folded, folded.yards[0], folded.field_by_id["back-hill"], 11 * 0.3048) is not None
    assert [one for one in fewer if "Planter" in one.sentence()] == []


@pytest.mark.parametrize(
    ("row", "parts"),
    [
        ("home,home-peace,4 mi,,,,", ("row 2, to", "'home-peace'", "did you mean 'home-piece'")),
        ("home,home,4 mi,,,,", ("is where the road begins",)), ("home,back-hill,1 ft,,,,", ("row 2, road", "allowed")),
        ("home,back-hill,0.2 mi,,,,", ("shorter than the straight line",)), ("home,back-hill,soon,,,,", ("neither a distance nor a time",)),
        ("home,back-hill,4 mi,,9 mi,,", ("nothing is too wide",)), ("home,back-hill,4 mi,,,,\nhome,back-hill,5 mi,,,,", ("row 3", "twice")),
        ("home,back-hill,5000 mi,,,,", ("cannot be right",)),
    ],
)  # fmt: skip
def test_a_row_that_cannot_be(tmp_path: Path, row: str, parts: tuple[str, ...]) -> None:
    text = said(tmp_path, row)
    assert "roads.csv" in text and all(part in text for part in parts), text


def with_roads(*roads: Road, **widths: float) -> Farm:
    farm = make.farm(3)
    machines = tuple(m.model_copy(update={"road_width_m": widths.get(m.id, 2.5)}) for m in farm.machines)
    return farm.model_copy(update={"roads": roads, "machines": machines})


def table(**more: Any) -> Road:
    return Road(from_id="home", to_id="f1", road_km=8.0, **more)


def test_a_plan_keeps_to_the_table_and_the_checker_sees_a_plan_that_does_not() -> None:
    plain = make.farm(3)
    short = make_plan(
        make.situation(plain), make.outlook(plain), make.horizon(), Limits(seconds=0.5), use_engine=False
    )
    farm = with_roads(table(widest_m=4.0, around_km=20.0), planter=6.0)
    situation, outlook = make.situation(farm), make.outlook(farm)
    plan = make_plan(situation, outlook, make.horizon(), Limits(seconds=1.0))
    assert check_plan(plan, situation, outlook) == []
    faults = check_plan(short, situation, outlook)
    assert any(
        "in the field" in fault or "the road" in fault or "leave before" in fault for fault in faults
    ), faults


def test_who_cannot_come_does_not_come_and_is_named() -> None:
    farm = with_roads(table(widest_m=4.0), planter=6.0)
    situation, outlook = make.situation(farm), make.outlook(farm)
    plan = make_plan(situation, outlook, make.horizon(), Limits(seconds=1.0))
    assert not [b for b in plan.blocks if b.field == "f1" and b.pass_id == "plant"]
    assert [b for b in plan.blocks if b.field == "f2" and b.pass_id == "plant"]
    assert any(b.field == "f1" for b in plan.blocks), "the sprayer and the bar are narrow enough"
    row = next(one for one in plan.left_out if (one.field, one.pass_id) == ("f1", "plant"))
    assert "no road to it is wide enough" in row.text
    forced = next(b for b in plan.blocks if b.field == "f2" and b.pass_id == "plant")
    moved = plan.model_copy(
        update={
            "blocks": tuple(
                b.model_copy(update={"field": "f1"}) if b.id == forced.id else b for b in plan.blocks
            )
        }
    )
    assert any("in the field" in fault for fault in check_plan(moved, situation, outlook))


def test_a_tractor_with_a_narrow_and_a_wide_implement() -> None:
    """The tractor's own table takes the wide way where there is one, the narrow one where the wide machine may not go at all."""
    farm = with_roads(table(widest_m=4.0), planter=6.0)
    places = Places(farm)
    home, far = 0, places.site["f1"]
    assert places.machine_moves(farm.machine_by_id["big"]).minutes[home, far] == int(np.ceil(8.0 / 30.0 * 4))
    assert places.machine_moves(farm.machine_by_id["planter"]).minutes[home, far] == 96
    around = Places(replace_roads(farm, table(widest_m=4.0, around_km=20.0)))
    assert around.machine_moves(farm.machine_by_id["big"]).minutes[home, far] == int(np.ceil(20.0 / 25.0 * 4))


def replace_roads(farm: Farm, *roads: Road) -> Farm:
    return farm.model_copy(update={"roads": roads})


def test_no_table_changes_nothing() -> None:
    farm = make.farm(3)
    assert np.array_equal(Places(farm).quarters(25.0, 9.0), Places(farm).quarters(25.0))
    assert replace(make.situation(farm)).farm.road_by_ends == {}
