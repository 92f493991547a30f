"""What must be ready: products, rigs, licences, people, for the first working days of a plan.

Question answered: *what has to stand in the yard, by when, and is it there?*
"""

from __future__ import annotations

from collections import defaultdict
from datetime import date, datetime, timedelta

from scheduler.events.situation import Situation
from scheduler.planning.clean_out import clean_out_before
from scheduler.planning.jobs import licences_for, rate_factor
from scheduler.planning.plan import Plan, PlanBlock, ReadyItem
from scheduler.planning.wording import Names, when

DAYS_SHOWN = 2
LICENCE_DAYS = 14


def ready_list(plan: Plan, situation: Situation) -> tuple[ReadyItem, ...]:
    """Return what must be ready for the first two days with work, in order of time; what is missing first."""
    days = sorted({block.start.date() for block in plan.blocks})[:DAYS_SHOWN]
    blocks = [block for block in plan.blocks if block.start.date() in days]
    items = _products(plan, days, situation) + _rigs(blocks, situation) + _licences(blocks, situation)
    items += _clean_outs(plan, blocks, situation)
    return tuple(sorted(items, key=lambda item: (item.ok, item.by, item.what)))


def block_products(block: PlanBlock, situation: Situation) -> dict[str, float]:
    """Return what a block takes of each product, in base units."""
    spec = situation.farm.spec(block.field, block.pass_id)
    if spec is None:
        return {}
    factor = rate_factor(situation, block.field, spec)
    return {
        name: rate * block.area_ha for name, rate in situation.farm.taken_by(spec, factor).items() if rate > 0
    }


def _products(plan: Plan, days: list[date], situation: Situation) -> list[ReadyItem]:
    """One item per product and day: what the day takes against what will be there at its first start."""
    names = Names(situation.farm)
    used: dict[str, float] = defaultdict(float)
    items = []
    for day in days:
        need: dict[str, float] = defaultdict(float)
        first: dict[str, datetime] = {}
        for block in plan.of_day(day):
            for name, amount in block_products(block, situation).items():
                need[name] += amount
                first.setdefault(name, block.start)
        for name, amount in sorted(need.items()):
            supply = situation.supplies.get(name)
            stock = 0.0 if supply is None else supply.stock
            coming = [d for d in (() if supply is None else supply.deliveries) if d[0] <= day]
            there = stock + sum(d[1] for d in coming) - used[name]
            used[name] += amount
            text = f"{names.product(name)}: {names.amount(name, amount)} for {day:%a}; {names.amount(name, there)} there"
            if coming and stock - used[name] < 0:
                text += f", with the delivery of {max(d[0] for d in coming):%a %d %b}"
            items.append(
                ReadyItem(
                    kind="product",
                    what=name,
                    by=first[name],
                    text=f"{text}.",
                    ok=there >= amount - 1e-3 * max(1.0, amount),
                )
            )
    return items


def _rigs(blocks: list[PlanBlock], situation: Situation) -> list[ReadyItem]:
    """One item per rig and day that must stand hitched, with who takes it."""
    names = Names(situation.farm)
    items = []
    hitched: dict[str, str] = {}
    for block in sorted(blocks, key=lambda b: b.start):
        if block.rig is None or len(block.machines) < 2:
            continue
        key = f"{block.start.date()} {block.machines[0]}"
        if hitched.get(key) == block.rig:
            continue
        hitched[key] = block.rig
        if block.under_way:
            continue
        down = [m for m in block.machines if _down(m, block.start, situation)]
        text = f"{names.machines(block.machines)} hitched and serviced for {names.person(block.operator)}, {when(block.start)}"
        if block.support is not None:
            text += f"; {names.person(block.support)} with the tender"
        if down:
            text += f"; {names.machine(down[0])} must be back by then"
        items.append(ReadyItem(kind="rig", what=block.rig, by=block.start, text=f"{text}.", ok=not down))
    return items


def _clean_outs(plan: Plan, blocks: list[PlanBlock], situation: Situation) -> list[ReadyItem]:
    """One item per machine that must be cleaned out before the day begins; during the day the plan keeps the time for it."""
    names = Names(situation.farm)
    items = []
    for block in blocks:
        found = clean_out_before(plan, situation, block)
        if found is None or found.same_day:
            continue
        there, coming = (" and ".join(map(names.product, some)) for some in (found.there, found.coming))
        text = f"{names.machine(found.machine.id)} cleaned out of {there} and ready for {coming}, {when(block.start)}."
        items.append(ReadyItem(kind="rig", what=found.machine.id, by=block.start, text=text))
    return items


def _down(machine: str, moment: datetime, situation: Situation) -> bool:
    """Return whether a machine that is down now is due back before a moment."""
    now = situation.now
    return any(
        span.start <= now and span.end is not None and now < span.end <= moment
        for span in situation.machine_down.get(machine, ())
    )


def _licences(blocks: list[PlanBlock], situation: Situation) -> list[ReadyItem]:
    """One item per person and licence that runs out soon."""
    names = Names(situation.farm)
    found: dict[tuple[str, str], ReadyItem] = {}
    for block in blocks:
        spec = situation.farm.spec(block.field, block.pass_id)
        person = situation.farm.operator_by_id.get(block.operator)
        if spec is None or person is None:
            continue
        wanted = licences_for(situation.farm, spec)
        for licence in person.licences:
            last = licence.expires
            if licence.name not in wanted or last is None:
                continue
            if last - block.start.date() <= timedelta(days=LICENCE_DAYS):
                text = f"{names.person(person.id)}: licence {licence.name} runs out on {last:%a %d %b %Y}."
                key = (person.id, licence.name)
                found.setdefault(key, ReadyItem(kind="licence", what=licence.name, by=block.start, text=text))
    return list(found.values())
