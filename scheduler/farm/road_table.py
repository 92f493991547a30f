"""Roads that the manager knows better than a ruler on the map: their length or time, and how wide a rig they let through."""

from __future__ import annotations

from typing import Any

from pydantic import Field as Key
from pydantic import ValidationInfo, field_validator

from scheduler.farm.quantities import LengthM, Record, SpeedKmH, fault, is_written
from shared.units import UnitFault, parse

ROAD_ALLOWED = 'a distance such as "3.2 mi" or a time such as "10 min"'
LONGEST_KM = 1_000.0


class Road(Record):
    """One row of ``roads.csv``: the way between two yards or fields, both directions.

    Attributes
    ----------
    from_id, to_id : str
        Ids of yards or fields.
    speed_km_h : float
        Speed at which times in this row were taken [km/h]; a table of minutes is one of distances by it.
    road_km : float
        Length of the road [km]; in the file ``road``, as a distance or a time.
    widest_m : float or None
        Widest machine that may use it [m]; None: any.
    around_km : float or None
        The way that wider machines take instead [km]; None: they may not go between the two at all.
    """

    from_id: str = Key(alias="from")
    to_id: str = Key(alias="to")
    speed_km_h: SpeedKmH = Key(default=32.18688, alias="at")
    road_km: float = Key(alias="road")
    widest_m: LengthM | None = Key(default=None, alias="widest")
    around_km: float | None = Key(default=None, alias="around")
    note: str = ""

    @field_validator("road_km", "around_km", mode="before")
    @classmethod
    def _read_way(cls, value: Any, info: ValidationInfo) -> Any:
        if value is None or (isinstance(value, int | float) and not is_written(info)):
            return value
        kilometres = _kilometres(str(value), float(info.data.get("speed_km_h", 32.18688)))
        if not 0 < kilometres <= LONGEST_KM:
            raise fault("cannot be right", f"more than 0 and at most {LONGEST_KM:,.0f} km")
        return kilometres

    def way_km(self, width_m: float) -> float | None:
        """Return the way of a machine as wide as this on the road [km]; None when it may not go."""
        return self.road_km if self.widest_m is None or width_m <= self.widest_m else self.around_km


def _kilometres(text: str, speed_km_h: float) -> float:
    try:
        return parse(text, "distance_km")
    except UnitFault:
        try:
            return parse(text, "minutes") / 60.0 * speed_km_h
        except UnitFault as error:
            raise fault("is neither a distance nor a time", ROAD_ALLOWED) from error
