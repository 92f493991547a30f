"""Rigs: which tractor, implement and tender can go together, what they may do, and how fast."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product as combinations

from scheduler.farm.farm import Farm
from scheduler.farm.land import Field
from scheduler.farm.machine import Machine, MachineKind, work_rate_ha_per_h
from scheduler.farm.product import Form
from scheduler.farm.programme import PassSpec
from shared.vocabulary import Guidance, LoadClass, Operation

_LOADS = list(LoadClass)


@dataclass(frozen=True)
class Rig:
    """A power unit with an implement (none when self-propelled) and a tender where one must attend."""

    power: Machine
    implement: Machine | None = None
    tender: Machine | None = None

    @property
    def id(self) -> str:
        """Ids of its machines, joined."""
        return "+".join(machine.id for machine in self.machines)

    @property
    def machines(self) -> tuple[Machine, ...]:
        """Its machines, power first."""
        return tuple(m for m in (self.power, self.implement, self.tender) if m is not None)

    @property
    def worker(self) -> Machine:
        """The machine that does the work: the implement, or the self-propelled machine."""
        return self.implement or self.power

    @property
    def label(self) -> str:
        """Name shown to people."""
        return " + ".join(machine.label for machine in self.machines)

    @property
    def family(self) -> str:
        """Power and implement: a change of either is a change of hitch."""
        return self.power.id if self.implement is None else f"{self.power.id}+{self.implement.id}"

    @property
    def load_class(self) -> LoadClass:
        """The heavier of power unit and implement."""
        return max((self.power.load_class, self.worker.load_class), key=_LOADS.index)

    @property
    def tracks(self) -> bool:
        """Whether the power unit runs on tracks."""
        return self.power.tracks

    @property
    def road_speed_km_h(self) -> float:
        """The slowest of its machines on the road."""
        return min(machine.road_speed_km_h for machine in self.machines)

    @property
    def guidance(self) -> Guidance:
        """Guidance of the power unit."""
        return self.power.guidance

    @property
    def clearance_m(self) -> float | None:
        """Lowest clearance among power unit and implement [m]; None when neither is stated."""
        given = [
            m.clearance_m for m in (self.power, self.implement) if m is not None and m.clearance_m is not None
        ]
        return min(given) if given else None

    def does(self, operations: tuple[Operation, ...]) -> bool:
        """Return whether it does every one of these jobs in one trip."""
        return set(operations) <= set(self.worker.operations)

    def comes_to(self, field_id: str) -> bool:
        """Return whether it works in a field: a hired machine may be there for some fields only."""
        return not self.worker.only_fields or field_id in self.worker.only_fields


def rigs_of(farm: Farm) -> tuple[Rig, ...]:
    """Return every rig that the farm can put together."""
    tenders = {machine.id: machine for machine in farm.machines if machine.kind is MachineKind.TENDER}
    rigs: list[Rig] = []
    for machine in farm.machines:
        named = [tenders[name] for name in machine.tender if name in tenders]
        attending: list[Machine | None] = [*named] if named else [None]
        if machine.kind is MachineKind.SELF_PROPELLED:
            rigs += [Rig(machine, None, tender) for tender in attending]
        elif machine.kind is MachineKind.IMPLEMENT:
            pulling = [farm.machine_by_id[name] for name in machine.pulled_by if name in farm.machine_by_id]
            rigs += [Rig(tractor, machine, tender) for tractor, tender in combinations(pulling, attending)]
    return tuple(rigs)


@dataclass(frozen=True)
class Pace:
    """How fast a rig works on a pass: hectares per hour with refills, and the refills themselves."""

    work_rate_ha_per_h: float
    hectares_per_load: float | None
    refill_minutes: float

    def minutes(self, area_ha: float) -> float:
        """Return the minutes for an area, refill stops spread evenly over it."""
        refills = (
            0.0 if self.hectares_per_load is None else area_ha / self.hectares_per_load * self.refill_minutes
        )
        return area_ha / self.work_rate_ha_per_h * 60.0 + refills


def pace(farm: Farm, rig: Rig | None, spec: PassSpec, field: Field, rate_factor: float = 1.0) -> Pace:
    """Return the pace of a rig (None: on foot) on a pass.

    Refill stops come on top of the work rate, since load size and rate are known; field efficiency then stands
    for turning and the rest.
    """
    if rig is None:
        return Pace(spec.foot_ha_per_h, None, 0.0)
    worker = rig.worker
    if worker.width_m is None or worker.speed_km_h is None:
        raise ValueError(f"{worker.id} has no width or speed")
    rate = work_rate_ha_per_h(worker.width_m, worker.speed_km_h, worker.field_efficiency)
    covered = hectares_per_load(farm, worker, spec, rate_factor)
    return Pace(rate / worker.time_factor, covered, worker.refill_minutes * worker.time_factor)


def hectares_per_load(farm: Farm, worker: Machine, spec: PassSpec, rate_factor: float = 1.0) -> float | None:
    """Return the hectares that one full load covers; None when the machine's load is not stated.

    Liquids share one tank with their carrier; dry goods and seed have their own bins. The first to run out counts.
    """
    holds = {Form.LIQUID: worker.capacity_l, Form.DRY: worker.capacity_kg, Form.SEED: worker.capacity_seeds}
    per_ha = {Form.LIQUID: spec.carrier_l_per_ha or 0.0, Form.DRY: 0.0, Form.SEED: 0.0}
    for item in spec.products:
        product = farm.product_by_id[item.product]
        per_ha[product.form] += product.rate(item.rate) * (rate_factor if product.nitrogen_share > 0 else 1.0)
    covers = [holding / per_ha[form] for form, holding in holds.items() if holding and per_ha[form] > 0]
    return min(covers) if covers else None
