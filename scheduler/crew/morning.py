"""What the morning page shows, as plain records: people by days, ground by days, rain ahead, what to watch.

Shades follow the soil: dry ground is pale, wet ground dark, so the same picture reads in grey print; each cell
also carries its number, and planned work a mark, so shade is never the only carrier of meaning.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np

from scheduler.crew.language import Words
from scheduler.crew.notes import job_name
from scheduler.events.situation import Situation
from scheduler.farm.farm import Farm
from scheduler.planning.plan import LOOK_FIRST, Plan, PlanBlock
from scheduler.windows.records import FitHours, Outlook
from shared.clock import Horizon
from shared.counted import counted
from shared.units import to_people
from shared.vocabulary import Reason

DAYS_SHOWN = 7
# Wet soil to dry soil, dark to pale: chosen so that lightness alone orders them.
SHADES = ("#2f2722", "#5a4636", "#8a6d4f", "#b99b74", "#dcc7a1", "#f3e8cf")


@dataclass(frozen=True)
class BoardCell:
    """A person's blocks on one day: (clock, field, job, area, sure) each."""

    day: date
    lines: tuple[tuple[str, str, str, str, bool], ...]


@dataclass(frozen=True)
class GroundCell:
    """One field on one day: odds at the best hour, expected fit hours, shade, ink, and whether work is planned."""

    day: date
    chance_pct: int
    hours: float
    shade: str
    ink: str
    planned: bool
    reason: str


@dataclass(frozen=True)
class GroundRow:
    """A field, its next pass and where its crop stands."""

    field: str
    area: str
    next_pass: str
    stage: str
    window: str
    cells: tuple[GroundCell, ...]


@dataclass(frozen=True)
class RainDay:
    """Rain of one day over the members: 10, 50 and 90 %, and the share of members with any."""

    day: date
    low: float
    mid: float
    high: float
    wet_pct: int
    unit: str
    known: bool


def days_shown(plan: Plan) -> list[date]:
    """Return the days on the page."""
    return [plan.first_day + timedelta(days=k) for k in range(min(DAYS_SHOWN, plan.days))]


def board(plan: Plan, farm: Farm, words: Words) -> list[tuple[str, list[BoardCell]]]:
    """Return operators by days."""
    rows = []
    for person in farm.operators:
        own = plan.of_operator(person.id)
        rows.append(
            (
                person.label,
                [
                    BoardCell(
                        day,
                        tuple(
                            _line(farm, block, person.id, words) for block in own if block.start.date() == day
                        ),
                    )
                    for day in days_shown(plan)
                ],
            )
        )
    return rows


def _line(farm: Farm, block: PlanBlock, person: str, words: Words) -> tuple[str, str, str, str, bool]:
    area, unit = to_people(block.area_ha, "area_ha", farm.units)
    job = words("tender") if block.support == person else job_name(farm, block, words)
    clock = f"{words.clock(block.start)}–{words.clock(block.end)}"
    return (
        clock,
        farm.field_label(block.field),
        job,
        f"{words.number(area)} {unit}",
        block.chance >= LOOK_FIRST,
    )


def ground(plan: Plan, situation: Situation, outlook: Outlook, words: Words) -> list[GroundRow]:
    """Return fields by days, for the next pass that each field needs."""
    farm = situation.farm
    horizon = Horizon(outlook.first_day, outlook.days, outlook.time_zone)
    rows = []
    for field in farm.fields:
        due = next_pass(situation, outlook, field.id)
        if due is None:
            continue
        spec = farm.spec(field.id, due)
        hours = best_hours(outlook, field.id, due)
        if waits_for_crop(hours, horizon, days_shown(plan)):
            continue
        area, unit = to_people(situation.left_ha(field.id, due), "area_ha", farm.units)
        planned = {block.start.date() for block in plan.blocks if block.field == field.id}
        view = outlook.fields.get(field.id)
        rows.append(
            GroundRow(
                field=field.label,
                area=f"{words.number(area)} {unit}",
                next_pass=spec.label if spec is not None else due,
                stage=view.stage_now if view is not None else "",
                window=_window_text(outlook, field.id, due),
                cells=tuple(_cell(hours, horizon, day, day in planned) for day in days_shown(plan)),
            )
        )
    return rows


def next_pass(situation: Situation, outlook: Outlook, field_id: str) -> str | None:
    """Return the first unfinished pass of a field that the outlook judges; None when nothing is left."""
    keys = [key for key in outlook.fit if key[0] == field_id and situation.left_ha(*key) > 0]
    programme = situation.farm.programme_of(situation.farm.field_by_id[field_id])
    order = {spec.id: place for place, spec in enumerate(programme.passes)}
    ordered = sorted(keys, key=lambda key: order.get(key[1], len(order)))
    return ordered[0][1] if ordered else None


def best_hours(outlook: Outlook, field_id: str, pass_id: str) -> FitHours:
    """Return the fit hours of the rig with the best odds for a pass."""
    return max(outlook.fit[(field_id, pass_id)].values(), key=lambda hours: float(hours.chance.sum()))


def waits_for_crop(hours: FitHours, horizon: Horizon, days: list[date]) -> bool:
    """Return whether no hour of the days shown can be fit: then the odds say nothing about the ground."""
    end = horizon.day_interval(horizon.day_index(days[-1]))[1] // 60
    return float(hours.chance[:end].max(initial=0.0)) < 0.01


def waiting(plan: Plan, situation: Situation, outlook: Outlook) -> list[str]:
    """Return a sentence for every field whose next pass cannot run on the days shown."""
    horizon = Horizon(outlook.first_day, outlook.days, outlook.time_zone)
    found = []
    for field in situation.farm.fields:
        due = next_pass(situation, outlook, field.id)
        if due is None or not waits_for_crop(best_hours(outlook, field.id, due), horizon, days_shown(plan)):
            continue
        spec, window = situation.farm.spec(field.id, due), outlook.windows.get((field.id, due))
        opens = (
            ""
            if window is None or window.opens is None
            else f", opens about {window.opens.day} {window.opens:%b}"
        )
        reason = _main_reason(best_hours(outlook, field.id, due), 0, 24 * len(days_shown(plan)))
        found.append(f"{field.label}: {spec.label if spec is not None else due} ({reason}{opens})")
    return found


def _main_reason(hours: FitHours, start: int, end: int) -> str:
    daytime = np.array(
        [code for h, code in enumerate(hours.reason[start:end]) if 8 <= h % 24 < 20], dtype=int
    )
    return list(Reason)[int(np.bincount(daytime).argmax())].value if daytime.size else ""


def _cell(hours: FitHours, horizon: Horizon, day: date, planned: bool) -> GroundCell:
    start, end = (minute // 60 for minute in horizon.day_interval(horizon.day_index(day)))
    chance = hours.chance[start:end]
    best = float(chance.max()) if chance.size else 0.0
    step = min(len(SHADES) - 1, int(best * len(SHADES)))
    reason = _main_reason(hours, start, end)
    return GroundCell(
        day=day,
        chance_pct=round(best * 100),
        hours=float(chance.sum()),
        shade=SHADES[step],
        ink="#ffffff" if step < 3 else "#1d1713",
        planned=planned,
        reason="" if best >= 0.5 else reason,
    )


def _window_text(outlook: Outlook, field_id: str, pass_id: str) -> str:
    window = outlook.windows.get((field_id, pass_id))
    if window is None or window.closes is None:
        return ""
    return f"until {window.closes:%d %b}".replace(" 0", " ")


def rain_days(plan: Plan, outlook: Outlook, system: str) -> list[RainDay]:
    """Return the rain ahead by day over the members."""
    horizon = Horizon(outlook.first_day, outlook.days, outlook.time_zone)
    rows = []
    for day in days_shown(plan):
        start, end = (minute // 60 for minute in horizon.day_interval(horizon.day_index(day)))
        total = np.nansum(outlook.weather.rain_mm[:, start:end], axis=1)
        if total.size == 0:
            continue
        low, mid, high = (
            to_people(float(q), "rain_mm", system)[0] for q in np.quantile(total, (0.1, 0.5, 0.9))
        )
        wet = round(float(np.mean(total >= 0.25)) * 100)
        unit = to_people(1.0, "rain_mm", system)[1]
        rows.append(RainDay(day, low, mid, high, wet, unit, end <= outlook.known_hours))
    return rows


def headline(plan: Plan, farm: Farm, changed: int, day: date, words: Words) -> str:
    """Return the morning in one or two sentences; `changed` blocks are not as people know them."""
    today = plan.of_day(day)
    if not today:
        first = min((block.start for block in plan.blocks), default=None)
        rest = (
            "Nothing is planned in the next days."
            if first is None
            else f"Work starts again {_day_clock(first)}."
        )
        return f"No field work today. {rest}"
    area, unit = to_people(sum(block.area_ha for block in today), "area_ha", farm.units)
    people = {name for block in today for name in (block.operator, block.support) if name}
    fields = {block.field for block in today}
    text = f"Today {counted(len(people), 'person works', 'people work')} {words.number(area)} {unit} in {counted(len(fields), 'field')}"
    text += (
        f", from {min(block.start for block in today):%H:%M} to {max(block.end for block in today):%H:%M}."
    )
    return text + (f" {changed} change{'s' if changed != 1 else ''} since the last plan." if changed else "")


def _day_clock(moment: datetime) -> str:
    return f"{moment:%A} {moment.day} {moment:%B} at {moment:%H:%M}"


def odds_sentence(plan: Plan, farm: Farm) -> str:
    """Return how the plan may go over the possible weathers; empty where nobody worked it out."""
    spread = plan.spread
    if spread is None:
        return ""
    text = f"Over {spread.members} possible weathers this plan costs ${spread.expected:,.0f} on average: below ${spread.p10:,.0f} in one of ten, above ${spread.p90:,.0f} in one of ten."
    sure = [f"{farm.pass_label(name)} {chance:.0%}" for name, chance in plan.finish_chance.items()]
    return (
        f"{text} Odds that all of it is done by {plan.first_day + timedelta(days=plan.days - 1):%a %d %b}: {', '.join(sure)}."
        if sure
        else text
    )


def value_sentence(plan: Plan) -> str:
    """Return what the plan is worth, and how sure that is, in one sentence."""
    value = plan.value
    better = value.dispatch_total - value.total
    gap = "proven best" if value.gap < 0.005 else f"at most {value.gap:.0%} above the proven bound"
    beats = f", ${better:,.0f} less than going field by field by hand" if better > 0.5 else ""
    return f"Expected loss and cost of the season's remaining work: ${value.total:,.0f}{beats}; {gap}."
