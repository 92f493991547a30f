"""What stands already: pins and work under way.

Question answered: *which blocks are given?* Pins are the word
of the person in charge: they may lie in hours with poor odds, never in impossible ones, and never break another
rule; one that would is left out with the reason. What runs now (`under_way`) goes on with its rig and people.
"""

from __future__ import annotations

from dataclasses import replace

from scheduler.events.situation import Pinned, Situation
from scheduler.planning.compiled import Compiled
from scheduler.planning.fit_windows import PER_HOUR, fit_of
from scheduler.planning.plan import Plan
from scheduler.planning.quarters import MINUTES, quarters_up
from scheduler.planning.under_way import NOBODYS_TRIP, Wish, running_wishes, until_when
from scheduler.solver.problem import Mode, Pin
from scheduler.windows.records import Outlook

MOMENT_MINUTES = 0.005
AT_WORK = "Said to be at work now, but not in the plan:"


def standing_pins(
    compiled: Compiled, situation: Situation, outlook: Outlook, previous: Plan | None
) -> Compiled:
    """Return the problem with its pins, and a note for every pin that cannot be kept."""
    pins: list[Pin] = []
    kept: list[Wish] = []
    notes: list[str] = []
    wishes, said = _wishes(compiled, situation, previous)
    notes += said
    for wish in wishes:
        pin, why = _pin(compiled, situation, outlook, wish, pins)
        if pin is not None:
            pins.append(pin)
            kept.append(wish)
        elif words := _words(compiled, situation, wish):
            notes.append(f"{words} {why}.")
    return replace(
        compiled,
        problem=replace(compiled.problem, pins=tuple(pins)),
        notes=compiled.notes + tuple(notes),
        pin_ids=tuple(wish.pin_id for wish in kept),
        pin_words=tuple(_words(compiled, situation, wish) for wish in kept),
    )


def _words(compiled: Compiled, situation: Situation, wish: Wish) -> str:
    """Return the beginning of the sentence that says why something cannot stand; empty where nobody asked for it."""
    job = compiled.jobs[wish.task]
    what = f"{job.spec.label} in {job.field.label}"
    if wish.said is not None:
        who = situation.farm.operator_by_id.get(wish.operator or "")
        return f"{AT_WORK} {what}{f' ({who.label})' if who else ''}, since"
    return f"The pin on {what} cannot be kept:" if wish.pin_id else ""


def without_pins(compiled: Compiled, why: str) -> Compiled:
    """Return the problem with every pin given up."""
    while compiled.problem.pins:
        compiled = without_pin(compiled, len(compiled.problem.pins) - 1, why)
    return compiled


def without_pin(compiled: Compiled, position: int, why: str) -> Compiled:
    """Return the problem with one pin given up, and a note if somebody had asked for it or is at work."""
    pins = compiled.problem.pins
    said = compiled.notes
    if compiled.pin_words[position]:
        said += (f"{compiled.pin_words[position]} {why}.",)
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
        pin_words=tuple(compiled.pin_words[k] for k in keep),
        notes=said,
        start=start,
    )


def _wishes(compiled: Compiled, situation: Situation, previous: Plan | None) -> tuple[list[Wish], list[str]]:
    at = {job.key: k for k, job in enumerate(compiled.jobs)}
    now = max(0, compiled.grid.up(situation.now))
    end = compiled.problem.horizon
    out: list[Wish] = []
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
            Wish(
                at[key],
                start,
                _amount(compiled, at[key], pinned),
                pinned.rig,
                pinned.operator,
                None,
                pinned.pin,
            )
        )
    for key, state in situation.passes.items():
        if state.running is not None and key not in at and situation.left_ha(*key) > 0:
            notes.append(f"{AT_WORK} {key[1]} in {key[0]}, since nothing and nobody can do this pass now.")
    return [*running_wishes(compiled, situation, previous, out), *out], notes


def _amount(compiled: Compiled, task: int, pinned: Pinned) -> int:
    size = compiled.problem.tasks[task].size
    if pinned.area_ha is None:
        return size
    return max(1, min(size, round(pinned.area_ha / compiled.jobs[task].left_ha * size)))


def _pin(
    compiled: Compiled, situation: Situation, outlook: Outlook, wish: Wish, pins: list[Pin]
) -> tuple[Pin | None, str]:
    """Return the pin in the engine's terms, or why it cannot be."""
    task = compiled.problem.tasks[wish.task]
    why = "no rig or person named can do this pass"
    day = compiled.grid.horizon.day_index(compiled.grid.moment(wish.start).date())
    found = [m for m, info in enumerate(compiled.modes[wish.task]) if wish.rig in (None, info.option.id)]
    if wish.end_most is not None and wish.said is None:
        # Of ways that differ in pace (doubtful hours take longer) the one that ends when people know it to.
        found.sort(
            key=lambda m: abs(wish.start + _length(compiled, wish, m, wish.amount) - (wish.end_most or 0))
        )
    for m in found:
        if day not in compiled.modes[wish.task][m].days:
            why = "nobody with the skill holds the licence on that day"
            continue
        mode = task.modes[m]
        amount, end = wish.amount, wish.start + _length(compiled, wish, m, wish.amount)
        if wish.end_most is not None:
            end_most = wish.end_most if wish.said is None else until_when(compiled, outlook, wish, m)
            amount, end = _by_then(compiled, wish, m, end_most)
            if amount <= 0:
                why = "its time is up"
                continue
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


def _length(compiled: Compiled, wish: Wish, m: int, amount: int) -> int:
    """Return how long an amount takes in a mode [quarters], with what is left of the set-up."""
    task, option = compiled.problem.tasks[wish.task], compiled.modes[wish.task][m].option
    mode = task.modes[m]
    if wish.begun is None:
        return mode.minutes_for(amount, task.size)
    setup = max(0.0, option.setup_minutes - (wish.start - wish.begun) * MINUTES)
    # Areas are rounded: a second more is no quarter hour more.
    true = quarters_up(option.minutes * amount / task.size + setup - MOMENT_MINUTES)
    # In doubtful hours the pace is slower than the rig's own.
    return max(true, mode.minutes_for(amount, task.size) - mode.fixed_minutes)


def _by_then(compiled: Compiled, wish: Wish, m: int, end_most: int) -> tuple[int, int]:
    """Return how much of a wish is done by a time, and when that ends."""
    size, mode = compiled.problem.tasks[wish.task].size, compiled.problem.tasks[wish.task].modes[m]
    amount = wish.amount
    while amount > 0 and wish.start + _length(compiled, wish, m, amount) > end_most:
        over = wish.start + _length(compiled, wish, m, amount) - end_most
        amount -= max(1, (over - 1) * size // mode.minutes)
    if wish.amount == size and 0 < size - amount <= NOBODYS_TRIP and wish.said is None:
        amount = size
    return amount, wish.start + _length(compiled, wish, m, amount)


def _least_odds(compiled: Compiled, outlook: Outlook, task: int, mode: int, start: int, end: int) -> float:
    job = compiled.jobs[task]
    hours = fit_of(outlook, *job.key, compiled.modes[task][mode].option.key)
    if hours is None or end > compiled.problem.horizon:
        return 0.0
    span = hours.chance[start // PER_HOUR : -(-end // PER_HOUR)]
    return float(span.min()) if len(span) else 0.0


def _crew(
    compiled: Compiled, mode: Mode, wish: Wish, end: int, pins: list[Pin]
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
