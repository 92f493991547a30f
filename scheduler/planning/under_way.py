"""Work under way: what goes on where it is, with whoever and whatever is there, planned or not.

Question answered: *who is at work now, on what, and until when?* A block of the plan that people know goes on to its end:
one that was said to be begun, or whose time it is and of which nobody said that it stopped. Work that somebody began and
that the plan does not have for now (never planned, or its time is over) goes on too, until the pass is done, the ground or
the weather forbids it, somebody or something has to leave, or a pin of the same person is due.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta

from scheduler.events.situation import Running, Situation
from scheduler.planning.compiled import Compiled
from scheduler.planning.fit_windows import PER_HOUR, fit_of
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.solver.problem import Mode
from scheduler.windows.records import Outlook

NOBODYS_TRIP = 2
"""So many tenths of a hectare nobody comes back for: who is at work finishes the field a little later."""
LONG_AGO = -10_000
"""Quarters: it was under way in the plan that people know already."""


@dataclass(frozen=True)
class Wish:
    """A block that somebody wants to stand, or that stands because it runs.

    Attributes
    ----------
    task, start, amount : int
        In the engine's terms.
    rig, operator, support : str or None
        None: any.
    pin_id : str
        Empty where nobody asked for it: it runs.
    end_most : int or None
        Where its time is over.
    odds_needed : float
        Least chance of its hours.
    said : Running or None
        Who began, where the plan does not have it.
    begun : int or None
        Since when it runs; None where it is still to come.
    """

    task: int
    start: int
    amount: int
    rig: str | None
    operator: str | None
    support: str | None
    pin_id: str
    end_most: int | None = None
    odds_needed: float = 0.0
    said: Running | None = None
    begun: int | None = None


def running_wishes(
    compiled: Compiled, situation: Situation, previous: Plan | None, pinned: list[Wish]
) -> list[Wish]:
    """Return the blocks that run now, those of the plan first; what is pinned to now is left out."""
    at = {job.key: k for k, job in enumerate(compiled.jobs)}
    now = max(0, compiled.grid.up(situation.now))
    taken = {wish.task for wish in pinned if wish.start <= now}
    out: list[Wish] = []
    for block in _planned(situation, previous):
        k = at.get((block.field, block.pass_id))
        if k is not None and k not in taken:
            taken.add(k)
            out.append(_goes_on(compiled, k, block, now, situation))
    for key, state in situation.passes.items():
        k = at.get(key)
        if state.running is not None and k is not None and k not in taken and situation.left_ha(*key) > 0:
            out.append(_begun(compiled, k, state.running, now, situation, pinned))
    return out


def _planned(situation: Situation, previous: Plan | None) -> list[PlanBlock]:
    """Return the blocks that run now: those said to be begun, and those whose time it is and of which nobody said that they stopped.

    What was begun ahead of its time lasts from now on as long as it was to last; who and what is at work on it goes before the plan.
    """
    now, out = situation.now, []
    for block in () if previous is None else previous.blocks:
        state = situation.passes.get((block.field, block.pass_id))
        run = None if state is None else state.running
        if (
            state is None
            or block.end <= now
            or block.start.date() != now.astimezone(block.start.tzinfo).date()
        ):
            continue
        begun_by = run is not None and run.operator in (None, block.operator, block.support)
        if run is not None and (begun_by or block.start <= now):
            mine = {"operator": run.operator} if run.operator and not begun_by else {}
            rig = {"rig": run.rig} if run.rig else {}
            ahead = max(block.start - now, timedelta(0))
            out.append(
                block.model_copy(
                    update={**mine, **rig, "start": block.start - ahead, "end": block.end - ahead}
                )
            )
        elif (
            run is None
            and (block.start < now or _ran_on(block, now))
            and not _stopped(situation, block, previous)
        ):
            out.append(block)
    # Of two blocks of a pass only the first can be under way.
    first = {(b.field, b.pass_id): b for b in sorted(out, key=lambda b: b.start, reverse=True)}
    return list(first.values())


def _ran_on(block: PlanBlock, now: datetime) -> bool:
    """Return whether a block was under way when its plan was made, and begins there with the next quarter hour."""
    return block.under_way and block.start - now < timedelta(minutes=15)


def stopped_at(
    situation: Situation, key: tuple[str, str], ids: Collection[str], since: datetime
) -> datetime | None:
    """Return when work that nobody said was begun stopped, from a time on: somebody said so, or began elsewhere.

    Parameters
    ----------
    ids : collection of str
        Its people and machines.
    """
    state = situation.passes[key]
    if state.running is not None:
        return None
    at = [state.paused_at] if state.paused_at is not None and state.paused_at >= since else []
    for run in (other.running for place, other in situation.passes.items() if place != key):
        if run is not None and run.since >= since and {run.operator, *(run.rig or "").split("+")} & set(ids):
            at.append(run.since)
    return min(at, default=None)


def _stopped(situation: Situation, block: PlanBlock, plan: Plan | None) -> bool:
    """Return whether a block's work stopped since it began; where it was under way already, since its plan was made."""
    since = plan.made_at if plan is not None and block.under_way else block.start
    ids = {block.operator, block.support or block.operator, *block.machines}
    return stopped_at(situation, (block.field, block.pass_id), ids, since) is not None


def _goes_on(compiled: Compiled, task: int, block: PlanBlock, now: int, situation: Situation) -> Wish:
    size = compiled.problem.tasks[task].size
    left = compiled.jobs[task].left_ha
    amount = max(1, min(size, round(block.area_ha / left * size)))
    if size - amount <= NOBODYS_TRIP:
        amount = size
    pin_id = next(
        (
            p.pin
            for p in situation.pins
            if (p.field_id, p.pass_id) == (block.field, block.pass_id) and block.pinned
        ),
        "",
    )
    run = situation.passes[block.field, block.pass_id].running
    since = LONG_AGO if block.under_way else compiled.grid.down(block.start if run is None else run.since)
    return Wish(
        task, now, amount, block.rig, block.operator, block.support, pin_id, end_most=compiled.grid.down(block.end),
        odds_needed=0.0 if run is not None else situation.farm.plan.fit_chance_least, begun=since,
    )  # fmt: skip


def _begun(
    compiled: Compiled, task: int, run: Running, now: int, situation: Situation, pinned: list[Wish]
) -> Wish:
    """Return what was begun without a plan, to the end of the day or the next pin of whoever began it."""
    today = situation.now.astimezone(compiled.grid.moment(now).tzinfo).date()
    end = compiled.grid.end_of(today)
    for wish in pinned:
        if run.operator is not None and run.operator in (wish.operator, wish.support) and wish.start > now:
            end = min(end, wish.start - _way(compiled, run.operator, task, wish.task))
    size = compiled.problem.tasks[task].size
    since = compiled.grid.down(run.since)
    return Wish(task, now, size, run.rig, run.operator, None, "", end_most=end, said=run, begun=since)


def _way(compiled: Compiled, operator: str, a: int, b: int) -> int:
    """Return the time on the road of a person from one task's field to another's."""
    moves = compiled.problem.resources[compiled.names.index(operator)].moves
    sites = [compiled.problem.tasks[t].modes[0].site for t in (a, b)]
    return int(moves.minutes[sites[0], sites[1]]) if moves is not None else 0


def until_when(compiled: Compiled, outlook: Outlook, wish: Wish, mode: int) -> int:
    """Return how long what was begun without a plan can go on in a mode: while the hours are fit and everybody is there."""
    assert wish.end_most is not None
    job, way = compiled.jobs[wish.task], compiled.problem.tasks[wish.task].modes[mode]
    hours = fit_of(outlook, *job.key, compiled.modes[wish.task][mode].option.key)
    end = wish.start
    while hours is not None and end < wish.end_most and end // PER_HOUR < len(hours.chance):
        if hours.chance[end // PER_HOUR] <= wish.odds_needed:
            break
        end = min(wish.end_most, (end // PER_HOUR + 1) * PER_HOUR)
    return min(end, *(_there_until(compiled, way, k, wish) for k in range(len(way.needs))))


def _there_until(compiled: Compiled, mode: Mode, need: int, wish: Wish) -> int:
    """Return how long anybody or anything that can serve a need is there from the start of the work."""
    options = mode.needs[need].any_of
    if mode.needs[need].role == "operator" and wish.operator is not None:
        options = tuple(r for r in options if compiled.names[r] == wish.operator)
    last = wish.start
    for r in options:
        spans = compiled.problem.resources[r].open
        ends = [wish.end_most or 0] if spans is None else [b for a, b in spans if a <= wish.start < b]
        last = max([last, *ends])
    return last
