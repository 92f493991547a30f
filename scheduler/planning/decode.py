"""From the engine's blocks to dated blocks of work, and to money by part.

Question answered: *what does the engine's answer mean for the farm?* Input: a compiled problem and a core plan;
output: plan records in farm-local time, hectares and money, without reasons (`explain` adds those).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from datetime import datetime

from scheduler.planning.compiled import Compiled
from scheduler.planning.costs import CENTS
from scheduler.planning.fit_windows import PER_HOUR, fit_of
from scheduler.planning.order import Tie
from scheduler.planning.plan import LaterWork, Plan, PlanBlock
from scheduler.planning.season import week_span
from scheduler.solver.evaluate import evaluate
from scheduler.solver.evaluate_resources import sequences
from scheduler.solver.result import Block, CorePlan
from scheduler.windows.records import FitHours, Outlook

HA_DIGITS = 4


def plan_blocks(
    compiled: Compiled,
    core: CorePlan,
    outlook: Outlook,
    ties: Mapping[str, list[Tie]],
    previous: Plan | None,
) -> tuple[PlanBlock, ...]:
    """Return the dated blocks in order of start."""
    pins = {(p.task, p.start, p.end): k for k, p in enumerate(compiled.problem.pins)}
    running = {
        (p.task, p.start, frozenset(p.resources))
        for p, name in zip(compiled.problem.pins, compiled.pin_ids, strict=True)
        if not name
    }
    now = min((p.release for p in compiled.problem.tasks), default=0)
    rows: list[tuple[Block, PlanBlock]] = []
    for block in sorted(core.blocks):
        job = compiled.jobs[block.task]
        info = compiled.modes[block.task][block.mode]
        crew = dict(zip(info.roles, (compiled.names[r] for r in block.resources), strict=True))
        task = compiled.problem.tasks[block.task]
        share = block.amount / task.size
        pin = pins.get((block.task, block.start, block.end))
        loss = share * task.end_curve.at(block.end) / CENTS if task.end_curve else 0.0
        rig = info.option.rig
        rows.append(
            (
                block,
                PlanBlock(
                    id="",
                    field=job.field.id,
                    pass_id=job.spec.id,
                    start=compiled.grid.moment(block.start),
                    end=compiled.grid.moment(block.end),
                    rig=info.option.id,
                    machines=() if rig is None else tuple(machine.id for machine in rig.machines),
                    operator=crew["operator"],
                    support=crew.get("support"),
                    area_ha=round(job.left_ha * share, HA_DIGITS),
                    chance=block_chance(compiled, outlook, block),
                    pinned=pin is not None and bool(compiled.pin_ids[pin]),
                    under_way=block.start <= now
                    and (block.task, block.start, frozenset(block.resources)) in running,
                    loss=round(loss, 2),
                ),
            )
        )
    named = _with_ids([row for _, row in rows], previous)
    return tuple(_with_waits(named, ties))


def block_chance(compiled: Compiled, outlook: Outlook, block: Block) -> float:
    """Return the odds that a block can run as planned: all its hours fit, never above its worst hour."""
    job = compiled.jobs[block.task]
    hours = fit_of(outlook, *job.key, compiled.modes[block.task][block.mode].option.key)
    return 0.0 if hours is None else _chance(hours, block.start, block.end)


def chance_before(
    compiled: Compiled, outlook: Outlook, previous: Plan | None, now: datetime
) -> dict[str, float]:
    """Return, by block of the plan before that had not begun, the odds as they are now that it could run in its hours.

    Hours behind the days that are planned now are not known.
    """
    options = {
        (*job.key, info.option.id): info.option.key
        for job, modes in zip(compiled.jobs, compiled.modes, strict=True)
        for info in modes
    }
    out = {}
    for block in () if previous is None else previous.blocks:
        key = options.get((block.field, block.pass_id, block.rig))
        hours = None if key is None else fit_of(outlook, block.field, block.pass_id, key)
        first, last = (compiled.grid.down(moment) for moment in (block.start, block.end))
        if hours is not None and block.start >= now and last <= hours.chance.size * PER_HOUR:
            out[block.id] = _chance(hours, first, last)
    return out


def _chance(hours: FitHours, start: int, end: int) -> float:
    """Return the odds that all hours between two quarters are fit, never above the worst of them."""
    first, last = start // PER_HOUR, -(-end // PER_HOUR)
    last = min(last, hours.chance.size)
    return round(hours.together(first, last), 3) if last > first else 1.0


def _with_ids(blocks: list[PlanBlock], previous: Plan | None) -> list[PlanBlock]:
    """Name blocks ``field/pass/part``; a block that stands as before keeps its name."""
    before: dict[tuple[str, str], list[PlanBlock]] = defaultdict(list)
    for block in () if previous is None else previous.blocks:
        before[(block.field, block.pass_id)].append(block)
    groups: dict[tuple[str, str], list[int]] = defaultdict(list)
    for k, block in enumerate(blocks):
        groups[(block.field, block.pass_id)].append(k)
    names: dict[int, str] = {}
    for key, members in groups.items():
        old = list(before[key])
        for same in (
            lambda a, b: (a.end, a.rig, a.operator) == (b.end, b.rig, b.operator),
            lambda a, b: (a.start.date(), a.operator) == (b.start.date(), b.operator),
        ):
            for k in members:
                found = None if k in names else next((o for o in old if same(blocks[k], o)), None)
                if found is not None:
                    old.remove(found)
                    names[k] = found.id
        used = {names[k] for k in members if k in names}
        part = 1
        for k in members:
            while k not in names:
                name = f"{key[0]}/{key[1]}/{part}"
                part += 1
                if name not in used:
                    names[k] = name
                    used.add(name)
    return [block.model_copy(update={"id": names[k]}) for k, block in enumerate(blocks)]


def _with_waits(blocks: list[PlanBlock], ties: Mapping[str, list[Tie]]) -> list[PlanBlock]:
    out = []
    for block in blocks:
        before = {tie.before for tie in ties[block.field] if tie.after == block.pass_id}
        waits = tuple(b.id for b in blocks if b.field == block.field and b.pass_id in before)
        out.append(block.model_copy(update={"waits_for": waits}))
    return out


def later_work(compiled: Compiled, core: CorePlan) -> tuple[LaterWork, ...]:
    """Return what is left to the weeks behind the horizon, in order of week."""
    sums: dict[tuple[int, int, int], int] = defaultdict(int)
    for item in core.later:
        sums[(item.bucket, item.task, item.mode)] += item.amount
    out = []
    for (bucket, k, way), amount in sorted(sums.items()):
        job, task = compiled.jobs[k], compiled.problem.tasks[k]
        first, last = week_span(compiled.grid, bucket)
        end = compiled.problem.buckets[bucket].end
        loss = amount / task.size * task.end_curve.at(end) / CENTS if task.end_curve else 0.0
        area = round(job.left_ha * amount / task.size, HA_DIGITS)
        out.append(
            LaterWork(
                field=job.field.id, pass_id=job.spec.id, week_from=first, week_to=last, area_ha=area,
                loss=round(loss, 2), rig=compiled.modes[k][way].option.id, way=way,
            )
        )  # fmt: skip
    return tuple(out)


def undone(compiled: Compiled, core: CorePlan) -> list[tuple[int, float, float]]:
    """Return (job, area [ha], loss) of what is in neither blocks nor weeks."""
    done: dict[int, int] = defaultdict(int)
    for block in core.blocks:
        done[block.task] += block.amount
    for item in core.later:
        done[item.task] += item.amount
    out = []
    for k, task in enumerate(compiled.problem.tasks):
        rest = task.size - done[k]
        if rest > 0:
            share = rest / task.size
            area = compiled.jobs[k].left_ha * share
            out.append((k, round(area, HA_DIGITS), round(task.drop_cost * share / CENTS, 2)))
    return out


def money_parts(compiled: Compiled, core: CorePlan) -> dict[str, float]:
    """Return the value by part, in money: late, later, undone, wages, overtime, road, running, risk, handover, change."""
    problem = compiled.problem
    parts = evaluate(problem, core).parts
    later = 0.0
    for item in core.later:
        task = problem.tasks[item.task]
        if task.end_curve is not None:
            later += item.amount / task.size * task.end_curve.at(problem.buckets[item.bucket].end)
    overtime = 0.0
    for row in sequences(problem, core.blocks):
        hours = problem.resources[row.resource].hours
        if hours is not None:
            overtime += (
                sum(max(0, span - hours.normal_per_day) for span in row.away.values())
                * hours.overtime_per_minute
            )
    cents = {
        "late": parts["end"] - later,
        "later": later,
        "undone": parts["drop"] + compiled.aside_cost,
        "wages": parts["hours"] - overtime,
        "overtime": overtime,
        "road": parts["move"],
        "running": parts["mode"],
        "risk": parts["risk"],
        "handover": parts["handover"],
        "change": parts["change"],
    }
    return {name: round(value / CENTS, 2) for name, value in cents.items()}
