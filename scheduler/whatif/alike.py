"""Machines and people of whom it makes no difference which: alike in all but id and name, and in what they go with.

A second set of planter, bar and tractor is worth the same as the first, so it is asked for once; a search would give the
two different figures by chance.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TypeVar

from scheduler.farm.farm import Farm
from scheduler.farm.machine import Machine
from scheduler.farm.operator import Operator

T = TypeVar("T")
Likeness = tuple[object, ...]
GOES_WITH = ("pulled_by", "tender")
NAME_MOST = 40
NAMED_ONLY = frozenset({"id", "name", "email", "language"})


def machines_alike(farm: Farm, apart: Iterable[str] = ()) -> list[tuple[Machine, ...]]:
    """Return the machines by likeness, in the farm's order.

    Parameters
    ----------
    apart : iterable of str
        Machines that stand alone whatever they are: one that is down is not like one that runs.
    """
    likeness = _machines(farm, frozenset(apart))
    return _grouped([(likeness[one.id], one) for one in farm.machines])


def people_alike(farm: Farm, apart: Iterable[str] = ()) -> list[tuple[Operator, ...]]:
    """Return the people by likeness, in the farm's order; `apart` as in `machines_alike`, machines among them."""
    alone = frozenset(apart)
    machines = _machines(farm, alone)
    driven = {name for one in farm.machines for name in one.driven_by}
    out = []
    for person in farm.operators:
        own = person.model_dump(exclude=set(NAMED_ONLY) | {"skills", "licences"})
        licences = sorted((one.name, str(one.expires)) for one in person.licences)
        skills = sorted(str(machines.get(skill, skill)) for skill in person.skills)
        mark = person.id if person.id in alone or person.id in driven else ""
        out.append(((repr(own), str(licences), str(skills), mark), person))
    return _grouped(out)


def _machines(farm: Farm, alone: frozenset[str]) -> Mapping[str, Likeness]:
    """Return what tells machines apart, by id; what one goes with counts by its likeness, not by its id."""
    own = {one.id: _own(one, one.id in alone) for one in farm.machines}
    return {
        one.id: (own[one.id], *(str(sorted(str(own.get(name, name)) for name in getattr(one, key))) for key in GOES_WITH))
        for one in farm.machines
    }  # fmt: skip


def _own(machine: Machine, alone: bool) -> Likeness:
    values = machine.model_dump(exclude=set(NAMED_ONLY) | set(GOES_WITH))
    return (repr(values), machine.id if alone else "")


def _grouped(rows: Sequence[tuple[Likeness, T]]) -> list[tuple[T, ...]]:
    groups: dict[Likeness, list[T]] = {}
    for likeness, one in rows:
        groups.setdefault(likeness, []).append(one)
    return [tuple(group) for group in groups.values()]


def either(labels: Sequence[str]) -> str:
    """Return in words that it is one of these, whichever; short, so that what is said of it still fits a line."""
    both = " or ".join(labels)
    if len(labels) == 1:
        return both[:NAME_MOST]
    return (
        both
        if len(labels) == 2 and len(both) <= NAME_MOST
        else f"{labels[0][:NAME_MOST]}, one of {len(labels)} alike"
    )
