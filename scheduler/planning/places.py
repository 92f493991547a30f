"""Roads: how long machines and people take between yards and fields, and what hitching costs.

Question answered: *how many quarter hours lie between two pieces of work for this machine or person?* Output:
the engine's moves, one table per machine and person, over one list of sites (yards first, then fields).
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from scheduler.farm.farm import Farm
from scheduler.farm.land import Field, Yard
from scheduler.farm.machine import Machine
from scheduler.farm.operator import Operator
from scheduler.farm.programme import PassSpec
from scheduler.farm.rig import Rig, rigs_of
from scheduler.farm.roads import rig_width_m, way_km, width_on_road_m
from scheduler.planning.jobs import skilled, supports
from scheduler.planning.quarters import MINUTES
from scheduler.solver.resources import Moves

CENTS = 100.0
NEVER_MINUTES = 24 * 60.0
"""The way that may not be gone: longer than any shift."""


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


def people_width_m(person: Operator, rigs: tuple[Rig, ...]) -> float:
    """Return how wide the widest is that a person brings [m]; 0 for who brings nothing."""
    drives = [
        rig_width_m(rig)
        for rig in rigs
        if any(skilled(person, (operation,), rig) for operation in rig.worker.operations)
    ]
    follows = [
        width_on_road_m(rig.tender) for rig in rigs if rig.tender is not None and supports(person, rig)
    ]
    return max([0.0, *drives, *follows])


def contents(rig: Rig, spec: PassSpec) -> tuple[str, ...]:
    """Return what is in the machine on a pass; nothing where no time is needed to clean it out."""
    return spec.contents if rig.worker.clean_out_minutes > 0 else ()


def whole_quarters(minutes: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return minutes as quarter hours, rounded up."""
    return np.ceil(minutes / MINUTES - 1e-9).astype(np.int64)


class Places:
    """Sites of a farm and the moves of whoever works there."""

    def __init__(self, farm: Farm) -> None:
        self.farm = farm
        self.rigs = rigs_of(farm)
        self._family = {key: k for k, key in enumerate(sorted(self._families()))}
        self.yard = {yard.id: k for k, yard in enumerate(farm.yards)}
        self.site = {field.id: len(farm.yards) + k for k, field in enumerate(farm.fields)}

    @cached_property
    def road_km(self) -> NDArray[np.float64]:
        """Road kilometres between all sites, for what is narrow."""
        spots: list[Field | Yard] = [*self.farm.yards, *self.farm.fields]
        return np.array([[way_km(self.farm, a, b) for b in spots] for a in spots], dtype=float)

    def wide_km(self, width_m: float) -> NDArray[np.float64]:
        """Road kilometres for a machine as wide as this; infinite where it may not go."""
        table = self.road_km.copy()
        for (a, b), road in self.farm.road_by_ends.items():
            way = road.way_km(width_m)
            row, column = self._site_of(a), self._site_of(b)
            table[row, column] = np.inf if way is None else way
        return table

    def _site_of(self, name: str) -> int:
        return self.yard[name] if name in self.yard else self.site[name]

    def quarters(self, speed_km_h: float, width_m: float = 0.0, brought: bool = False) -> NDArray[np.int64]:
        """Return the quarter hours between all sites at a road speed, rounded up.

        Parameters
        ----------
        width_m : float
            Width on the road; where it may not go, no shift is long enough.
        brought : bool
            It goes with machines of other widths too: where the widest may not go, the narrow way counts, since the machine that is
            too wide is held back by its own table.
        """
        far = self.wide_km(width_m) if self.farm.roads else self.road_km
        if brought:
            far = np.where(np.isfinite(far), far, self.road_km)
        minutes = np.where(np.isfinite(far), far / speed_km_h * 60.0, NEVER_MINUTES)
        table = whole_quarters(minutes)
        np.fill_diagonal(table, 0)
        return table

    def family(self, rig: Rig, spec: PassSpec) -> int:
        """Return the set-up family of a rig on a pass: what is hitched, and what is in a machine that has to be cleaned out."""
        return self._family[rig.family, contents(rig, spec)]

    def _families(self) -> set[tuple[str, tuple[str, ...]]]:
        passes = {spec for field in self.farm.fields for spec in self.farm.programme_of(field).passes}
        return {
            (rig.family, contents(rig, spec))
            for rig in self.rigs
            for spec in passes
            if rig.does(spec.operations)
        }

    @cached_property
    def _on_the_way(self) -> NDArray[np.bool_]:
        """Which changes of family need no yard: those that leave hitched what is hitched."""
        hitched = np.array([family for family, _ in self._family])
        return np.asarray(hitched[:, None] == hitched[None, :])

    @cached_property
    def _hitch_minutes(self) -> NDArray[np.float64]:
        """Minutes from one family to another: hitching what comes next."""
        of = {
            rig.family: rig.implement.hitch_minutes if rig.implement is not None else 0.0 for rig in self.rigs
        }
        row = np.array([of[family] for family, _ in self._family])
        return np.where(self._on_the_way, 0.0, row[None, :])

    @cached_property
    def _hitching(self) -> NDArray[np.int64]:
        return whole_quarters(self._hitch_minutes)

    def change_quarters(
        self, machine: Machine, before: tuple[Rig, PassSpec], then: tuple[Rig, PassSpec]
    ) -> int:
        """Return the quarter hours that a machine needs to be set up for other work than before, the road left aside."""
        table = self._change_of[machine.id]
        a, b = (self._family.get((rig.family, contents(rig, spec))) for rig, spec in (before, then))
        return 0 if table is None or a is None or b is None else int(table[a, b])

    @cached_property
    def _change_of(self) -> dict[str, NDArray[np.int64] | None]:
        return {machine.id: self._changes(machine) for machine in self.farm.machines}

    def _changes(self, machine: Machine) -> NDArray[np.int64] | None:
        """Return the quarter hours from one family to another; of a machine that works, with cleaning out what was in it."""
        own = [rig for rig in self.rigs if machine.id in (rig.power.id, rig.worker.id)]
        cleaned = {rig.family for rig in own if rig.worker.id == machine.id and machine.clean_out_minutes > 0}
        if not cleaned:
            return self._hitching if any(rig.implement is not None for rig in own) else None
        keys = list(self._family)
        other = [[a[0] in cleaned and b[0] in cleaned and a[1] != b[1] for b in keys] for a in keys]
        return whole_quarters(self._hitch_minutes + machine.clean_out_minutes * np.array(other))

    def machine_moves(self, machine: Machine) -> Moves:
        """Return the moves of a machine: home every night, over the yard when it is hitched anew."""
        change = self._change_of[machine.id]
        powers = any(machine.id == rig.power.id for rig in self.rigs)
        cost = self.farm.plan.road_cost_per_km * machine.road_speed_km_h / 60.0 * MINUTES * CENTS
        return Moves(
            minutes=self.quarters(self._brought_at(machine), *self._width(machine)),
            depot=self.yard[self.farm.yard_of(machine).id],
            change=change,
            on_the_way=None if change is None else self._on_the_way,
            home_daily=True,
            cost_per_minute=cost if powers else 0.0,
        )

    def _width(self, machine: Machine) -> tuple[float, bool]:
        """Return the width that counts for a machine, and whether it goes with machines of other widths too."""
        widths = [
            rig_width_m(rig) for rig in self.rigs if rig.implement is not None and machine.id == rig.power.id
        ]
        return (max(widths), True) if widths else (width_on_road_m(machine), False)

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
        width = people_width_m(person, self.rigs)
        return Moves(
            minutes=self.quarters(speed, width, brought=True),
            depot=self.yard[self.farm.yard_of(person).id],
            home_daily=True,
        )
