"""The farm as events changed it: machines and people that joined, passes added to one field, keys that read otherwise."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from datetime import datetime

from scheduler.events import kinds
from scheduler.events.codec import Event
from scheduler.farm.altered import CannotChange, with_change
from scheduler.farm.farm import Farm
from scheduler.farm.land import Field
from scheduler.farm.machine import Machine
from scheduler.farm.operator import Operator
from scheduler.farm.programme import Programme


def grown_farm(farm: Farm, facts: Iterable[Event], now: datetime) -> Farm:
    """Return the farm with what was added and changed, in the order in which it happened."""
    for event in facts:
        if isinstance(event.body, kinds.FarmChanged):
            # A change of a thing that a correction took away since has nothing to change.
            with suppress(CannotChange):
                farm = with_change(farm, event.body.part, event.body.name, event.body.values)
        elif isinstance(event.body, kinds.MachineAdded | kinds.OperatorAdded | kinds.PassAdded):
            farm = _grown(farm, event.body, now)
    return farm


def _grown(farm: Farm, body: kinds.Body, now: datetime) -> Farm:
    machines, people = list(farm.machines), list(farm.operators)
    programmes, fields = list(farm.programmes), list(farm.fields)
    if isinstance(body, kinds.MachineAdded) and (body.until is None or body.until > now):
        machines = [m for m in machines if m.id != body.machine.id] + [body.machine]
        if body.like is not None:
            machines = [_with_twin(m, body.like, body.machine.id) for m in machines]
            people = [_handling_twin(p, body.like, body.machine.id) for p in people]
    elif isinstance(body, kinds.OperatorAdded) and (body.until is None or body.until > now):
        people = [p for p in people if p.id != body.operator.id] + [body.operator]
    elif isinstance(body, kinds.PassAdded):
        _add_pass(body, programmes, fields)
    return farm.model_copy(
        update={
            "machines": tuple(machines),
            "operators": tuple(people),
            "programmes": tuple(programmes),
            "fields": tuple(fields),
        }
    )


def _with_twin(machine: Machine, like: str, twin: str) -> Machine:
    """Return the machine with the twin named wherever the one it is like is."""
    changes = {
        key: (*getattr(machine, key), twin)
        for key in ("pulled_by", "tender")
        if like in getattr(machine, key) and twin not in getattr(machine, key)
    }
    return machine.model_copy(update=changes) if changes else machine


def _handling_twin(person: Operator, like: str, twin: str) -> Operator:
    if like not in person.skills or twin in person.skills:
        return person
    return person.model_copy(update={"skills": (*person.skills, twin)})


def _add_pass(body: kinds.PassAdded, programmes: list[Programme], fields: list[Field]) -> None:
    """Give the field a programme of its own with one more pass."""
    for place, ground in enumerate(fields):
        if ground.id != body.field:
            continue
        base = next(programme for programme in programmes if programme.id == ground.programme)
        like = base.find(body.like)
        if like is None or base.find(body.pass_id) is not None:
            return
        window = like.window.model_copy(update={"first_date": body.first_date, "last_date": body.last_date})
        extra = like.model_copy(
            update={"id": body.pass_id, "name": f"{like.label} (again)", "window": window}
        )
        own = base.model_copy(update={"id": f"{base.id}@{ground.id}", "passes": (*base.passes, extra)})
        programmes[:] = [one for one in programmes if one.id != own.id] + [own]
        fields[place] = ground.model_copy(update={"programme": own.id})
