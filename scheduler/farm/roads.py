"""Road distances and minutes between yards and fields: the farm's own table, else great circle times a winding factor.

How wide a machine is on the road is its ``road_width``; where that is not said, its working width, so that an unknown width is
rather taken for too wide than for narrow enough.
"""

from __future__ import annotations

from scheduler.farm.farm import Farm, great_circle_km
from scheduler.farm.land import Field, Yard
from scheduler.farm.machine import Machine
from scheduler.farm.rig import Rig


def width_on_road_m(machine: Machine) -> float:
    """Return how wide a machine is on the road [m]; 0 for one of which no width is known."""
    return machine.road_width_m if machine.road_width_m is not None else machine.width_m or 0.0


def rig_width_m(rig: Rig | None) -> float:
    """Return the widest of a rig's power unit and implement on the road [m]; 0 for people on foot."""
    return (
        0.0 if rig is None else max(width_on_road_m(m) for m in (rig.power, rig.implement) if m is not None)
    )


def way_km(farm: Farm, a: Field | Yard, b: Field | Yard, width_m: float = 0.0) -> float | None:
    """Return the road distance between two places for a machine as wide as this [km]; None when it may not go."""
    row = farm.road_by_ends.get((a.id, b.id))
    return row.way_km(width_m) if row is not None else great_circle_km(a, b) * farm.plan.road_factor


def road_km(farm: Farm, a: Field | Yard, b: Field | Yard, width_m: float = 0.0) -> float:
    """Return the road distance [km]; what may not go as wide as it is goes the narrow way (it is brought another way)."""
    way = way_km(farm, a, b, width_m)
    return way if way is not None else way_km(farm, a, b) or 0.0


def road_minutes(
    farm: Farm, a: Field | Yard, b: Field | Yard, speed_km_h: float, width_m: float = 0.0
) -> float:
    """Return the road time between two places [min]."""
    return road_km(farm, a, b, width_m) / speed_km_h * 60.0


def reaches(farm: Farm, rig: Rig, field: Field) -> bool:
    """Return whether every machine of a rig may go from its yard to a field."""
    return all(
        way_km(farm, farm.yard_of(machine), field, width_on_road_m(machine)) is not None
        for machine in rig.machines
    )
