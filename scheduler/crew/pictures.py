"""The numbers behind the pictures, for pages and for files alike: water, progress, windows, days."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, datetime, timedelta
from itertools import accumulate
from zoneinfo import ZoneInfo

import numpy as np

from scheduler.events.kinds import PassProgressed
from scheduler.events.presumed import still_presumed
from scheduler.events.situation import Situation
from scheduler.events.state import State
from scheduler.planning.costs import loss_at
from scheduler.planning.plan import Plan
from scheduler.windows.records import Outlook
from shared.pictures import Days, Piece, Progress, Water, WindowBar, Windows
from shared.weather_records import HourlyWeather

RAIN_DAYS, BACK_DAYS, WEEK = 14, 14, 7


def water(situation: Situation, outlook: Outlook, observed: HourlyWeather, field_id: str) -> Water:
    """Return rain of the last two weeks and of the days ahead, with the wetness of the surface ahead."""
    zone = ZoneInfo(outlook.time_zone)
    first = outlook.first_day - timedelta(days=RAIN_DAYS)
    fell = []
    for k in range(RAIN_DAYS):
        a, b = (datetime.combine(first + timedelta(days=k + j), datetime.min.time(), zone) for j in (0, 1))
        rain = observed.between(a, b).rain_mm
        fell.append(float(rain.sum()) if rain.size else 0.0)
    middle, high = [], []
    for k in range(outlook.days):
        ahead = outlook.weather.rain_mm[:, 24 * k : 24 * (k + 1)].sum(axis=1)
        low, top = (float(np.quantile(ahead, share)) for share in (0.5, 0.9)) if ahead.size else (0.0, 0.0)
        middle.append(low)
        high.append(top)
    wet = outlook.fields[field_id].surface_wetness
    low_wet, middle_wet, high_wet = (tuple(float(v) for v in row) for row in wet)
    return Water(
        f"{situation.farm.field_label(field_id)}: rain and wetness of the surface", tuple(first + timedelta(days=k) for k in range(RAIN_DAYS + outlook.days)),
        (*fell, *middle), (*fell, *high), RAIN_DAYS, (low_wet, middle_wet, high_wet),
    )  # fmt: skip


def progress(
    situation: Situation, outlook: Outlook, state: State, plan: Plan | None, pass_id: str
) -> Progress | None:
    """Return the area of a pass over all fields by day; None when no field has it (or it was cancelled everywhere)."""
    farm = situation.farm
    fields = [f for (f, other), one in situation.passes.items() if other == pass_id and not one.cancelled]
    total = sum(farm.field_by_id[field].area_ha for field in fields)
    if total <= 0:
        return None
    left = sum(situation.left_ha(field, pass_id) for field in fields)
    today, told = outlook.first_day, area_told(situation, outlook, state, pass_id)
    first = min([today - timedelta(days=BACK_DAYS), *told], default=today)
    back = [first + timedelta(days=k) for k in range((today - first).days + 1)]
    before = max(0.0, total - left - sum(told.values()))
    done = [before + v for v in accumulate(told.get(day, 0.0) for day in back)]
    done[-1] = total - left
    planned, sure = area_planned(situation, plan, pass_id)
    days = [today + timedelta(days=k) for k in range(outlook.days + 1)]
    ahead, likely = (
        [done[-1] + v for v in accumulate([0.0, *(by_day.get(day, 0.0) for day in days[:-1])])] for by_day in (planned, sure)
    )  # fmt: skip
    return Progress(
        farm.pass_label(pass_id), (*back, *days[1:]), tuple(done), tuple(ahead), tuple(likely), total
    )


def every_progress(
    situation: Situation, outlook: Outlook, state: State, plan: Plan | None
) -> tuple[Progress, ...]:
    """Return the progress of every pass that some field has, in programme order."""
    passes = dict.fromkeys(pass_id for _, pass_id in situation.passes)
    found = (progress(situation, outlook, state, plan, pass_id) for pass_id in passes)
    return tuple(one for one in found if one is not None)


def area_told(situation: Situation, outlook: Outlook, state: State, pass_id: str) -> dict[date, float]:
    """Return the area reported by local day [ha]."""
    zone, out = ZoneInfo(outlook.time_zone), defaultdict[date, float](float)
    for event in state.facts.values():
        body = event.body
        if (
            isinstance(body, PassProgressed)
            and body.pass_id == pass_id
            and event.happened_at <= situation.now
        ):
            out[event.happened_at.astimezone(zone).date()] += body.area_ha
    return dict(out)


def area_planned(
    situation: Situation, plan: Plan | None, pass_id: str
) -> tuple[dict[date, float], dict[date, float]]:
    """Return the planned area by day, whole and weighted by its odds [ha]."""
    planned, sure = defaultdict[date, float](float), defaultdict[date, float](float)
    for block in () if plan is None else plan.blocks:
        if block.pass_id == pass_id and block.end > situation.now:
            planned[block.start.date()] += block.area_ha
            sure[block.start.date()] += block.area_ha * block.chance
    # What a plan made during the day took as done is not in its blocks any more, and nobody has reported it yet.
    for one in () if plan is None else still_presumed(plan.presumed, situation):
        if one.pass_id == pass_id:
            planned[one.start.date()] += one.area_ha
            sure[one.start.date()] += one.area_ha
    return dict(planned), dict(sure)


def windows(situation: Situation, outlook: Outlook, plan: Plan | None, most: int = 40) -> Windows:
    """Return the windows of what is left, dearest delay first; at most so many."""
    farm, today, rows = situation.farm, outlook.first_day, []
    for key, window in outlook.windows.items():
        left = situation.left_ha(*key)
        if left <= 0.05:
            continue
        field, spec = farm.field_by_id[key[0]], farm.spec(*key)
        loss = (
            max(0.0, loss_at(window, today + timedelta(days=1)) - loss_at(window, today))
            * left
            / field.area_ha
        )
        blocks = tuple((b.start, b.end) for b in (plan.blocks if plan else ()) if (b.field, b.pass_id) == key)
        label = f"{field.label}: {spec.label if spec is not None else key[1]}"
        rows.append((-loss, window.closes or date.max, WindowBar(label, window.opens, window.closes, blocks)))
    bars = tuple(bar for _, _, bar in sorted(rows, key=lambda row: (row[0], row[1], row[2].label)))[:most]
    ends = [bar.closes for bar in bars if bar.closes is not None]
    until = max([today + timedelta(days=outlook.days), *ends])
    return Windows(
        f"{farm.name}: windows of the work that is left", today, min(until, today + timedelta(days=70)), bars
    )


def days(situation: Situation, plan: Plan, machines: bool = False, count: int = WEEK) -> Days:
    """Return who (or, with `machines`, which machine) is where on the days of a plan."""
    farm, rows = situation.farm, []
    last = plan.first_day + timedelta(days=count)
    for one in farm.machines if machines else farm.operators:
        mine = [
            b
            for b in plan.blocks
            if b.start.date() < last and one.id in (b.machines if machines else (b.operator, b.support))
        ]
        pieces = tuple(
            Piece(b.start, b.end, farm.field_label(b.field), farm.pass_label(b.pass_id), b.chance) for b in mine if b.field in farm.field_by_id
        )  # fmt: skip
        if pieces or not machines:
            rows.append((one.label, pieces))
    return Days(f"{farm.name}: week of {plan.first_day:%d %B}", plan.first_day, count, tuple(rows))
