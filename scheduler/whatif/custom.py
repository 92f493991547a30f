"""A custom applicator: somebody else's machine with its own driver, for one pass, paid by the acre."""

from __future__ import annotations

from datetime import time

from scheduler.events.report import find
from scheduler.farm.farm import Farm
from scheduler.farm.machine import Machine, MachineKind, work_rate_ha_per_h
from scheduler.farm.operator import WEEKDAYS, Licence, Operator, Shift
from scheduler.farm.programme import PassSpec
from scheduler.farm.rig import rigs_of
from scheduler.whatif.costs import Price
from shared.errors import ReportRefused

EFFICIENCY = 0.65
DAY_START, DAY_END, MOST_H = time(6), time(21), 14.0
"""Custom crews come early and stay late (common practice, no source)."""


def applicator(farm: Farm, pass_id: str, fields: tuple[str, ...], price: Price) -> tuple[Machine, Operator]:
    """Return the machine and its driver.

    The machine is like the farm's own fastest one for the pass: same width, rows, lines, speed and efficiency,
    self-propelled, with its own tender crew (so that no refill time and no second person of ours is needed).

    Raises
    ------
    ReportRefused
        No such pass, or nobody here has a machine for it whose size could be taken.
    """
    spec = _spec(farm, pass_id, fields)
    own = [
        rig
        for rig in rigs_of(farm)
        if rig.does(spec.operations) and rig.worker.width_m and rig.worker.speed_km_h
    ]
    if not own:
        raise ReportRefused(
            f"no machine of the farm does {pass_id}, so the custom machine has no size to take."
        )
    like = max(own, key=lambda rig: _rate(rig.worker))
    name = f"custom-{pass_id}"
    operator = f"{name}-driver"
    if name in farm.machine_by_id:
        raise ReportRefused(f"a custom machine for {pass_id} is there already.")
    machine = like.worker.model_copy(
        update={
            "id": name, "name": f"Custom {pass_id}", "kind": MachineKind.SELF_PROPELLED, "yard": None,
            "capacity_l": None, "capacity_kg": None, "capacity_seeds": None, "refill_minutes": 0.0, "hitch_minutes": 0.0, "time_factor": 1.0,
            "load_class": like.load_class, "tracks": like.tracks, "guidance": like.guidance, "operations": spec.operations,
            "clearance_m": like.clearance_m, "pulled_by": (), "tender": (), "cost_per_h": price.per_h,
            "cost_per_ha": price.per_ha, "only_fields": fields, "driven_by": (operator,),
        }
    )  # fmt: skip
    driver = Operator(
        id=operator, name=f"Custom driver, {pass_id}", skills=(name,),
        licences=tuple(Licence(name=licence) for licence in sorted(_licences(farm, spec))),
        shift=(Shift(days=WEEKDAYS, start=DAY_START, end=DAY_END),),
        normal_hours=MOST_H, most_hours=MOST_H, most_hours_week=7 * MOST_H, wage=0.0,
    )  # fmt: skip
    return machine, driver


def _spec(farm: Farm, pass_id: str, fields: tuple[str, ...]) -> PassSpec:
    specs = {
        spec.id: spec
        for field in farm.fields
        if not fields or field.id in fields
        for spec in farm.programme_of(field).passes
        if not spec.on_foot
    }
    return specs[find("pass", pass_id, {name: spec.label for name, spec in specs.items()})]


def _rate(worker: Machine) -> float:
    return work_rate_ha_per_h(
        worker.width_m or 1.0, worker.speed_km_h or 1.0, worker.field_efficiency or EFFICIENCY
    )


def _licences(farm: Farm, spec: PassSpec) -> set[str]:
    named = {spec.licence, *(farm.product_by_id[item.product].licence for item in spec.products)}
    return {name for name in named if name}
