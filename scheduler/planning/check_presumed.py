"""Rules of the checker about what a plan takes as done though nobody has reported it.

No solver code, nothing of what builds the engine's problem.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from scheduler.events.presumed import Presumed
from scheduler.events.situation import PassState, Situation
from scheduler.farm.rig import pace, rigs_of

QUARTER = timedelta(minutes=15)
LONGEST_WAY = timedelta(hours=4)
SLACK_MINUTES = 0.01


def presumed_faults(
    works: Sequence[Presumed], on_way: Mapping[str, datetime], situation: Situation
) -> list[str]:
    """Return what is wrong with what is taken as done: only today's hours, no faster than the rig is, nothing twice."""
    found: list[str] = []
    for one in works:
        fault = _fault(one, situation)
        if fault:
            found.append(f"Taken as done, {one.pass_id} in {one.field}: {fault}.")
    for key in {(one.field, one.pass_id) for one in works} & situation.passes.keys():
        area = sum(one.area_ha for one in works if (one.field, one.pass_id) == key)
        if area > situation.left_ha(*key) + 0.001:
            found.append(f"Taken as done, {key[1]} in {key[0]}: more than was left.")
    for name, since in on_way.items():
        if not situation.now - LONGEST_WAY <= since <= situation.now + QUARTER:
            found.append(f"{name}: on the road since {since:%H:%M} at {situation.now:%H:%M}.")
    rows = sorted(works, key=lambda one: one.start)
    for k, one in enumerate(rows):
        people = {one.operator, one.support} - {None}
        if any(two.start < one.end and people & {two.operator, two.support} for two in rows[k + 1 :]):
            found.append(f"Taken as done, {one.pass_id} in {one.field}: its people were elsewhere.")
    return found


def _fault(one: Presumed, situation: Situation) -> str:
    """Return what is wrong with one piece of work; empty where nothing is."""
    farm, zone = situation.farm, ZoneInfo(situation.farm.time_zone)
    spec, state = farm.spec(one.field, one.pass_id), situation.passes.get((one.field, one.pass_id))
    rig = next((rig for rig in rigs_of(farm) if rig.id == one.rig), None)
    if spec is None or state is None or (rig is None) != spec.on_foot:
        return "no such work on the farm"
    if one.start.astimezone(zone).date() != situation.now.astimezone(zone).date():
        return "not of today"
    if one.end >= situation.now + QUARTER or one.start >= one.end:
        return "its hours are not over yet"
    if _told_since(state, one):
        return "a report of it came since"
    factor = situation.rate_factor.get(one.field, 1.0) if spec.id in farm.tissue.passes else 1.0
    need = pace(farm, rig, spec, farm.field_by_id[one.field], factor).minutes(one.area_ha)
    have = (one.end - one.start) / timedelta(minutes=1)
    return f"{need:.1f} minutes of work in {have:.0f}" if have < need - SLACK_MINUTES else ""


def _told_since(state: PassState, one: Presumed) -> bool:
    stopped = state.running is None and state.paused_at is not None and one.start < state.paused_at < one.end
    told = state.last_report_at is not None and state.last_report_at > one.start
    return stopped or told or state.finished or state.cancelled
