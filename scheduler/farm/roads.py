"""Road minutes between yards and fields: great-circle distance times a winding factor, at the rig's road speed."""

from __future__ import annotations

from scheduler.farm.farm import Farm, great_circle_km
from scheduler.farm.land import Field, Yard


def road_km(farm: Farm, a: Field | Yard, b: Field | Yard) -> float:
    """Return the road distance between two places [km]."""
    return great_circle_km(a, b) * farm.plan.road_factor


def road_minutes(farm: Farm, a: Field | Yard, b: Field | Yard, speed_km_h: float) -> float:
    """Return the road time between two places [min]."""
    return road_km(farm, a, b) / speed_km_h * 60.0
