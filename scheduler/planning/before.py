"""The plan that people know: in the engine's terms, to begin from, and the price of moving away from it.

Question answered: *what does it cost to change what people were told?* A change today is dear, one tomorrow half as
dear, and so on; taking people off a field they have begun is dearer still.
"""

from __future__ import annotations

from dataclasses import replace

from scheduler.events.situation import Situation
from scheduler.planning.compiled import Compiled
from scheduler.planning.plan import LaterWork, Plan, PlanBlock
from scheduler.planning.quarters import MINUTES
from scheduler.solver.problem import Before, Pin
from scheduler.solver.result import Block, CorePlan, Later

CENTS = 100.0
FADE_PER_DAY = 0.5
"""A change tomorrow is half as dear as one today, and so on (assumption of this project)."""
LEAST_SHARE = 0.1
"""But never less than a tenth: nobody likes a list that is new every morning (assumption of this project)."""
UNDER_WAY_FACTOR = 3.0
"""Taking people off a field they have begun costs three times as much (assumption of this project)."""


def faded(days_ahead: int) -> float:
    """Return the share of today's price that a change so many days ahead costs."""
    return max(LEAST_SHARE, FADE_PER_DAY**days_ahead)


def previous_blocks(compiled: Compiled, situation: Situation, previous: Plan | None) -> Compiled:
    """Return the problem with the earlier plan to start from, and the price of moving away from it."""
    if previous is None:
        return compiled
    at = {job.key: k for k, job in enumerate(compiled.jobs)}
    now = max(0, compiled.grid.up(situation.now))
    left = [task.size for task in compiled.problem.tasks]
    blocks: list[Block] = []
    for pin in compiled.problem.pins:
        left[pin.task] -= pin.amount
        blocks.append(Block(pin.start, pin.end, pin.task, pin.mode, pin.amount, pin.resources))
    pinned = {(b.task, b.start) for b in blocks}
    known: list[Pin] = []
    first: dict[int, int] = {}
    lost: list[tuple[int, frozenset[str]]] = []
    for old in sorted(previous.blocks, key=lambda b: b.start):
        k = at.get((old.field, old.pass_id))
        start = compiled.grid.up(old.start)
        if k is None or left[k] <= 0 or start >= compiled.problem.horizon:
            continue
        people = frozenset(p for p in (old.operator, old.support) if p is not None)
        if start < now:
            if compiled.grid.down(old.end) > now:
                lost.append((now, people))
            continue
        if (k, start) in pinned:
            continue
        block = _again(compiled, k, old, start, left[k])
        if block is None:
            lost.append((start, people))
            continue
        left[k] -= block.amount
        blocks.append(block)
        known.append(Pin(k, block.mode, block.start, block.end, block.amount, block.resources))
        first.setdefault(k, start)
    later = _later_again(compiled, at, previous, left)
    started = {k for k, job in enumerate(compiled.jobs) if job.state.started_at and job.state.last_rig}
    price = {}
    for k, start in first.items():
        ahead = max(
            0,
            (
                compiled.grid.moment(start).date()
                - situation.now.astimezone(compiled.grid.horizon.zone).date()
            ).days,
        )
        factor = UNDER_WAY_FACTOR if k in started and ahead == 0 else 1.0
        price[k] = round(situation.farm.plan.change_cost * CENTS * faded(ahead) * factor)
    problem = replace(compiled.problem, before=Before(tuple(known), price))
    return replace(compiled, problem=problem, start=CorePlan(tuple(sorted(blocks)), later), lost=tuple(lost))


def _again(compiled: Compiled, k: int, old: PlanBlock, start: int, left: int) -> Block | None:
    """Return an earlier block in the engine's terms, or None when its rig or people cannot do it any more."""
    task = compiled.problem.tasks[k]
    amount = min(left, max(1, round(old.area_ha / compiled.jobs[k].left_ha * task.size)))
    if left - amount <= 1:
        amount = left
    index = {name: r for r, name in enumerate(compiled.names)}
    people = [index.get(name) for name in (old.operator, old.support) if name is not None]
    for m, info in enumerate(compiled.modes[k]):
        mode = task.modes[m]
        machines = () if info.option.rig is None else tuple(index[x.id] for x in info.option.rig.machines)
        if info.option.id != old.rig or len(machines) + len(people) != len(mode.needs):
            continue
        crew = (*machines, *(p for p in people if p is not None))
        if len(crew) != len(mode.needs):
            continue
        end = start + mode.minutes_for(amount, task.size)
        fits = all(r in need.any_of for r, need in zip(crew, mode.needs, strict=True))
        windows = mode.windows or ()
        if fits and any(w.start <= start and end <= w.end for w in windows):
            return Block(start, end, k, m, amount, crew)
    return None


def _later_again(
    compiled: Compiled, at: dict[tuple[str, str], int], previous: Plan, left: list[int]
) -> tuple[Later, ...]:
    out = []
    for item in previous.later:
        k = at.get((item.field, item.pass_id))
        if k is None or left[k] <= 0 or not compiled.problem.tasks[k].later:
            continue
        middle = compiled.grid.start_of(item.week_from) + 3 * 24 * 60 // MINUTES
        bucket = next((b for b, x in enumerate(compiled.problem.buckets) if x.start <= middle < x.end), None)
        if bucket is None:
            continue
        size = compiled.problem.tasks[k].size
        amount = min(left[k], max(1, round(item.area_ha / compiled.jobs[k].left_ha * size)))
        if left[k] - amount <= 1:
            amount = left[k]
        left[k] -= amount
        out.append(Later(k, _way_again(compiled, k, item), bucket, amount))
    return tuple(out)


def _way_again(compiled: Compiled, k: int, item: LaterWork) -> int:
    """Return the mode in whose hours the work was left: another one may have no room in that week."""
    modes = compiled.modes[k]
    if item.way < len(modes) and modes[item.way].option.id == item.rig:
        return item.way
    return next((m for m, info in enumerate(modes) if info.option.id == item.rig), 0)
