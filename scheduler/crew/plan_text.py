"""A plan as a tired manager at 5 a.m. wants it on a screen: today, the days after, changes, worries, worth."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from textwrap import wrap

from scheduler.crew.changes_text import changes_text
from scheduler.crew.language import Words
from scheduler.crew.morning import headline, odds_sentence, value_sentence
from scheduler.crew.notes import job_name
from scheduler.crew.second import second_lines
from scheduler.farm.farm import Farm
from scheduler.planning.diff import Changes
from scheduler.planning.left_groups import later_lines, left_out_lines
from scheduler.planning.plan import LOOK_FIRST, Plan, PlanBlock
from scheduler.planning.worry_groups import gathered
from shared.units import to_people

WIDTH = 100
SHOWN = 3
"""Changed blocks under each heading; the rest is counted."""
WORDS = Words("en")


def _bullets(lines: Sequence[str], most: int = 99, mark: str = "-") -> list[str]:
    out = []
    for line in lines[:most]:
        first, *rest = wrap(line, WIDTH - 4) or [""]
        out += [f"  {mark} {first}", *(f"    {more}" for more in rest)]
    if len(lines) > most:
        out.append(f"    ... and {len(lines) - most} more (--json shows all)")
    return out


def _area(block: PlanBlock, farm: Farm) -> str:
    value, unit = to_people(block.area_ha, "area_ha", farm.units)
    return f"{value:,.0f} {unit}"


def _today(plan: Plan, farm: Farm, day: date) -> list[str]:
    out = []
    for person in farm.operators:
        own = [block for block in plan.of_operator(person.id) if block.start.date() == day]
        if not own:
            continue
        out.append(f"  {person.label}")
        for block in own:
            job = "tender" if block.support == person.id else job_name(farm, block, WORDS)
            sure = "" if block.chance >= LOOK_FIRST else f"  if fit ({block.chance:.0%})"
            rig = " + ".join(farm.machine_label(m) for m in block.machines if m in farm.machine_by_id)
            field = farm.field_label(block.field)
            out.append(
                f"    {block.start:%H:%M}-{block.end:%H:%M}  {field:<18.18} {job:<24.24} {_area(block, farm):>8}"
                f"  {rig or 'on foot'}{sure}"
            )
    return out or ["  Nobody drives today."]


def _later_days(plan: Plan, farm: Farm, today: date) -> list[str]:
    out = []
    days = sorted({block.start.date() for block in plan.blocks if block.start.date() > today})
    for day in days:
        sums: dict[str, float] = {}
        fields: dict[str, list[str]] = {}
        for block in plan.of_day(day):
            job = job_name(farm, block, WORDS)
            sums[job] = sums.get(job, 0.0) + block.area_ha
            label = farm.field_label(block.field)
            if label not in fields.setdefault(job, []):
                fields[job].append(label)
        for place, (job, area) in enumerate(sums.items()):
            head = f"{day:%a} {day.day:>2} {day:%b}" if place == 0 else ""
            value, unit = to_people(area, "area_ha", farm.units)
            text = f"{job:<24.24} {value:>6,.0f} {unit}  {', '.join(fields[job])}"
            first, *rest = wrap(text, WIDTH - 14, subsequent_indent=" " * 36)
            out += [f"  {head:<10}  {first}", *(f"  {'':<10}  {line}" for line in rest)]
    return out or ["  Nothing more in these days."]


def plan_text(plan: Plan, farm: Farm, changes: Changes | None, news: Sequence[str]) -> str:
    """Return a plan as text; `changes` against the plan that people know."""
    day = plan.first_day
    out = [
        f"{farm.name}: plan for {WORDS.day(day)}, made {plan.made_at:%H:%M}",
        "=" * WIDTH,
        *wrap(headline(plan, farm, len(changes.rows) if changes else 0, day, WORDS), WIDTH),
    ]
    if news:
        out += ["", "News", *_bullets(news)]
    if changes and changes.rows:
        out += ["", "Changed since the last plan", *changes_text(changes, WIDTH, SHOWN)]
    out += ["", "Today", *_today(plan, farm, day)]
    seconds = second_lines(plan, farm, WORDS)
    if seconds:
        out += ["", "If it is not fit when they get there", *_bullets(seconds)]
    if plan.worries:
        out += ["", "Worries", *_bullets([worry.text for worry in gathered(plan.worries, farm)], 10, "!")]
    missing = [item.text for item in plan.ready if not item.ok]
    ready = [item.text for item in plan.ready if item.ok]
    if missing or ready:
        out += ["", "Must be ready", *_bullets(missing, 8, "!"), *_bullets(ready, 8)]
    out += ["", "The days after", *_later_days(plan, farm, day)]
    if plan.later:
        out += ["", "Left to later weeks", *_bullets(later_lines(plan, farm))]
    if plan.left_out:
        out += ["", "Left out, and why", *_bullets(left_out_lines(plan, farm), 12)]
    if plan.binds:
        out += ["", "What holds the season back", *_bullets(plan.binds)]
    out += [
        "",
        *wrap(value_sentence(plan), WIDTH),
        *wrap(odds_sentence(plan, farm), WIDTH),
        *_bullets(plan.notes, 6),
    ]
    out += ["", "fitground advises; labels, local law and licensed people decide.", ""]
    return "\n".join(out)
