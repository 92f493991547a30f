"""What one more of a thing is worth: each hour, day, person, machine, width and tank load priced by planning anew.

No rule of thumb: every line is a way like any other, so what it is worth is what the whole plan gains by it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from scheduler.farm.farm import Farm
from scheduler.farm.machine import Machine, MachineKind
from scheduler.farm.operator import WEEKDAYS, Operator
from scheduler.farm.rig import rigs_of
from scheduler.whatif.outcome import Outcome
from scheduler.whatif.study import PRESENT, Way
from shared.units import show

KINDS = ("hours", "day", "operator", "machine", "width", "tank")
MORE_SHARE = 1 / 3
"""A third wider, a third more in the tank: 12 rows become 16."""
AGAIN = tuple(Way(name=f"{PRESENT}, searched again {k}", again=k) for k in (1, 2, 3))
"""Today's plan searched with other random numbers: how sure the search is of a difference."""


@dataclass(frozen=True)
class Worth:
    """What one more is worth.

    Attributes
    ----------
    kind : str
        One of `KINDS`.
    name : str
        In words.
    gain : float
        Money saved over the days of the plan and the weeks behind, before the thing's own price.
    changes : tuple of str
        The way that was planned.
    """

    kind: str
    name: str
    gain: float
    changes: tuple[str, ...]


def one_more_of_each(farm: Farm) -> dict[str, tuple[str, Way]]:
    """Return a way for one more of everything: by name, its kind and the way."""
    out: dict[str, tuple[str, Way]] = {}
    for person in farm.operators:
        _add(out, "hours", f"{person.label}: one more hour a day", f'longer {person.id} "1 h"')
        day = _day_off(person)
        if day is not None:
            _add(out, "day", f"{person.label}: works on {day}", f"on {day} {person.id}")
        _add(
            out,
            "operator",
            f"somebody more like {person.label}",
            f'join "Like {person.label}" like {person.id}',
        )
    busy = {machine.id for rig in rigs_of(farm) for machine in rig.machines}
    for machine in farm.machines:
        if machine.id in busy:
            _add(
                out,
                "machine",
                f"one more {machine.label}",
                f'hire "Second {machine.label}" like {machine.id}',
            )
    for group in _line_groups(farm):
        names = " and ".join(machine.label for machine in group)
        _add(out, "width", f"{names} a third wider", *_wider(group))
    for machine in farm.machines:
        if machine.capacity_l is not None:
            tank = show(machine.capacity_l * (1 + MORE_SHARE), "volume_l", farm.units, 0)
            _add(
                out,
                "tank",
                f"{machine.label} with a third more in the tank",
                f'change machine {machine.id} tank "{tank}"',
            )
    return out


def _add(out: dict[str, tuple[str, Way]], kind: str, name: str, *lines: str) -> None:
    out[name[:80]] = (kind, Way(name=name[:80], changes=lines))


def _day_off(person: Operator) -> str | None:
    """Return a weekday on which the person is off, Saturday before Sunday before the rest."""
    worked = {day for shift in person.shifts for day in shift.days}
    return next((day for day in ("sat", "sun", *WEEKDAYS) if day not in worked), None)


def _line_groups(farm: Farm) -> list[list[Machine]]:
    """Return the machines that work fields, those that must share lines and width together."""
    workers = {
        machine.id: machine
        for machine in farm.machines
        if machine.operations and machine.width_m is not None and machine.kind is not MachineKind.TRACTOR
    }
    tied: dict[str, set[str]] = {name: {name} for name in workers}
    for programme in farm.programmes:
        for spec in programme.passes:
            partner = programme.find(spec.same_lines_as) if spec.same_lines_as else None
            if partner is None:
                continue
            both = [
                m for m in workers.values() if {*spec.operations, *partner.operations} & set(m.operations)
            ]
            joined = set().union(*(tied[m.id] for m in both)) if both else set()
            for name in joined:
                tied[name] = joined
    groups = {frozenset(names) for names in tied.values()}
    return [
        [m for m in farm.machines if m.id in names]
        for names in sorted(groups, key=lambda names: sorted(names))
    ]


def _wider(group: list[Machine]) -> list[str]:
    """Return the lines that widen a group; machines of one width change in one line, so that they still match."""
    together: dict[str, list[str]] = {}
    for machine in group:
        width, share = machine.width_m or 0.0, 1 + MORE_SHARE
        values = f'width "{width * share:.3f} m"'
        if machine.rows and machine.row_spacing_m:
            rows = round(machine.rows * share)
            values = f'width "{rows * machine.row_spacing_m:.4f} m" rows {rows}'
        together.setdefault(values, []).append(machine.id)
    return [f"change machine {','.join(names)} {values}" for values, names in together.items()]


def noise(outcomes: Sequence[Outcome]) -> float:
    """Return how far searches for the same thing lie apart [money]; a gain below it is not sure."""
    again = [one.total for one in outcomes if one.name == PRESENT or one.name in {way.name for way in AGAIN}]
    return round(max(again) - min(again), 2) if again else 0.0


def worths(kinds: dict[str, tuple[str, Way]], outcomes: Sequence[Outcome]) -> list[Worth]:
    """Return what each is worth, dearest first."""
    present = next(one for one in outcomes if one.name == PRESENT)
    out = [
        Worth(kinds[one.name][0], one.name, round(present.total - one.total, 2), one.changes)
        for one in outcomes
        if one.name in kinds and not one.refused
    ]
    return sorted(out, key=lambda one: -one.gain)
