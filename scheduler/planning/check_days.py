"""Rules of the checker about people and machines over time: one place at once, roads, hitching, shifts, hours.

No solver code, nothing of what builds the engine's problem. Days begin and end in the yard: machines go by road at
the speed of their rig, people with the rig that they drive, else by pickup. Blocks under way or pinned are not held
against the way there, since somebody has seen to it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from scheduler.events.situation import Situation
from scheduler.farm.farm import Farm
from scheduler.farm.land import Field, Yard
from scheduler.farm.machine import Machine
from scheduler.farm.operator import Operator, Shift
from scheduler.farm.rig import Rig, rigs_of
from scheduler.farm.roads import rig_width_m, road_minutes, way_km, width_on_road_m
from scheduler.planning.check_blocks import rig_of
from scheduler.planning.plan import PlanBlock

SLACK = timedelta(seconds=1)
Rows = dict[str, list[PlanBlock]]


def day_faults(blocks: list[PlanBlock], situation: Situation) -> list[str]:
    """Return what is wrong with the days of machines and people."""
    machines: Rows = defaultdict(list)
    people: Rows = defaultdict(list)
    for block in sorted(blocks, key=lambda b: (b.start, b.end, b.id)):
        for name in block.machines:
            machines[name].append(block)
        for person_id in {block.operator, block.support or block.operator}:
            people[person_id].append(block)
    found: list[str] = []
    for name, row in sorted(machines.items()):
        machine = situation.farm.machine_by_id.get(name)
        if machine is not None:
            found += _machine(machine, row, situation)
    for name, row in sorted(people.items()):
        person = situation.farm.operator_by_id.get(name)
        if person is not None:
            found += _person(person, row, situation)
    return found


def _by_day(row: list[PlanBlock], farm: Farm) -> dict[date, list[PlanBlock]]:
    days: dict[date, list[PlanBlock]] = defaultdict(list)
    for block in row:
        days[block.start.astimezone(ZoneInfo(farm.time_zone)).date()].append(block)
    return days


NEVER = timedelta(days=365)
"""The way between two places that a machine of its width may not go."""


def road(farm: Farm, a: Field | Yard, b: Field | Yard, speed_km_h: float, width_m: float) -> timedelta:
    """Return the time by road between two places, for what is so wide on the road."""
    way = way_km(farm, a, b, width_m)
    return NEVER if way is None else timedelta(hours=way / speed_km_h)


def _loaded_speed(rig: Rig | None, farm: Farm) -> float:
    if rig is None:
        return farm.plan.pickup_speed_km_h
    return min(m.road_speed_km_h for m in (rig.power, rig.implement) if m is not None)


def _fixed(block: PlanBlock) -> bool:
    return block.pinned or block.under_way


# ---- machines --------------------------------------------------------------------------------------------


def _machine(machine: Machine, row: list[PlanBlock], situation: Situation) -> list[str]:
    farm = situation.farm
    found = [f"{machine.id}: blocks {a.id} and {b.id} overlap." for a, b in pairwise(row) if b.start < a.end]
    for day, blocks in _by_day(row, farm).items():
        for a, b in pairwise(blocks):
            need, why = _machine_gap(machine, a, b, farm)
            if a.end <= b.start < a.end + need - SLACK:
                found.append(f"{machine.id}: too little time for {why} between blocks {a.id} and {b.id}.")
        found += _machine_day(machine, day, blocks, farm)
    if row and not _fixed(row[0]):
        ready, why = _set_up(machine, row[0], situation)
        if row[0].start < ready - SLACK:
            found.append(f"{machine.id}: too little time for {why} before block {row[0].id}.")
    return found


def _set_up(machine: Machine, first: PlanBlock, situation: Situation) -> tuple[datetime, str]:
    """Return when a machine can be ready for its first block after what it was reported to do today, and what takes the time."""
    rigs, now = {rig.id: rig for rig in rigs_of(situation.farm)}, situation.now
    worked: list[tuple[datetime, str, str, str]] = []
    for (field, name), state in situation.passes.items():
        ended = state.finished_at or state.last_report_at
        known = state.last_rig in rigs and machine in rigs[state.last_rig].machines
        if known and ended is not None and ended <= now and ended.astimezone(now.tzinfo).date() == now.date():
            worked.append((ended, field, name, state.last_rig or ""))
    rig = rigs.get(first.rig or "")
    if not worked or rig is None or machine == rig.tender:
        return now, ""
    ended, field, name, before = max(worked)
    old = rigs[before]
    minutes, why = 0.0, "cleaning out what was in it"
    if (old.power, old.implement) != (rig.power, rig.implement):
        minutes, why = (
            rig.implement.hitch_minutes if rig.implement is not None else 0.0,
            "hitching in the yard",
        )
    one, two = (_taken(situation.farm, *key) for key in ((field, name), (first.field, first.pass_id)))
    if machine == rig.worker == old.worker and one and two and one != two:
        minutes += machine.clean_out_minutes
    return ended + timedelta(minutes=minutes), why


def _machine_gap(machine: Machine, a: PlanBlock, b: PlanBlock, farm: Farm) -> tuple[timedelta, str]:
    """Return the time a machine needs between two blocks, and for what: the road, over the yard to be hitched anew, cleaning out."""
    one, two = rig_of(a, farm), rig_of(b, farm)
    spot_a, spot_b = farm.field_by_id[a.field], farm.field_by_id[b.field]
    if one is None or two is None:
        return timedelta(0), "the road"
    if machine == one.tender and machine == two.tender:
        return road(farm, spot_a, spot_b, machine.road_speed_km_h, width_on_road_m(machine)), "the road"
    clean = _cleaning(machine, a, b, farm) if machine == one.worker == two.worker else timedelta(0)
    if (one.power, one.implement) == (two.power, two.implement):
        way = road(farm, spot_a, spot_b, _loaded_speed(two, farm), rig_width_m(two))
        return way + clean, "the road and cleaning out what was in it" if clean else "the road"
    yard = farm.yard_of(machine)
    hitch = timedelta(minutes=two.implement.hitch_minutes if two.implement is not None else 0.0)
    way = road(farm, spot_a, yard, _loaded_speed(one, farm), rig_width_m(one)) + road(
        farm, yard, spot_b, _loaded_speed(two, farm), rig_width_m(two)
    )
    return way + hitch + clean, "hitching in the yard"


def _cleaning(machine: Machine, a: PlanBlock, b: PlanBlock, farm: Farm) -> timedelta:
    """Return the time to clean a machine out where the second block takes other products than the first."""
    other = _taken(farm, a.field, a.pass_id) != _taken(farm, b.field, b.pass_id)
    return timedelta(minutes=machine.clean_out_minutes if other else 0.0)


def _taken(farm: Farm, field: str, pass_id: str) -> set[str]:
    spec = farm.spec(field, pass_id)
    return {item.product for item in spec.products} if spec is not None else set()


def _machine_day(machine: Machine, day: date, blocks: list[PlanBlock], farm: Farm) -> list[str]:
    shifts = [shift for person in farm.operators if (shift := person.shift_on(day)) is not None]
    if not shifts:
        return [f"{machine.id}: works on {day}, when everybody is off."]
    opens = min(_clock(day, shift.start, farm) for shift in shifts)
    closes = max(_closing(day, shift, farm) for shift in shifts)
    first, last = blocks[0], max(blocks, key=lambda b: b.end)
    found = []
    yard = farm.yard_of(machine)
    way = _way_home(machine, first, yard, farm)
    ready = opens + timedelta(minutes=farm.plan.service_minutes) + way
    if not _fixed(first) and first.start < ready - SLACK:
        found.append(f"{machine.id}: cannot be serviced and in the field for block {first.id} in time.")
    if not _fixed(last) and last.end + _way_home(machine, last, yard, farm) > closes + SLACK:
        found.append(f"{machine.id}: cannot be home on {day} after block {last.id}.")
    return found


def _way_home(machine: Machine, block: PlanBlock, yard: Yard, farm: Farm) -> timedelta:
    rig = rig_of(block, farm)
    if rig is not None and machine == rig.tender:
        speed, width = machine.road_speed_km_h, width_on_road_m(machine)
    else:
        speed, width = _loaded_speed(rig, farm), rig_width_m(rig)
    return road(farm, yard, farm.field_by_id[block.field], speed, width)


# ---- people ----------------------------------------------------------------------------------------------


def _person(person: Operator, row: list[PlanBlock], situation: Situation) -> list[str]:
    farm = situation.farm
    found = [f"{person.id}: blocks {a.id} and {b.id} overlap." for a, b in pairwise(row) if b.start < a.end]
    spans: dict[date, float] = {}
    free_days: set[date] = set()
    for day, blocks in _by_day(row, farm).items():
        for a, b in pairwise(blocks):
            spot_a, spot_b = farm.field_by_id[a.field], farm.field_by_id[b.field]
            need = road(farm, spot_a, spot_b, farm.plan.pickup_speed_km_h, 0.0)
            if a.end <= b.start < a.end + need - SLACK:
                found.append(f"{person.id}: too little time for the road between blocks {a.id} and {b.id}.")
        # Who is at work already has the way there behind them.
        leaves = blocks[0].start - (timedelta(0) if blocks[0].under_way else _leg(person, blocks[0], farm))
        last = max(blocks, key=lambda b: b.end)
        comes = last.end + _leg(person, last, farm)
        spans[day] = (comes - leaves) / timedelta(minutes=1)
        if not all(_fixed(b) for b in blocks):
            free_days.add(day)
        found += _shift(person, day, blocks[0], last, leaves, comes, situation)
        found += _day_hours(person, day, spans[day], day in free_days, situation)
    return found + _week_hours(person, spans, free_days, situation)


def _leg(person: Operator, block: PlanBlock, farm: Farm) -> timedelta:
    """Return the time from home to a block: with the rig or tender that the person drives, else by pickup."""
    rig = rig_of(block, farm)
    speed, width = farm.plan.pickup_speed_km_h, 0.0
    if rig is not None and block.support == person.id and rig.tender is not None:
        speed, width = min(speed, rig.tender.road_speed_km_h), width_on_road_m(rig.tender)
    elif rig is not None:
        speed, width = min(speed, _loaded_speed(rig, farm)), rig_width_m(rig)
    return timedelta(
        minutes=road_minutes(farm, farm.yard_of(person), farm.field_by_id[block.field], speed, width)
    )


def _clock(day: date, clock: time, farm: Farm) -> datetime:
    return datetime.combine(day, clock, ZoneInfo(farm.time_zone)).astimezone(ZoneInfo("UTC"))


def _closing(day: date, shift: Shift, farm: Farm) -> datetime:
    if shift.end <= shift.start:
        return _clock(day + timedelta(days=1), time(0), farm)
    return _clock(day, shift.end, farm)


def _shift(
    person: Operator,
    day: date,
    first: PlanBlock,
    last: PlanBlock,
    leaves: datetime,
    comes: datetime,
    situation: Situation,
) -> list[str]:
    shift = person.shift_on(day)
    if shift is None:
        return [] if _fixed(first) and _fixed(last) else [f"{person.id}: works on {day}, a day off."]
    farm = situation.farm
    found = []
    opens, closes = _clock(day, shift.start, farm), _closing(day, shift, farm)
    today = situation.now.astimezone(ZoneInfo(farm.time_zone)).date() == day
    if today:
        opens = max(opens, min(situation.now, situation.on_way.get(person.id, situation.now)))
    if not _fixed(first) and leaves < opens - SLACK:
        found.append(f"{person.id}: would leave before the shift for block {first.id}.")
    if not _fixed(last) and comes > closes + SLACK:
        found.append(f"{person.id}: would be home after the shift on {day}.")
    return found


def _day_hours(person: Operator, day: date, span: float, free: bool, situation: Situation) -> list[str]:
    total = span + situation.worked_minutes.get((person.id, day), 0.0)
    if free and total > person.most_hours_per_day * 60.0 + 0.1:
        return [f"{person.id}: {total / 60:.1f} hours on {day}, above {person.most_hours_per_day:g}."]
    return []


def _week_hours(
    person: Operator, spans: dict[date, float], free_days: Iterable[date], situation: Situation
) -> list[str]:
    found = []
    free = set(free_days)
    for monday in sorted({day - timedelta(days=day.weekday()) for day in spans}):
        days = [monday + timedelta(days=k) for k in range(7)]
        total = sum(spans.get(day, 0.0) for day in days)
        total += sum(situation.worked_minutes.get((person.id, day), 0.0) for day in days)
        if total > person.most_hours_per_week * 60.0 + 0.1 and free & set(days):
            most = person.most_hours_per_week
            found.append(f"{person.id}: {total / 60:.1f} hours in the week of {monday}, above {most:g}.")
    return found
