"""What to watch: windows that close, products that run short, licences, hours, odds, old weather.

Question answered: *what may go wrong in the next days, gravest first?* Severity 3 costs a crop or a window, 2 costs
money or needs a call today, 1 is worth knowing.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from scheduler.events.situation import LEAST_HA, FieldPass, Situation
from scheduler.events.skipped import unreported_before
from scheduler.planning.jobs import licences_for, rate_factor, skilled
from scheduler.planning.plan import Plan, Worry
from scheduler.planning.presumed import presumed_lines
from scheduler.planning.ready import block_products
from scheduler.planning.wording import Names, day_text, when
from scheduler.windows.records import Outlook

CLOSING_DAYS = 4
STALE_HOURS = 18.0
LOW_CHANCE = 0.65
NEAR_LIMIT = 0.92
MOST = 1000
"""A bound for a farm on which everything goes wrong; people read them put together (`worry_groups`)."""

CLOSED = "{job} in {place}: the window closed on {closes} with {left_ha} left."
NO_ROOM = "{job} in {place}: the window closes on {closes}, {left_ha} find no room."
TIGHT = "{job} in {place}: planned to end on {ends}, the window closes on {closes}."
DOUBTFUL = "{job} in {place}, {start}: odds of only {chance}."
DOUBTFUL_PINNED = "{job} in {place}, {start}: odds of only {chance}, pinned."
SKIPPED = "{job} in {place}: not reported done, though work that comes after it is."
OF_PASSES = (SKIPPED, CLOSED, NO_ROOM, TIGHT, DOUBTFUL, DOUBTFUL_PINNED)
"""Lines that a crew list shows in its own language (crew/translations)."""


def worries(plan: Plan, situation: Situation, outlook: Outlook) -> tuple[Worry, ...]:
    """Return what to watch, gravest first."""
    found = (
        [Worry(severity=1, text=text) for text in presumed_lines(situation.farm, plan.presumed)]
        + _closing(plan, situation, outlook)
        + _stock(plan, situation)
        + _licences(plan, situation)
        + _weather(plan, situation)
        + _odds(plan, situation)
        + _hours(plan, situation)
        + _open_ends(plan, situation)
    )
    return tuple(sorted(found, key=lambda worry: -worry.severity)[:MOST])


def _closing(plan: Plan, situation: Situation, outlook: Outlook) -> list[Worry]:
    """Windows that close while area would still be left."""
    names, missing = Names(situation.farm), unreported_before(situation)
    found = [_of_pass(names, 3, SKIPPED, key) for key in missing]
    for (field, pass_id), window in outlook.windows.items():
        left = situation.left_ha(field, pass_id)
        if window.closes is None or left < LEAST_HA or (field, pass_id) in missing:
            continue
        days = (window.closes - plan.first_day).days
        if days >= plan.days:
            continue
        ends = [b.end.date() for b in plan.blocks if (b.field, b.pass_id) == (field, pass_id)]
        planned = sum(b.area_ha for b in plan.blocks if (b.field, b.pass_id) == (field, pass_id))
        key, closes = (field, pass_id), window.closes
        if days < 0:
            found.append(_of_pass(names, 3, CLOSED, key, closes=closes, left_ha=left))
        elif planned < left - LEAST_HA:
            found.append(_of_pass(names, 3, NO_ROOM, key, closes=closes, left_ha=left - planned))
        elif ends and (closes - max(ends)).days <= 1 and days <= CLOSING_DAYS:
            found.append(_of_pass(names, 2, TIGHT, key, ends=max(ends), closes=closes))
    return found


def _of_pass(
    names: Names, severity: int, line: str, key: FieldPass, **values: date | datetime | float
) -> Worry:
    """Return a worry about a pass in a field, in English and as a line that can be said in another language."""
    field, pass_id = key
    said = {name: _english(names, name, value) for name, value in values.items()}
    return Worry(
        severity=severity,
        text=line.format(job=names.job(field, pass_id), place=names.field(field), **said),
        field=field,
        pass_id=pass_id,
        line=line,
        values={name: v.isoformat() if isinstance(v, date) else repr(float(v)) for name, v in values.items()},
    )


def _english(names: Names, name: str, value: date | datetime | float) -> str:
    if isinstance(value, datetime):
        return when(value)
    if isinstance(value, date):
        return day_text(value)
    return f"{value:.0%}" if name == "chance" else names.area(value)


def _stock(plan: Plan, situation: Situation) -> list[Worry]:
    """Products that the remaining passes need more of than is there and on the way."""
    names = Names(situation.farm)
    need: dict[str, float] = defaultdict(float)

    for (field, pass_id), _ in situation.passes.items():
        spec = situation.farm.spec(field, pass_id)
        left = situation.left_ha(field, pass_id)
        if spec is None or left < LEAST_HA:
            continue
        for product, rate in situation.farm.taken_by(spec, rate_factor(situation, field, spec)).items():
            need[product] += rate * left
    planned: dict[str, float] = defaultdict(float)
    for block in plan.blocks:
        for product, amount in block_products(block, situation).items():
            planned[product] += amount
    found = []
    for product, amount in sorted(need.items()):
        supply = situation.supplies.get(product)
        there = 0.0 if supply is None else supply.stock + sum(d[1] for d in supply.deliveries)
        if amount > there * 1.001 + 1e-6:
            said = (
                f"{names.product(product)}: {names.amount(product, amount)} still needed, "
                f"{names.amount(product, there)} there or on the way; {names.amount(product, amount - there)} short."
            )
            found.append(Worry(severity=2, text=said))
        elif supply is not None and planned[product] > supply.stock + 1e-6 and supply.deliveries:
            first = min(supply.deliveries)
            said = f"{names.product(product)}: the plan leans on the delivery of {day_text(first[0])}."
            found.append(Worry(severity=1, text=said))
    return found


def _licences(plan: Plan, situation: Situation) -> list[Worry]:
    """Licences that run out within the plan though passes that need them remain."""
    names = Names(situation.farm)
    last_day = plan.first_day + timedelta(days=plan.days - 1)
    wanted: dict[str, list[tuple[str, str]]] = defaultdict(list)
    for field, pass_id in situation.passes:
        spec = situation.farm.spec(field, pass_id)
        if spec is not None and situation.left_ha(field, pass_id) >= LEAST_HA:
            for name in licences_for(situation.farm, spec):
                wanted[name].append((field, pass_id))
    found = []
    for person in situation.farm.operators:
        for licence in person.licences:
            uses = [
                key
                for key in wanted.get(licence.name, ())
                if (spec := situation.farm.spec(*key)) is not None and skilled(person, spec.operations, None)
            ]
            if licence.expires is None or licence.expires >= last_day or not uses:
                continue
            verb = "ran out" if licence.expires < plan.first_day else "runs out"
            said = f"{names.person(person.id)}: licence {licence.name} {verb} on {day_text(licence.expires)}."
            found.append(Worry(severity=2, text=said))
    return found


def _weather(plan: Plan, situation: Situation) -> list[Worry]:
    """An old forecast."""
    if plan.forecast_issued_at is None:
        return []
    age = (situation.now - plan.forecast_issued_at) / timedelta(hours=1)
    if age <= STALE_HOURS:
        return []
    issued = plan.forecast_issued_at.astimezone(ZoneInfo(plan.time_zone))
    return [Worry(severity=2, text=f"The forecast is {age:.0f} hours old (issued {when(issued)}).")]


def _odds(plan: Plan, situation: Situation) -> list[Worry]:
    """Blocks of the next two days that may well not run."""
    names = Names(situation.farm)
    soon = plan.first_day + timedelta(days=1)
    return [
        _of_pass(
            names,
            2 if block.pinned else 1,
            DOUBTFUL_PINNED if block.pinned else DOUBTFUL,
            (block.field, block.pass_id),
            start=block.start,
            chance=block.chance,
        )
        for block in plan.blocks
        if block.start.date() <= soon and block.chance < LOW_CHANCE
    ]


def _hours(plan: Plan, situation: Situation) -> list[Worry]:
    """People who come near their weekly hours (roads not counted)."""
    names = Names(situation.farm)
    found = []
    for person in situation.farm.operators:
        weeks: dict[str, float] = defaultdict(float)
        for day in sorted({block.start.date() for block in plan.of_operator(person.id)}):
            own = [block for block in plan.of_operator(person.id) if block.start.date() == day]
            span = (max(b.end for b in own) - min(b.start for b in own)) / timedelta(hours=1)
            weeks[day_text(day - timedelta(days=day.weekday()))] += span
        for (who, day), minutes in situation.worked_minutes.items():
            monday = day_text(day - timedelta(days=day.weekday()))
            if who == person.id and monday in weeks:
                weeks[monday] += minutes / 60.0
        for monday, hours in weeks.items():
            if hours >= NEAR_LIMIT * person.most_hours_per_week:
                said = f"{names.person(person.id)}: {hours:.0f} of {person.most_hours_per_week:g} hours in the week of {monday}."
                found.append(Worry(severity=1, text=said))
    return found


def _open_ends(plan: Plan, situation: Situation) -> list[Worry]:
    """Machines down and people away with no end named: the plan does without them."""
    names = Names(situation.farm)
    found = []
    for machine, spans in situation.machine_down.items():
        if any(span.end is None and span.start <= situation.now for span in spans):
            found.append(
                Worry(
                    severity=2,
                    text=f"{names.machine(machine)} is down with no end named; the plan does without.",
                )
            )
    for person, spans in situation.operator_away.items():
        if any(span.end is None and span.start <= situation.now for span in spans):
            found.append(
                Worry(
                    severity=1,
                    text=f"{names.person(person)} is away with no end named; the plan does without.",
                )
            )
    return found
