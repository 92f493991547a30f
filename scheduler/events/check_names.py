"""Names in a report against the farm: unknown ones are refused with the nearest that is known."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from zoneinfo import ZoneInfo

from scheduler.events.report import find
from scheduler.events.situation import PassState, Situation
from shared.errors import ReportRefused


def clock(moment: datetime, situation: Situation) -> str:
    """Write a moment in farm-local time."""
    return f"{moment.astimezone(ZoneInfo(situation.farm.time_zone)):%Y-%m-%d %H:%M}"


def require(what: str, name: str, known: Iterable[str], unknown: str = "") -> None:
    """Refuse a name that is not known exactly, with the nearest one."""
    names = {key: key for key in known}
    if name not in names:
        near = find(what, name, names, unknown)
        raise ReportRefused(f"{unknown or f'the {what} {name!r} is not known'}; did you mean {near!r}?")


def known_field(situation: Situation, field_id: str | None) -> None:
    """Refuse a field that the farm does not have."""
    if field_id is not None:
        require("field", field_id, situation.farm.field_by_id)


def known_pass(situation: Situation, field_id: str, pass_id: str) -> PassState:
    """Return the state of a pass; refuse one that the field does not have."""
    known_field(situation, field_id)
    known = [key[1] for key in situation.passes if key[0] == field_id]
    require("pass", pass_id, known, f"{pass_id!r} is no pass of {situation.farm.field_label(field_id)}")
    return situation.passes[(field_id, pass_id)]


def work(situation: Situation, field_id: str, pass_id: str) -> dict[str, object]:
    """Return what people call a pass and its field: the values ``job`` and ``place`` of a sentence about it."""
    farm = situation.farm
    spec = farm.spec(field_id, pass_id)
    return {
        "job": farm.pass_label(pass_id) if spec is None else spec.label,
        "place": farm.field_by_id[field_id].label,
    }


def known_machine(situation: Situation, machine: str) -> None:
    """Refuse a machine that the farm does not have."""
    require("machine", machine, situation.farm.machine_by_id)


def known_operator(situation: Situation, operator: str | None) -> None:
    """Refuse a person that the farm does not have; None is nobody named."""
    if operator is not None:
        require("operator", operator, situation.farm.operator_by_id)


def known_rig(situation: Situation, rig: str | None) -> None:
    """Refuse a rig with a machine that the farm does not have."""
    for part in filter(None, (rig or "").split("+")):
        known_machine(situation, part.strip())
