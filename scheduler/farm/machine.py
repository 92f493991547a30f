"""Machines: tractors, self-propelled machines, implements and tenders, each described by its own numbers."""

from __future__ import annotations

from enum import StrEnum

from pydantic import Field as Key

from scheduler.farm.quantities import (
    Efficiency,
    LengthM,
    Minutes,
    MoneyPerH,
    MoneyPerHa,
    Record,
    SpeedKmH,
    VolumeL,
    WidthM,
)
from shared.vocabulary import Guidance, LoadClass, Operation


class MachineKind(StrEnum):
    """What a machine is on a rig."""

    TRACTOR = "tractor"
    SELF_PROPELLED = "self-propelled"
    IMPLEMENT = "implement"
    TENDER = "tender"


class Machine(Record):
    """One machine, bought or home-built.

    Attributes
    ----------
    width_m : float or None
        Working width [m]; for implements and self-propelled machines.
    rows : int or None
        Number of rows, for row machines.
    speed_km_h : float or None
        Working speed [km/h].
    field_efficiency : float
        Share of the theoretical rate reached in the field [-]; counts turns and in-field stops, and refills only
        when `capacity` is not given.
    time_factor : float
        Time that work takes, refills too, over what the numbers here say; multiplied by what reports taught.
    capacity_l, capacity_kg, capacity_seeds, capacity_bags
        What one load holds, in the form of the product carried.
    refill_minutes, hitch_minutes, setup_minutes : float
        Time per refill, per hitching to a tractor, per field (unfolding, opening).
    clean_out_minutes : float
        Time to empty and clean it before another product than the last one: other seed, other spray.
    road_speed_km_h : float
        Speed on the road [km/h].
    road_width_m : float or None
        Width on the road, folded [m]; unset, the working width counts where ``roads.csv`` limits it.
    load_class, tracks
        How hard it presses on the ground.
    clearance_m : float or None
        Crop height that it passes over [m].
    operations : tuple of Operation
        What it can do, alone or at once (`combined` lists pairs done in one trip).
    pulled_by : tuple of str
        Tractors that may pull an implement.
    tender : tuple of str
        Tenders of which one must attend while it runs.
    driver_for_tender : bool
        The tender needs a driver of its own (support) while the rig runs.
    cost_per_h : float
        Fuel and wear [money/h].
    cost_per_ha : float
        What its owner takes for the area, when it is somebody else's [money/ha].
    only_fields : tuple of str
        Fields it works in; none named: all.
    driven_by : tuple of str
        People who alone may drive it (a custom applicator comes with a driver); none named: whoever has the skill.
    """

    id: str
    name: str = ""
    kind: MachineKind
    yard: str | None = None
    width_m: WidthM | None = Key(default=None, alias="width")
    rows: int | None = Key(default=None, ge=1, le=72)
    row_spacing_m: LengthM | None = Key(default=None, alias="row_spacing")
    speed_km_h: SpeedKmH | None = Key(default=None, alias="speed")
    field_efficiency: Efficiency = Key(default=0.65)
    time_factor: float = Key(default=1.0, ge=0.2, le=5.0)
    capacity_l: VolumeL | None = Key(default=None, alias="tank")
    capacity_kg: float | None = Key(default=None, gt=0)
    capacity_seeds: float | None = Key(default=None, gt=0)
    refill_minutes: Minutes = Key(default=0.0, alias="refill")
    road_speed_km_h: SpeedKmH = Key(default=25.0, alias="road_speed")
    road_width_m: LengthM | None = Key(default=None, alias="road_width")
    hitch_minutes: Minutes = Key(default=0.0, alias="hitch")
    setup_minutes: Minutes = Key(default=5.0, alias="field_setup")
    clean_out_minutes: Minutes = Key(default=0.0, alias="clean_out")
    load_class: LoadClass = LoadClass.MEDIUM
    tracks: bool = False
    guidance: Guidance = Guidance.NONE
    clearance_m: LengthM | None = Key(default=None, alias="clearance")
    operations: tuple[Operation, ...] = ()
    pulled_by: tuple[str, ...] = ()
    tender: tuple[str, ...] = ()
    driver_for_tender: bool = True
    lights: bool = True
    cost_per_h: MoneyPerH = Key(default=0.0, alias="running_cost")
    cost_per_ha: MoneyPerHa = Key(default=0.0, alias="price_per_area")
    only_fields: tuple[str, ...] = ()
    driven_by: tuple[str, ...] = ()

    @property
    def label(self) -> str:
        """Name shown to people."""
        return self.name or self.id


SQUARE_METRES_PER_HA = 10_000.0


def work_rate_ha_per_h(width_m: float, speed_km_h: float, field_efficiency: float) -> float:
    """Return the effective field capacity [ha/h].

    Parameters
    ----------
    width_m : float
        Working width [m].
    speed_km_h : float
        Working speed [km/h].
    field_efficiency : float
        Share of the theoretical rate, above 0 and at most 1.

    References
    ----------
    Hancock, Swetnam and Benson (1991), Calculating field efficiency, Univ. Kentucky AEN-73; Iowa State
    University, PM 696 (rev. 2001): EFC = speed x width / 8.25 x efficiency in mph, ft and ac/h.
    """
    if not width_m > 0 or not speed_km_h > 0:
        raise ValueError("width and speed must be above 0")
    if not 0 < field_efficiency <= 1:
        raise ValueError("field efficiency must be above 0 and at most 1")
    return width_m * speed_km_h * 1000.0 * field_efficiency / SQUARE_METRES_PER_HA
