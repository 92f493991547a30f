"""What a plan leaves out or leaves to later weeks, as people read it: by job and cause, with areas and all fields.

Question answered: *what will not be done in these days, how much of it, and why?* A program finds every row by itself in
the plan (`left_out`, `later`).
"""

from __future__ import annotations

from datetime import date

from scheduler.farm.farm import Farm
from scheduler.planning.plan import LeftOut, Plan
from scheduler.planning.wording import Names, day_text, first_few, money

LEAST_ALIKE = 3


def left_out_lines(plan: Plan, farm: Farm) -> list[str]:
    """Return what is left out, causes of its own before what waits for an earlier pass, and of these the dearest first."""
    names = Names(farm)
    groups: dict[tuple[str, str, str], list[LeftOut]] = {}
    for row in plan.left_out:
        job = names.job(row.field, row.pass_id)
        after = names.job(row.field, row.after) if row.after else ""
        groups.setdefault((job, after, row.reason), []).append(row)
    lines: list[tuple[bool, float, str]] = []
    for (job, after, reason), rows in groups.items():
        loss = sum(row.loss for row in rows)
        if len(rows) < LEAST_ALIKE:
            lines += [(bool(after), -row.loss, row.text) for row in rows]
            continue
        why = f"{after} comes too late or not at all there" if after else reason
        head = f"{job} in {len(rows)} fields, {names.area(sum(row.area_ha for row in rows))}, worth {money(loss)}"
        lines.append(
            (bool(after), -loss, f"{head}: {why}: {first_few(names.field(row.field) for row in rows)}.")
        )
    return [text for _, _, text in sorted(lines)]


def later_lines(plan: Plan, farm: Farm) -> list[str]:
    """Return what is left to the weeks behind the days that are planned, a line for each week."""
    names = Names(farm)
    weeks: dict[date, dict[str, list[tuple[str, float]]]] = {}
    for row in plan.later:
        job = names.job(row.field, row.pass_id)
        weeks.setdefault(row.week_from, {}).setdefault(job, []).append((row.field, row.area_ha))
    out = []
    for week in sorted(weeks):
        parts = []
        for job, rows in weeks[week].items():
            fields = list(dict.fromkeys(field for field, _ in rows))
            where = names.field(fields[0]) if len(fields) == 1 else f"{len(fields)} fields"
            parts.append(f"{job} {names.area(sum(area for _, area in rows))} in {where}")
        out.append(f"Week of {day_text(week)}: {'; '.join(parts)}.")
    return out
