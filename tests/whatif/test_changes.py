"""Changes in words: what each does to the farm, and nonsense answered in one sentence."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from scheduler.events.state import State
from scheduler.farm.farm import Farm
from scheduler.whatif.imagine import Imagined, imagine
from scheduler.whatif.tilt import Tilt, tilted
from scheduler.wiring.mornings import known_weather
from scheduler.wiring.workspace import open_farm
from shared.errors import ReportRefused

WET_WEEK = Path(__file__).resolve().parents[2] / "scenarios" / "wet-week"
NOW = datetime.fromisoformat("2027-05-10T05:00:00-05:00")


@pytest.fixture(scope="module")
def farm() -> Farm:
    return open_farm(WET_WEEK, quiet_log=True).farm


def after(farm: Farm, *lines: str) -> Imagined:
    return imagine(farm, State(), NOW, lines)


def test_a_machine_out_and_a_person_away(farm: Farm) -> None:
    there = after(
        farm, "out planter from 2027-05-12 until 2027-05-16", "away ilse until 2027-05-20"
    ).situation
    (span,) = there.machine_down["planter"]
    assert (span.start.day, span.end and span.end.day) == (12, 16)
    assert there.operator_away["ilse"][0].end is not None


def test_hire_with_every_kind_of_price(farm: Farm) -> None:
    there = after(
        farm,
        'hire "By day" like planter until 2027-05-14 cost "900 $/day"',
        'hire "By acre" like planter cost "16 $/ac"',
        'hire "By hour" like sprayer cost "90 $/h"',
        'hire "Bought" like row cost "2500 $"',
    )
    machines = there.situation.farm.machine_by_id
    own = farm.machine_by_id
    # 1 acre = 0.40468564224 ha exactly (NIST SP 811)
    assert machines["by-acre"].cost_per_ha == pytest.approx(16 / 0.40468564224)
    assert machines["by-hour"].cost_per_h == pytest.approx(own["sprayer"].cost_per_h + 90)
    assert there.invented[0].price.fixed(4.0) == 3600.0
    assert there.invented[3].price.fixed(4.0) == 2500.0
    assert "bought" in machines["planter"].pulled_by


def test_a_custom_crew_comes_with_its_own_driver_to_its_own_fields(farm: Farm) -> None:
    there = after(farm, 'custom terminate "12 $/ac" in heron, far-west').situation.farm
    machine = there.machine_by_id["custom-terminate"]
    assert machine.only_fields == ("heron", "far-west") and machine.driven_by == ("custom-terminate-driver",)
    assert there.operator_by_id["custom-terminate-driver"].licences[0].name == "applicator"


def test_weekdays(farm: Farm) -> None:
    there = after(farm, "on sun ilse", "off sat oskari").situation.farm
    assert "sun" in there.operator_by_id["ilse"].shifts[0].days
    assert all("sat" not in shift.days for shift in there.operator_by_id["oskari"].shifts)
    assert there.operator_by_id["benat"] == farm.operator_by_id["benat"]


def test_ground_crop_and_passes(farm: Farm) -> None:
    there = after(
        farm,
        "tile alder-bottom",
        "tracks row",
        "crop stone-row beans",
        "drop post in kiln",
        "give-up plum-hill",
    )
    grown = there.situation.farm
    assert grown.field_by_id["alder-bottom"].tiled and grown.machine_by_id["row"].tracks
    beans = grown.field_by_id["stone-row"]
    assert (beans.crop, beans.programme) == ("soybean", "beans")
    others = [f for f in farm.fields if f.crop == "soybean"]
    low, high = (f(o.expected_yield_t_per_ha or 0 for o in others) for f in (min, max))
    assert beans.expected_yield_t_per_ha is not None and low < beans.expected_yield_t_per_ha < high
    assert there.situation.passes[("kiln", "post")].cancelled
    assert there.invented[3].dropped == (("kiln", "post"),)
    # A field that is given up loses one crop, not each of its passes.
    assert there.invented[4].dropped == (("plum-hill", "plant"),)


def test_more_rain(farm: Farm) -> None:
    workspace = open_farm(WET_WEEK, quiet_log=True)
    _, forecast, _ = known_weather(workspace, NOW)
    assert forecast is not None
    tilt = after(farm, "rain +50%", 'rain "1 in" on 2027-05-12').tilt
    wetter = tilted(forecast, tilt, farm.time_zone)
    extra = wetter.rain_mm.sum(axis=1) - 1.5 * forecast.rain_mm.sum(axis=1)
    assert extra == pytest.approx(np.full(forecast.members, 25.4))
    assert np.array_equal(wetter.temp_c, forecast.temp_c)
    assert tilted(forecast, Tilt(), farm.time_zone) is forecast


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("out plantr", "did you mean"),
        ("out", "out MACHINE"),
        ("fire benat", "is not known; known: out"),
        ('custom plnt "16 $/ac"', "did you mean 'plant'"),
        ("custom plant cheap", "is no price"),
        ('hire X like planter cost "a lot"', "is no price"),
        ("rain +900%", "cannot be"),
        ('rain "1 in"', "needs its day"),
        ("drop sing", "known passes"),
        ("off someday", "is no weekday"),
        ('hire "Planter" like planter', "on the farm already"),
        ('hours all "5-22"', "a span such as 06:00-21:00"),
        ('out "planter', "quotation mark"),
        ("", "is empty"),
    ],
)
def test_nonsense_is_one_sentence(farm: Farm, line: str, said: str) -> None:
    with pytest.raises(ReportRefused) as refusal:
        after(farm, line)
    assert said in str(refusal.value) and "\n" not in str(refusal.value)


def test_the_log_itself_is_never_changed(farm: Farm) -> None:
    state = State()
    imagine(farm, state, NOW, ("out planter", "away ilse"))
    assert not state.facts and state.sequence == 0
