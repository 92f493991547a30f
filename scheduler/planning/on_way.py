"""Who is on the road at the moment of a plan, by the plan that people know.

Question answered: *who can be at the next block in time though the way there began before now?* Where people are between two
blocks nobody reports, so a plan made during the day thinks of them in their yard. Of those whose next block is nearer than the
way from there, that would make every block of the day a quarter hour later, for nothing: they have left already.
"""

from __future__ import annotations

from datetime import datetime

from scheduler.events.situation import Situation
from scheduler.planning.places import Places
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.planning.quarters import Quarters
from scheduler.solver.resources import Moves


def on_way(situation: Situation, previous: Plan | None, grid: Quarters) -> dict[str, datetime]:
    """Return, by machine and person, since when they are on the road to their next block of today."""
    now = max(0, grid.up(situation.now))
    next_of: dict[str, PlanBlock] = {}
    busy: set[str] = set()
    for block in sorted(() if previous is None else previous.blocks, key=lambda b: b.start):
        start, end = grid.up(block.start), grid.up(block.end)
        names = [*block.machines, *filter(None, (block.operator, block.support))]
        if start < now < end:
            busy.update(names)
        elif start >= now and block.start.date() == grid.moment(now).date():
            for name in names:
                next_of.setdefault(name, block)
    places, out = Places(situation.farm), dict[str, datetime]()
    for name, block in next_of.items():
        moves, site = _moves(places, name), places.site.get(block.field)
        if name in busy or moves is None or moves.depot is None or site is None:
            continue
        left = grid.up(block.start) - int(moves.minutes[moves.depot, site])
        if left < now:
            out[name] = grid.moment(left)
    return out


def _moves(places: Places, name: str) -> Moves | None:
    """Return the moves of a machine or person; None where there is no such any more."""
    farm = places.farm
    machine, person = farm.machine_by_id.get(name), farm.operator_by_id.get(name)
    if machine is not None:
        return places.machine_moves(machine)
    return None if person is None else places.person_moves(person)
