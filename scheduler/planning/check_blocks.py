"""Rules of the checker that concern one block alone: time, rig, people, licence, fit hours, length.

No solver code, nothing of what builds the engine's problem.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from math import ceil, floor
from zoneinfo import ZoneInfo

from scheduler.events.situation import Situation, Span
from scheduler.farm.farm import Farm
from scheduler.farm.machine import Machine, MachineKind
from scheduler.farm.programme import PassSpec
from scheduler.farm.rig import Rig, pace
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.windows.records import Outlook
from shared.vocabulary import LoadClass

Say = Callable[[str], None]
SLACK_MINUTES = 0.01
HOUR = timedelta(hours=1)


def block_faults(plan: Plan, blocks: list[PlanBlock], situation: Situation, outlook: Outlook) -> list[str]:
    """Return what is wrong with single blocks."""
    found: list[str] = []
    for block in blocks:
        spec = situation.farm.spec(block.field, block.pass_id)
        assert spec is not None

        def say(text: str, block: PlanBlock = block) -> None:
            found.append(f"Block {block.id} ({block.start:%a %d %b %H:%M}): {text}.")

        _times(plan, block, situation, say)
        rig = rig_of(block, situation.farm)
        _rig(block, spec, rig, situation.farm, say)
        _people(block, spec, rig, situation.farm, say)
        _there(block, situation, say)
        _fit(block, spec, rig, situation, outlook, say)
        if rig is not None or spec.on_foot:
            _length(block, spec, rig, situation, say)
    return found


def rig_of(block: PlanBlock, farm: Farm) -> Rig | None:
    """Return the rig that a block's machines make, None on foot or when they make none."""
    machines = [farm.machine_by_id[name] for name in block.machines if name in farm.machine_by_id]
    if not machines or len(machines) != len(block.machines):
        return None

    def only(*kinds: MachineKind) -> Machine | None:
        found = [machine for machine in machines if machine.kind in kinds]
        return found[0] if len(found) == 1 else None

    power = only(MachineKind.TRACTOR, MachineKind.SELF_PROPELLED)
    implement, tender = only(MachineKind.IMPLEMENT), only(MachineKind.TENDER)
    parts = [m for m in (power, implement, tender) if m is not None]
    if power is None or len(parts) != len(machines):
        return None
    return Rig(power, implement, tender)


def _times(plan: Plan, block: PlanBlock, situation: Situation, say: Say) -> None:
    for moment in (block.start, block.end):
        if moment.minute % 15 or moment.second or moment.microsecond:
            say(f"{moment:%H:%M:%S} is not on a quarter hour")
    if block.start < situation.now:
        say("lies in the past")
    last = plan.first_day + timedelta(days=plan.days)
    zone = ZoneInfo(situation.farm.time_zone)
    start, end = block.start.astimezone(zone), block.end.astimezone(zone)
    if not plan.first_day <= start.date() < last:
        say("lies outside the days of the plan")
    if (end - timedelta(minutes=1)).date() != start.date():
        say("runs past midnight")


def _rig(block: PlanBlock, spec: PassSpec, rig: Rig | None, farm: Farm, say: Say) -> None:
    if spec.on_foot:
        if block.machines or block.rig is not None:
            say("is work on foot and must have no machine")
        return
    if block.rig != "+".join(block.machines):
        say(f"rig {block.rig} is not made of its machines")
    missing = [name for name in block.machines if name not in farm.machine_by_id]
    if missing:
        say(f"machine {missing[0]} is not on the farm")
        return
    if rig is None:
        say("the machines do not make a rig of one power unit with at most one implement and tender")
        return
    if rig.implement is None and rig.power.kind is not MachineKind.SELF_PROPELLED:
        say(f"{rig.power.id} has no implement")
    if rig.implement is not None and rig.power.id not in rig.implement.pulled_by:
        say(f"{rig.implement.id} is not pulled by {rig.power.id}")
    if rig.worker.tender and (rig.tender is None or rig.tender.id not in rig.worker.tender):
        say(f"{rig.worker.id} needs one of its tenders beside it")
    if not rig.worker.tender and rig.tender is not None:
        say(f"{rig.tender.id} is not a tender of {rig.worker.id}")
    undone = [operation.value for operation in spec.operations if operation not in rig.worker.operations]
    if undone:
        say(f"{rig.worker.id} does not do {undone[0]}")
    if rig.worker.only_fields and block.field not in rig.worker.only_fields:
        say(f"{rig.worker.id} does not come to {block.field}")


def _people(block: PlanBlock, spec: PassSpec, rig: Rig | None, farm: Farm, say: Say) -> None:
    person = farm.operator_by_id.get(block.operator)
    if person is None:
        say(f"operator {block.operator} is not on the farm")
        return
    handles = rig is not None and rig.worker.id in person.skills
    if not handles and not {operation.value for operation in spec.operations} <= set(person.skills):
        say(f"{person.id} does not have the skill for {spec.id}")
    if rig is not None and rig.worker.driven_by and person.id not in rig.worker.driven_by:
        say(f"{person.id} may not drive {rig.worker.id}")
    licences = {spec.licence, *(farm.product_by_id[item.product].licence for item in spec.products)} - {""}
    for licence in sorted(licences):
        if not person.holds(licence, block.start.astimezone(ZoneInfo(farm.time_zone)).date()):
            say(f"{person.id} holds no valid licence {licence} on that day")
    wants = rig is not None and rig.tender is not None and rig.worker.driver_for_tender
    if not wants:
        if block.support is not None:
            say("names a second person and needs none")
        return
    helper = farm.operator_by_id.get(block.support or "")
    if helper is None:
        say("has nobody to drive the tender")
    elif helper.id == person.id:
        say(f"{person.id} cannot drive rig and tender at once")
    elif rig is not None and rig.tender is not None and not {"tender", rig.tender.id} & set(helper.skills):
        say(f"{helper.id} does not have the skill to drive the tender")


def overlaps(span: Span, start: datetime, end: datetime) -> bool:
    """Return whether a stretch of time touches a span; open-ended spans go on."""
    return span.start < end and (span.end is None or span.end > start)


def _there(block: PlanBlock, situation: Situation, say: Say) -> None:
    for name in block.machines:
        for span in situation.machine_down.get(name, ()):
            if overlaps(span, block.start, block.end):
                say(f"{name} is down then")
                break
    for person in (block.operator, block.support):
        for span in situation.operator_away.get(person or "", ()):
            if overlaps(span, block.start, block.end):
                say(f"{person} is away then")
                break


def _fit(
    block: PlanBlock, spec: PassSpec, rig: Rig | None, situation: Situation, outlook: Outlook, say: Say
) -> None:
    day = block.start.astimezone(ZoneInfo(situation.farm.time_zone)).date()
    if spec.window.first_date is not None and day < spec.window.first_date:
        say(f"is before the first date {spec.window.first_date}")
    if spec.window.last_date is not None and day > spec.window.last_date:
        say(f"is after the last date {spec.window.last_date}")
    if rig is None and not spec.on_foot:
        return
    key = (LoadClass.LIGHT, False) if rig is None else (rig.load_class, rig.tracks)
    hours = outlook.fit.get((block.field, block.pass_id), {}).get(key)
    if hours is None:
        say("nobody worked out whether the field is fit for this rig")
        return
    first = floor((block.start.astimezone(UTC) - outlook.start_utc) / HOUR)
    last = ceil((block.end.astimezone(UTC) - outlook.start_utc) / HOUR)
    if first < 0 or last > len(hours.chance):
        say("lies outside the hours that the outlook knows")
        return
    worst = float(hours.chance[first:last].min())
    least = situation.farm.plan.fit_chance_least
    # Who asked for it, or is there already, sees the ground; impossible hours stay impossible.
    state = situation.passes.get((block.field, block.pass_id))
    begun = block.under_way and state is not None and state.running is not None
    if (block.pinned or begun) and worst <= 0.0:
        say(f"is {'pinned to' if block.pinned else 'said to run in'} hours in which the pass is impossible")
    elif not (block.pinned or begun) and worst < least - 1e-9:
        say(f"has an hour with a fit chance of {worst:.2f}, below {least:.2f}")
    window = outlook.windows.get((block.field, block.pass_id))
    k = (day - outlook.first_day).days
    if window is not None and 0 <= k < len(window.allowed_chance) and window.allowed_chance[k] <= 0.0:
        say("lies on a day outside the window of the pass")


def _length(block: PlanBlock, spec: PassSpec, rig: Rig | None, situation: Situation, say: Say) -> None:
    farm = situation.farm
    factor = situation.rate_factor.get(block.field, 1.0) if spec.id in farm.tissue.passes else 1.0
    # Who is at work already need not unfold again.
    setup = 0.0 if block.under_way else spec.foot_minutes if rig is None else rig.worker.setup_minutes
    if rig is not None and (rig.worker.width_m is None or rig.worker.speed_km_h is None):
        say(f"{rig.worker.id} has no width or speed")
        return
    need = setup + pace(farm, rig, spec, farm.field_by_id[block.field], factor).minutes(block.area_ha)
    have = (block.end - block.start) / timedelta(minutes=1)
    if have < need - SLACK_MINUTES:
        say(f"has {have:.0f} minutes for {block.area_ha:.2f} ha and needs {need:.1f}")
    if block.area_ha <= 0:
        say("covers no area")
