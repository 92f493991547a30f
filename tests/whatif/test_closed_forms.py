"""The plan's loss against the closed form of the trade: one pass, one rig, no weather, loss that grows evenly.

Source of the formula: timeliness cost in the form of ASABE EP496 (symbols from memory, form derived): with all work on
one side of the best day, W = K A^2 Y V / (2 G C p), K the share of value lost per day, A the area, Y V the value of a
hectare, G hours a day, C hectares an hour, p the chance of a working day (here 1). Doubling the capacity halves it.
"""

from __future__ import annotations

from datetime import time, timedelta

import numpy as np
import pytest

from scheduler.events.state import State
from scheduler.farm.farm import Farm, PlanSettings
from scheduler.farm.land import Field
from scheduler.farm.operator import Operator, Shift
from scheduler.farm.programme import PassSpec, Programme
from scheduler.planning.schedule import make_plan
from scheduler.solver.result import Limits
from scheduler.whatif.imagine import imagine
from scheduler.windows.records import PassWindow
from shared.vocabulary import Crop, Operation
from tests.planning import builders as make

DAYS, G_H, A_DAY_HA = 12, 10.0, 32.0
VALUE_PER_HA, K = 12.0 * 180.0, 0.01
"""Worked example of the reference table: 12 t/ha at $180/t, 1 % a day."""


def one_pass_farm(fields: int) -> Farm:
    """Return fields that each take one machine one whole day, all at the yard, and one person."""
    spec = PassSpec(id="plant", operation=Operation.PLANT)
    width, share = 9.144, 0.7
    planter = next(m for m in make.machines() if m.id == "planter").model_copy(
        update={
            "width_m": width, "field_efficiency": share, "speed_km_h": A_DAY_HA / G_H * 10.0 / width / share,
            "setup_minutes": 0.0, "hitch_minutes": 0.0, "pulled_by": ("big",),
        }
    )  # fmt: skip
    big = next(m for m in make.machines() if m.id == "big").model_copy(update={"hitch_minutes": 0.0})
    land = tuple(
        Field(
            id=f"f{k}",
            area_ha=A_DAY_HA,
            latitude_deg=41.0,
            longitude_deg=-90.0,
            crop=Crop.CORN,
            programme="corn",
        )
        for k in range(fields)
    )
    week = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
    ann = Operator(
        id="ann", skills=("plant",), shift=(Shift(days=week, start=time(7), end=time(17)),), normal_hours=G_H,
        most_hours=G_H, most_hours_week=7 * G_H,
    )  # fmt: skip
    return make.farm(
        fields=land, machines=(big, planter), operators=(ann,),
        programmes=(Programme(id="corn", crop="corn", passes=(spec,)),),
        plan=PlanSettings(horizon_days=DAYS, service_minutes=0.0),
    )  # fmt: skip


def late_cost(farm: Farm) -> float:
    """Return what lateness costs in the plan of a dry fortnight."""
    # The mean of a day's hectares is half a working day before 17:00, when each field here is finished; loss grows
    # evenly between the ends of days, seven hours later.
    value, shift = K * VALUE_PER_HA * A_DAY_HA, 0.5 + 7.0 / 24.0
    points = tuple((make.FIRST_DAY + timedelta(days=k), value * (k + shift)) for k in range(-1, DAYS + 21))
    window = PassWindow(None, None, None, None, np.ones(DAYS), points, points[-1][1])
    outlook = make.outlook(
        farm, DAYS, lambda *_: 1.0, windows={(field.id, "plant"): window for field in farm.fields}
    )
    plan = make_plan(
        make.situation(farm, make.at(0)), outlook, make.horizon(DAYS), Limits(1.0, 1, 1, deterministic=True)
    )
    assert sum(block.area_ha for block in plan.blocks) == pytest.approx(A_DAY_HA * len(farm.fields))
    return plan.value.parts["late"]


def closed_form(area_ha: float, rate_ha_per_h: float) -> float:
    return K * area_ha**2 * VALUE_PER_HA / (2.0 * G_H * rate_ha_per_h)


def test_the_worked_example_of_the_formula() -> None:
    # K 0.010, A 400 ha, 12 t/ha, $180/t, G 10 h, C 6 ha/h, p 0.5: $57,600 (reference table, computed there).
    assert closed_form(400.0, 6.0) / 0.5 == pytest.approx(57_600.0)


def test_priced_delay_is_the_timeliness_formula() -> None:
    # The plan also prices an hour earlier among equals, 0.05 a hectare and day: under 0.3 % of this loss.
    assert late_cost(one_pass_farm(8)) == pytest.approx(closed_form(8 * A_DAY_HA, A_DAY_HA / G_H), rel=0.005)


def test_doubled_capacity_halves_it() -> None:
    farm = one_pass_farm(8)
    lines = ('hire "Big two" like big', 'hire "Planter two" like planter', 'join "Bo" like ann')
    double = imagine(farm, State(), make.at(0), lines).situation.farm
    one, two = late_cost(farm), late_cost(double)
    assert two == pytest.approx(one / 2, rel=0.005)
    assert two == pytest.approx(closed_form(8 * A_DAY_HA, 2 * A_DAY_HA / G_H), rel=0.005)
