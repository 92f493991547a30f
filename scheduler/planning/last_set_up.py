"""What machines are set up for when a plan is made during a day: hitched to what, with what in them, since when.

Question answered: *from when on may a rig begin, where its machines did something else today?* Out of what was reported; between
two blocks of a plan the engine keeps the time itself (`places`).
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import NamedTuple

from scheduler.events.situation import Situation
from scheduler.farm.programme import PassSpec
from scheduler.farm.rig import Rig, rigs_of
from scheduler.planning.places import Places
from scheduler.planning.quarters import Quarters


class SetUp(NamedTuple):
    """When a machine ended work, in which rig, on which pass."""

    ended: datetime
    rig: Rig
    spec: PassSpec


def last_set_ups(situation: Situation) -> dict[str, SetUp]:
    """Return the last work of each machine that was reported."""
    rigs = {rig.id: rig for rig in rigs_of(situation.farm)}
    out: dict[str, SetUp] = {}
    for (field, pass_id), state in situation.passes.items():
        rig, ended = rigs.get(state.last_rig or ""), state.finished_at or state.last_report_at
        spec = situation.farm.spec(field, pass_id)
        if rig is None or spec is None or ended is None or ended > situation.now:
            continue
        for machine in rig.machines:
            if machine.id not in out or out[machine.id].ended < ended:
                out[machine.id] = SetUp(ended.astimezone(situation.now.tzinfo), rig, spec)
    return out


def set_up_today(situation: Situation) -> dict[str, SetUp]:
    """Return the same of those that worked today."""
    today = situation.now.date()
    return {name: one for name, one in last_set_ups(situation).items() if one.ended.date() == today}


def ready_from(last: Mapping[str, SetUp], places: Places, grid: Quarters, rig: Rig, spec: PassSpec) -> int:
    """Return the quarter hour from which on a rig is hitched, and clean for a pass; 0 where nothing has to be changed."""
    ready = 0
    for machine in rig.machines:
        if (before := last.get(machine.id)) is not None:
            change = places.change_quarters(machine, (before.rig, before.spec), (rig, spec))
            ready = max(ready, grid.up(before.ended) + change if change > 0 else 0)
    return ready
