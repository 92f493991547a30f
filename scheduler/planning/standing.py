"""What stands already: pins and work under way.

Question answered: *which blocks are given?* Pins are the word
of the person in charge: they may lie in hours with poor odds, never in impossible ones, and never break another
rule; one that would is left out with the reason. The block that runs now goes on with its rig and people.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta

from scheduler.events.situation import Pinned, Situation
from scheduler.planning.compiled import Compiled
from scheduler.planning.fit_windows import PER_HOUR, fit_of
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.solver.problem import Mode, Pin
from scheduler.windows.records import Outlook


@dataclass(frozen=True)
class _Wish:
    """A block that somebody wants to stand."""

    task: int
    start: int
    amount: int
    rig: str | None
    operator: str | None
    support: str | None
    pin_id: str
    end_most: int | None = None
    odds_needed: float = 0.0


def standing_pins(
    compiled: Compiled, situation: Situation, outlook: Outlook, previous: Plan | None
) -> Compiled:
    """Return the problem with its pins, and a note for every pin that cannot be kept."""
    pins: list[Pin] = []
    ids: list[str] = []
    notes: list[str] = []
    wishes, said = _wishes(compiled, situation, previous)
    notes += said
    for wish in wishes:
        pin, why = _pin(compiled, situation, outlook, wish, pins)
        if pin is not None:
            pins.append(pin)
            ids.append(wish.pin_id)
        elif wish.pin_id:
            job = compiled.jobs[wish.task]
            notes.append(f"The pin on {job.spec.label} in {job.field.label} cannot be kept: {why}.")
    problem = replace(compiled.problem, pins=tuple(pins))
    return replace(compiled, problem=problem, notes=compiled.notes + tuple(notes), pin_ids=tuple(ids))


def without_pins(compiled: Compiled, why: str) -> Compiled:
    """Return the problem with every pin given up."""
    while compiled.problem.pins:
        compiled = without_pin(compiled, len(compiled.problem.pins) - 1, why)
    return compiled


def without_pin(compiled: Compiled, position: int, why: str) -> Compiled:
    """Return the problem with one pin given up, and a note if somebody had asked for it."""
    pins = compiled.problem.pins
    job = compiled.jobs[pins[position].task]
    said = compiled.notes
    if compiled.pin_ids[position]:
        said += (f"The pin on {job.spec.label} in {job.field.label} cannot be kept: {why}.",)
    keep = [k for k in range(len(pins)) if k != position]
    gone = pins[position]
    start = compiled.start
    if start is not None:
        left = tuple(b for b in start.blocks if (b.task, b.start, b.end) != (gone.task, gone.start, gone.end))
        start = replace(start, blocks=left)
    return replace(
        compiled,
        problem=replace(compiled.problem, pins=tuple(pins[k] for k in keep)),
        pin_ids=tuple(compiled.pin_ids[k] for k in keep),
        notes=said,
        start=start,
    )


def _wishes(compiled: Compiled, situation: Situation, previous: Plan | None) -> tuple[list[_Wish], list[str]]:
    at = {job.key: k for k, job in enumerate(compiled.jobs)}
    now = max(0, compiled.grid.up(situation.now))
    end = compiled.problem.horizon
    out: list[_Wish] = []
    notes: list[str] = []
    for pinned in sorted(situation.pins, key=lambda p: (p.start, p.pin)):
        key = (pinned.field_id, pinned.pass_id)
        start = compiled.grid.up(pinned.start)
        if situation.left_ha(*key) <= 0 or start >= end or start < now:
            continue
        if key not in at:
            notes.append(
                f"The pin on {key[1]} in {key[0]} cannot be kept: nothing and nobody can do this pass now."
            )
            continue
        out.append(
            _Wish(
                at[key],
                start,
                _amount(compiled, at[key], pinned),
                pinned.rig,
                pinned.operator,
                None,
                pinned.pin,
            )
        )
    taken = {wish.task for wish in out if wish.start <= now}
    for block in _under_way(situation, previous):
        k = at.get((block.field, block.pass_id))
        if k is None or k in taken:
            continue
        out.insert(0, _running(compiled, k, block, now, situation))
    return out, notes


def _under_way(situation: Situation, previous: Plan | None) -> list[PlanBlock]:
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
        elif run is None and block.start < now and not (state.paused_at and state.paused_at >= block.start):
            out.append(block)
    # Of two blocks of a pass only the first can be under way.
    first = {(b.field, b.pass_id): b for b in sorted(out, key=lambda b: b.start, reverse=True)}
    return list(first.values())


def _amount(compiled: Compiled, task: int, pinned: Pinned) -> int:
    size = compiled.problem.tasks[task].size
    if pinned.area_ha is None:
        return size
    return max(1, min(size, round(pinned.area_ha / compiled.jobs[task].left_ha * size)))


def _running(compiled: Compiled, task: int, block: PlanBlock, now: int, situation: Situation) -> _Wish:
    size = compiled.problem.tasks[task].size
    left = compiled.jobs[task].left_ha
    amount = max(1, min(size, round(block.area_ha / left * size)))
    pin_id = next(
        (
            p.pin
            for p in situation.pins
            if (p.field_id, p.pass_id) == (block.field, block.pass_id) and block.pinned
        ),
        "",
    )
    return _Wish(
        task, now, amount, block.rig, block.operator, block.support, pin_id,
        end_most=compiled.grid.down(block.end), odds_needed=situation.farm.plan.fit_chance_least,
    )  # fmt: skip


def _pin(
    compiled: Compiled, situation: Situation, outlook: Outlook, wish: _Wish, pins: list[Pin]
) -> tuple[Pin | None, str]:
    """Return the pin in the engine's terms, or why it cannot be."""
    task = compiled.problem.tasks[wish.task]
    why = "no rig or person named can do this pass"
    day = compiled.grid.horizon.day_index(compiled.grid.moment(wish.start).date())
    found = [m for m, info in enumerate(compiled.modes[wish.task]) if wish.rig in (None, info.option.id)]
    for m in found:
        if day not in compiled.modes[wish.task][m].days:
            why = "nobody with the skill holds the licence on that day"
            continue
        mode = task.modes[m]
        amount = wish.amount
        if wish.end_most is not None:
            room = wish.end_most - wish.start - mode.fixed_minutes
            amount = min(amount, room * task.size // mode.minutes)
            if amount <= 0:
                why = "its time is up"
                continue
        end = wish.start + mode.minutes_for(amount, task.size)
        odds = _least_odds(compiled, outlook, wish.task, m, wish.start, end)
        if odds <= max(0.0, wish.odds_needed - 1e-9):
            why = "the ground, the weather or the window forbids these hours"
            continue
        if wish.start < task.release or wish.start > task.latest_start:
            why = "another pass of the field forbids this time"
            continue
        crew, why = _crew(compiled, mode, wish, end, pins)
        if crew is not None:
            return Pin(wish.task, m, wish.start, end, amount, crew), ""
    return None, why


def _least_odds(compiled: Compiled, outlook: Outlook, task: int, mode: int, start: int, end: int) -> float:
    job = compiled.jobs[task]
    hours = fit_of(outlook, *job.key, compiled.modes[task][mode].option.key)
    if hours is None or end > compiled.problem.horizon:
        return 0.0
    span = hours.chance[start // PER_HOUR : -(-end // PER_HOUR)]
    return float(span.min()) if len(span) else 0.0


def _crew(
    compiled: Compiled, mode: Mode, wish: _Wish, end: int, pins: list[Pin]
) -> tuple[tuple[int, ...] | None, str]:
    """Choose who and what for a pin; the named people first."""
    chosen: list[int] = []
    why = ""
    for need in mode.needs:
        wanted = {"operator": wish.operator, "support": wish.support}.get(need.role)
        options = [r for r in need.any_of if r not in chosen]
        if wanted is not None and need.role == "operator":
            options = [r for r in options if compiled.names[r] == wanted]
        elif wanted is not None:
            options.sort(key=lambda r: compiled.names[r] != wanted)
        free = [r for r in options if not (why := _away(compiled, r, mode, wish.start, end, pins))]
        if not free:
            return None, why or f"{wish.operator or 'nobody there'} may not do it"
        chosen.append(free[0])
    return tuple(chosen), ""


def _away(compiled: Compiled, r: int, mode: Mode, start: int, end: int, pins: list[Pin]) -> str:
    """Say why a resource is not free for a pin; empty when it is."""
    resource = compiled.problem.resources[r]
    if resource.open is not None and not any(a <= start and end <= b for a, b in resource.open):
        return f"{resource.name} is not there at that time"
    for pin in pins:
        if r not in pin.resources:
            continue
        site = compiled.problem.tasks[pin.task].modes[pin.mode].site
        gap = int(resource.moves.minutes[site, mode.site]) if resource.moves else 0
        if start < pin.end + gap and pin.start < end + gap:
            return f"{resource.name} is held by another pin"
    return ""
