"""What one more of a thing is worth: each hour, day, person, machine, width and tank load priced by planning anew.

No rule of thumb: every line is a way like any other, so what it is worth is what the whole plan gains by it.
"""

from __future__ import annotations

from calendar import day_name
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from scheduler.farm.farm import Farm
from scheduler.farm.machine import Machine, MachineKind
from scheduler.farm.operator import WEEKDAYS, Operator
from scheduler.farm.rig import rigs_of
from scheduler.whatif.alike import either, machines_alike, people_alike
from scheduler.whatif.outcome import Outcome
from scheduler.whatif.study import PRESENT, Way
from shared.units import show

KINDS = ("hours", "day", "operator", "machine", "width", "tank")
MORE_SHARE = 1 / 3
"""A third wider, a third more in the tank: 12 rows become 16."""


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


def one_more_of_each(farm: Farm, apart: Iterable[str] = ()) -> dict[str, tuple[str, Way]]:
    """Return a way for one more of everything: by name, its kind and the way; what is alike is asked for once.

    Parameters
    ----------
    apart : iterable of str
        Machines that are down and people who are away: like nobody else for now.
    """
    alone = tuple(apart)
    machines = machines_alike(farm, alone)
    return {
        name[:80]: (kind, Way(name=name[:80], changes=lines))
        for kind, name, lines in (
            *_people(people_alike(farm, alone)),
            *_machines(farm, machines),
            *_widths(farm, machines),
            *_tanks(farm, machines),
        )
    }


Asked = tuple[str, str, tuple[str, ...]]
"""Kind, name in words, lines of the way."""


def _people(groups: Sequence[Sequence[Operator]]) -> Iterator[Asked]:
    for group in groups:
        person, who = group[0], either([one.label for one in group])
        yield "hours", f"{who}: one more hour a day", (f'longer {person.id} "1 h"',)
        day = _day_off(person)
        if day is not None:
            yield "day", f"{who}: works on {day_name[WEEKDAYS.index(day)]}s", (f"on {day} {person.id}",)
        yield "operator", f"somebody more like {who}", (f'join "Like {person.label}" like {person.id}',)


def _machines(farm: Farm, groups: Sequence[Sequence[Machine]]) -> Iterator[Asked]:
    busy = {machine.id for rig in rigs_of(farm) for machine in rig.machines}
    for group in groups:
        machine = next((one for one in group if one.id in busy), None)
        if machine is not None:
            name = f"one more like {either([one.label for one in group])}"
            yield "machine", name, (f'hire "Second {machine.label}" like {machine.id}',)


def _widths(farm: Farm, groups: Sequence[Sequence[Machine]]) -> Iterator[Asked]:
    for tied in _line_groups(farm):
        sets = [list(group) for group in groups if any(one in tied for one in group)]
        if len(tied) == 1:
            if tied[0] == sets[0][0]:
                yield "width", f"{either([one.label for one in sets[0]])} a third wider", tuple(_wider(tied))
            continue
        # Of sets alike one can be widened alone: each planter still finds a bar as wide as itself.
        count = len(sets[0]) if len({len(group) for group in sets}) == 1 else 1
        chosen = [group[0] for group in sets] if count > 1 else tied
        which = f", one such set of {count}," if count > 1 else ""
        names = " and ".join(machine.label for machine in chosen)
        yield "width", f"{names}{which} a third wider", tuple(_wider(chosen))


def _tanks(farm: Farm, groups: Sequence[Sequence[Machine]]) -> Iterator[Asked]:
    for group in groups:
        machine = group[0]
        if machine.capacity_l is not None:
            tank = show(machine.capacity_l * (1 + MORE_SHARE), "volume_l", farm.units, 0)
            name = f"{either([one.label for one in group])} with a third more in the tank"
            yield "tank", name, (f'change machine {machine.id} tank "{tank}"',)


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


def worths(kinds: Mapping[str, tuple[str, Way]], outcomes: Sequence[Outcome]) -> list[Worth]:
    """Return what each is worth, dearest first."""
    present = next(one for one in outcomes if one.name == PRESENT)
    out = [
        Worth(kinds[one.name][0], one.name, round(present.total - one.total, 2), one.changes)
        for one in outcomes
        if one.name in kinds and not one.refused
    ]
    return sorted(out, key=lambda one: -one.gain)
