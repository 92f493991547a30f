"""Roads: how long machines and people take between yards and fields, and what hitching costs.

Question answered: *how many quarter hours lie between two pieces of work for this machine or person?* Output:
the engine's moves, one table per machine and person, over one list of sites (yards first, then fields).
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from scheduler.farm.farm import Farm, great_circle_km
from scheduler.farm.land import Field, Yard
from scheduler.farm.machine import Machine
from scheduler.farm.operator import Operator
from scheduler.farm.rig import Rig, rigs_of
from scheduler.planning.jobs import skilled, supports
from scheduler.planning.quarters import MINUTES
from scheduler.solver.problem import Moves

CENTS = 100.0


def brought_at(rig: Rig) -> float:
    """Return the road speed of power unit and implement [km/h]; a tender drives by itself."""
    return min(m.road_speed_km_h for m in (rig.power, rig.implement) if m is not None)


def people_speed_km_h(farm: Farm, person: Operator, rigs: tuple[Rig, ...]) -> float:
    """Return how fast a person gets about: by pickup, or as slowly as the slowest rig that they bring."""
    drives = [
        brought_at(rig)
        for rig in rigs
        if any(skilled(person, (operation,), rig) for operation in rig.worker.operations)
    ]
    follows = [rig.tender.road_speed_km_h for rig in rigs if rig.tender is not None and supports(person, rig)]
    return min([farm.plan.pickup_speed_km_h, *drives, *follows])


class Places:
    """Sites of a farm and the moves of whoever works there."""

    def __init__(self, farm: Farm) -> None:
        self.farm = farm
        self.rigs = rigs_of(farm)
        self.families = sorted({rig.family for rig in self.rigs})
        self.family = {name: k for k, name in enumerate(self.families)}
        self.yard = {yard.id: k for k, yard in enumerate(farm.yards)}
        self.site = {field.id: len(farm.yards) + k for k, field in enumerate(farm.fields)}

    @cached_property
    def road_km(self) -> NDArray[np.float64]:
        """Road kilometres between all sites."""
        spots: list[Field | Yard] = [*self.farm.yards, *self.farm.fields]
        far = [[great_circle_km(a, b) for b in spots] for a in spots]
        return np.array(far) * self.farm.plan.road_factor

    def quarters(self, speed_km_h: float) -> NDArray[np.int64]:
        """Return the quarter hours between all sites at a road speed, rounded up."""
        table = np.ceil(self.road_km / speed_km_h * 60.0 / MINUTES - 1e-9).astype(np.int64)
        np.fill_diagonal(table, 0)
        return table

    @cached_property
    def _hitching(self) -> NDArray[np.int64]:
        """Quarter hours from one family to another: hitching what comes next."""
        minutes = np.zeros((len(self.families), len(self.families)))
        for rig in self.rigs:
            if rig.implement is not None:
                minutes[:, self.family[rig.family]] = rig.implement.hitch_minutes
        table = np.ceil(minutes / MINUTES - 1e-9).astype(np.int64)
        np.fill_diagonal(table, 0)
        return table

    def machine_moves(self, machine: Machine) -> Moves:
        """Return the moves of a machine: home every night, over the yard when it is hitched anew."""
        pulls = any(
            machine.id in (rig.power.id, rig.implement.id) for rig in self.rigs if rig.implement is not None
        )
        powers = any(machine.id == rig.power.id for rig in self.rigs)
        cost = self.farm.plan.road_cost_per_km * machine.road_speed_km_h / 60.0 * MINUTES * CENTS
        return Moves(
            minutes=self.quarters(self._brought_at(machine)),
            depot=self.yard[self.farm.yard_of(machine).id],
            change=self._hitching if pulls else None,
            home_daily=True,
            cost_per_minute=cost if powers else 0.0,
        )

    def _brought_at(self, machine: Machine) -> float:
        """Return the road speed of the slowest rig that a machine goes with; a tender drives by itself."""
        speeds = [
            brought_at(rig)
            for rig in self.rigs
            if machine.id in (rig.power.id, rig.implement.id if rig.implement else "")
        ]
        return min(speeds) if speeds else machine.road_speed_km_h

    def person_moves(self, person: Operator) -> Moves:
        """Return the moves of a person."""
        speed = people_speed_km_h(self.farm, person, self.rigs)
        return Moves(
            minutes=self.quarters(speed), depot=self.yard[self.farm.yard_of(person).id], home_daily=True
        )
