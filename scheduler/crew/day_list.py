"""A person's day: when to leave, what to hitch and load, fields in order, hazards, cautions, what to report."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from scheduler.crew.cautions import DayFacts, cautions_for
from scheduler.crew.clean_line import clean_out_line
from scheduler.crew.handed import comes_hitched, handed, is_out
from scheduler.crew.language import Words
from scheduler.crew.load_sheet import (
    CrewRecord,
    amount_text,
    bulk_text,
    load_lines,
)
from scheduler.crew.notes import job_name, notes_of, pass_spec
from scheduler.crew.owed import Owed, out_since, owed_by
from scheduler.crew.second import second_choice
from scheduler.crew.since import changed_since
from scheduler.crew.stop import DRIVE, SUPPORT, WALK, Stop
from scheduler.crew.told import told_line
from scheduler.crew.trips import first_yard, home_at, leaves_at
from scheduler.crew.waits import waited_for, waits
from scheduler.events.situation import Situation, Span
from scheduler.farm.farm import Farm
from scheduler.farm.operator import Operator
from scheduler.farm.product import Form
from scheduler.farm.rig import Rig, rigs_of
from scheduler.planning.clean_out import clean_out_before
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.planning.worries import DOUBTFUL, DOUBTFUL_PINNED
from scheduler.windows.records import Outlook
from shared.units import to_people

OF_ODDS = (DOUBTFUL, DOUBTFUL_PINNED)
"""Worries that need no line of their own: poor odds stand below the job."""


class DayList(CrewRecord):
    """Everything one person needs for one day.

    Attributes
    ----------
    at_work : bool
        They were in the field, or on the road, when the plan was made.
    owed : tuple of Owed
        What the plan takes as done that nobody has reported.
    changed_title, changed : str, tuple of str
        What is different from the list that the person holds, and of when that is; empty where nothing is.
    """

    farm: str
    plan: str
    operator: str
    name: str
    language: str
    day: date
    yard: str = ""
    leave_at: datetime | None = None
    home_by: datetime | None = None
    at_work: bool = False
    stops: tuple[Stop, ...] = ()
    hitch: tuple[str, ...] = ()
    totals: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    owed: tuple[Owed, ...] = ()
    to_report: tuple[str, ...] = ()
    free_reason: str = ""
    notes: tuple[str, ...] = ()
    changed_title: str = ""
    changed: tuple[str, ...] = ()

    def lead(self, words: Words) -> str:
        """Return when to leave and when to be back; empty for who has no work."""
        if self.leave_at is None or self.home_by is None:
            return ""
        leaves = "At work already." if self.at_work else "Leave {yard} at {leave}."
        leave, home = words.clock(self.leave_at), words.clock(self.home_by)
        return words(f"{leaves} Back about {{home}}.", yard=self.yard, leave=leave, home=home)


def day_list(
    plan: Plan, situation: Situation, outlook: Outlook, operator: str, day: date, before: Plan | None = None
) -> DayList:
    """Return the list of one person for one day, in that person's language.

    Parameters
    ----------
    plan : Plan
    situation : Situation
        Gives the farm, absences and rate factors.
    outlook : Outlook
        Gives the weather for the cautions.
    operator : str
        Operator id.
    day : date
        Farm-local day.
    before : Plan, optional
        The plan of the list that the person holds: what is different from it is said.
    """
    farm = situation.farm
    person = farm.operator_by_id[operator]
    words = Words(person.language)
    blocks = sorted(
        (b for b in plan.of_day(day) if operator in (b.operator, b.support)), key=lambda b: b.start
    )
    head: dict[str, Any] = {"farm": farm.name, "plan": plan.id, "operator": operator, "name": person.label}
    head |= {"language": words.language}
    rigs = {rig.id: rig for rig in rigs_of(farm)}
    if before is not None:
        changed = changed_since(before, plan, situation, rigs, operator, day, words)
        since = before.made_at.astimezone(ZoneInfo(farm.time_zone))
        when = (
            words.clock(since) if since.date() == day else f"{words.day(since.date())} {words.clock(since)}"
        )
        title = words("Changed since the list of {time}", time=when)
        head |= {"changed": changed, "changed_title": title if changed else ""}
    on_list = {(block.field, block.pass_id) for block in blocks}
    head |= {"owed": owed_by(plan, situation, operator, day, words, on_list)}
    if not blocks:
        return DayList(**head, day=day, free_reason=_free_reason(person, situation, day, words))
    stops = tuple(_stop(plan, situation, rigs, block, operator, blocks, words) for block in blocks)
    out = [block.rig for block in blocks if block.under_way or is_out(plan, block)]
    to_hitch = [stop for stop, block in zip(stops, blocks, strict=True) if block.rig not in out]
    last = max(blocks, key=lambda block: block.end)
    leave, home = leaves_at(farm, person, rigs, blocks[0]), home_at(farm, person, rigs, last)
    facts = DayFacts(
        operations=frozenset(op.value for b in blocks for op in pass_spec(farm, b).operations),
        with_machine=any(b.rig for b in blocks),
        on_foot=any(b.rig is None for b in blocks),
        leave_at=out_since(plan, situation, operator, leave),
        home_by=home,
        work_start=blocks[0].start,
        work_end=last.end,
        moves=tuple(moment for block in blocks for moment in (block.start, block.end)),
        rinses=any(stop.clean_out and stop.loads[0].form == Form.LIQUID for stop in stops),
    )
    return DayList(
        **head,
        day=day,
        yard=first_yard(farm, person, rigs, blocks[0]).name or first_yard(farm, person, rigs, blocks[0]).id,
        leave_at=leave,
        home_by=home,
        at_work=day == plan.first_day and (blocks[0].under_way or operator in plan.on_way),
        stops=stops,
        hitch=tuple(dict.fromkeys(line for stop in to_hitch for line in stop.hitch)),
        totals=_totals(farm, stops, words),
        cautions=cautions_for(facts, farm, outlook, words),
        to_report=_to_report(stops, words),
        notes=notes_of(plan, farm, {b.field for b in blocks}, words, less=OF_ODDS),
    )


def day_lists(
    plan: Plan, situation: Situation, outlook: Outlook, day: date, before: Plan | None = None
) -> tuple[DayList, ...]:
    """Return the list of every person of the farm for one day, those with work first."""
    lists = [day_list(plan, situation, outlook, one.id, day, before) for one in situation.farm.operators]
    return tuple(
        sorted(lists, key=lambda one: (one.leave_at is None, one.leave_at or datetime.max, one.name))
    )


def _stop(
    plan: Plan, situation: Situation, rigs: dict[str, Rig], block: PlanBlock, operator: str, listed: list[PlanBlock],
    words: Words,
) -> Stop:  # fmt: skip
    farm = situation.farm
    field, spec, rig = farm.field_by_id[block.field], pass_spec(farm, block), rigs.get(block.rig or "")
    role = WALK if rig is None else DRIVE if block.operator == operator else SUPPORT
    area, unit = to_people(block.area_ha, "area_ha", farm.units)
    factor = farm.tissue_factor(spec, field.id, situation.rate_factor)
    other = block.support if role == DRIVE else block.operator if role == SUPPORT else None
    return Stop(
        block=block.id,
        role=role,
        start=block.start,
        end=block.end,
        field=field.id,
        field_name=field.label,
        pass_id=block.pass_id,
        job=job_name(farm, block, words),
        rig="" if rig is None else rig.label,
        hitch=() if role == DRIVE and comes_hitched(plan, block) else _hitch(rig, role, words),
        area_ha=block.area_ha,
        area_text=f"{words.number(area, 1)} {unit}",
        loads=load_lines(farm, rig, spec, block.area_ha, factor, words),
        told=told_line(situation, field.id, spec.id, words),
        guidance_line=field.guidance_line if rig is not None else "",
        hazards=tuple(words(hazard) for hazard in field.hazards),
        field_note=field.note,
        with_whom="" if other is None else _with_whom(farm, role, other, words),
        waits_for=waits(plan, situation, block, operator, words),
        waited_for_by=waited_for(plan, farm, block, operator, words),
        handed=handed(plan, farm, block, words) if role == DRIVE else (),
        clean_out=clean_out_line(clean_out_before(plan, situation, block), farm, words)
        if role == DRIVE
        else "",
        chance=block.chance,
        second=second_choice(plan, situation, block, operator, listed, words),
    )


def _hitch(rig: Rig | None, role: str, words: Words) -> tuple[str, ...]:
    if rig is None:
        return ()
    if role == SUPPORT and rig.tender is not None:
        return (words("Take {tender}, filled, to the field", tender=rig.tender.label),)
    if rig.implement is None:
        return (words("Take {machine}", machine=rig.power.label),)
    return (words("Hitch {tool} to {tractor}", tool=rig.implement.label, tractor=rig.power.label),)


def _with_whom(farm: Farm, role: str, other: str, words: Words) -> str:
    name = farm.operator_label(other)
    return words("{name} brings the tender", name=name) if role == DRIVE else words("for {name}", name=name)


def _totals(farm: Farm, stops: tuple[Stop, ...], words: Words) -> tuple[str, ...]:
    sums: dict[str, float] = {}
    for stop in stops:
        for line in stop.loads:
            sums[line.product] = sums.get(line.product, 0.0) + line.amount
    water = sums.pop("", 0.0)
    out = [
        f"{farm.product_by_id[key].label}: {amount_text(farm, farm.product_by_id[key], amount, words)}"
        for key, amount in sums.items()
    ]
    if water:
        out.append(f"{words('Water')}: {bulk_text(farm, Form.LIQUID, water, words)}")
    return tuple(out)


def _to_report(stops: tuple[Stop, ...], words: Words) -> tuple[str, ...]:
    lines = [words("Area done in every field, finished or not, and the time you stopped")]
    if any(stop.loads for stop in stops):
        lines.append(words("Product left in tank or bags"))
    if any(stop.role == WALK for stop in stops):
        lines.append(words("Crop stage, height, what you saw; samples taken"))
    lines.append(words("Rain in the gauge, wet spots, trouble with machines, anything unsafe"))
    return tuple(lines)


def _free_reason(person: Operator, situation: Situation, day: date, words: Words) -> str:
    if person.shift_on(day) is None:
        return words("Day off.")
    if _away(situation.operator_away.get(person.id, ()), day):
        return words("Reported away.")
    return words("Nothing planned; stay reachable, the plan may change.")


def _away(spans: tuple[Span, ...], day: date) -> bool:
    return any(span.start.date() <= day and (span.end is None or span.end.date() >= day) for span in spans)
