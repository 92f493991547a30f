"""The dispatch rule: what a person does with a wet week, and the baseline that every search must beat.

Day by day, the rig that is free first takes, among the few fields whose windows close soonest or that
lose most per minute of work, the one nearest to where it stands. Input: a problem with `days`; output:
a complete plan that respects every rule the evaluator checks. Pins go first, weekly buckets take what
is left.
"""

from __future__ import annotations

import heapq
from collections import defaultdict

from scheduler.solver.dispatch_later import fill_buckets, keep_later
from scheduler.solver.dispatch_order import lets_go_first, potentials
from scheduler.solver.problem import LagKind, Pin, Problem
from scheduler.solver.result import Block, CorePlan
from scheduler.solver.rigday_book import Book
from scheduler.solver.rigday_calendar import Calendar

LOOK_AT = 6
Opening = tuple[int, int, int, int, bool, tuple[int, ...]]


def dispatch(problem: Problem, calendar: Calendar | None = None, start: CorePlan | None = None) -> CorePlan:
    """Return the plan of the dispatch rule.

    Parameters
    ----------
    problem : Problem
        With `days`.
    calendar : Calendar, optional
        Windows by day, when they were cut already.
    start : CorePlan, optional
        A plan to repair: its blocks, and what it leaves to buckets, stay where they still fit; the rule fills the rest.
    """
    book = Book(problem, calendar)
    place_pins(book)
    if start is not None:
        keep_what_fits(book, start)
        # What was left to a week stays there: brought forward alone it would end too long before what comes behind it.
        keep_later(book, start)
    weight = potentials(problem)
    order = _urgency(book, weight)
    for day, openings in enumerate(_openings(book)):
        _run_day(book, day, openings, order)
    if start is not None:
        keep_later(book, start)
    fill_buckets(book)
    settle_choices(book)
    return book.plan()


def place_pins(book: Book) -> None:
    """Put the standing blocks into the book; where a pin names no resources, choose free ones."""
    for pin in sorted(book.problem.pins, key=lambda p: (p.start, p.task)):
        book.add(
            Block(pin.start, pin.end, pin.task, pin.mode, pin.amount, pin.resources or _crew_for(book, pin))
        )


def keep_what_fits(book: Book, start: CorePlan) -> None:
    """Take over the blocks of an earlier plan that break no rule now, earliest first; as they are, else later on their day."""
    pins = {(p.task, p.start) for p in book.problem.pins}
    for block in sorted(start.blocks):
        if (block.task, block.start) in pins:
            continue
        finish_before(book, block)
        # Who comes from elsewhere than was thought is there a little later; what follows on the day moves along.
        kept = block if book.still_fits(block) else book.later_on_its_day(block)
        if kept is not None:
            book.add(kept)


def finish_before(book: Book, block: Block) -> None:
    """Place what is left of the work that a block waits for into the first gaps before it."""
    for lag in book.before[block.task]:
        if lag.loose or lag.kind is not LagKind.END_START or book.left[lag.before] == 0:
            continue
        until = block.start - (lag.least or 0)
        for day, a, b, m in book.candidates(lag.before):
            bounds = book.bounds(lag.before)
            if a >= until or book.left[lag.before] == 0 or not bounds.allowed:
                break
            found = book.fit(lag.before, m, day, a, min(b, until), bounds)
            if found is not None and found.end >= bounds.end_least:
                book.add(found)


def _crew_for(book: Book, pin: Pin) -> tuple[int, ...]:
    mode = book.problem.tasks[pin.task].modes[pin.mode]
    day = book.calendar.day_of(pin.start)
    chosen: list[int] = []
    for need in mode.needs:
        options = [r for r in need.any_of if r not in chosen]
        length = pin.end - pin.start
        fits = [
            r
            for r in options
            if book.free(r, day, pin.start, pin.end, length, mode.site, mode.family) is not None
        ]
        chosen.append((fits or options)[0])
    return tuple(chosen)


def _urgency(book: Book, weight: list[float]) -> list[float]:
    """Rank: loss at stake per minute of the fastest mode, raised when few days remain."""
    tasks = book.problem.tasks
    rank = []
    for t, task in enumerate(tasks):
        minutes = min((mode.minutes_for(task.size, task.size) for mode in task.modes), default=1)
        rank.append(weight[t] / max(1, minutes))
    return rank


def _openings(book: Book) -> list[list[Opening]]:
    """Return, day by day, every window of every mode, with the rig that it needs."""
    out: list[list[Opening]] = [[] for _ in book.problem.days]
    for t, task in enumerate(book.problem.tasks):
        for m, cut in enumerate(book.calendar.windows[t]):
            rig = tuple(n.any_of[0] for n in task.modes[m].needs if len(n.any_of) == 1)
            last = cut[-1][0] if cut else -1
            for d, a, b in cut:
                out[d].append((t, m, a, b, last - d <= 1, rig))
    return out


def _run_day(book: Book, day: int, openings: list[Opening], rank: list[float]) -> None:
    queues: dict[tuple[int, ...], list[tuple[float, int, int, int, int]]] = defaultdict(list)
    worth_a_look: dict[int, bool] = {}
    for t, m, a, b, closing, rig in openings:
        if t not in worth_a_look:
            ready = not book.before[t] or book.bounds(t).allowed or _opens_today(book, t)
            worth_a_look[t] = book.left[t] > 0 and ready
        if worth_a_look[t]:
            queues[rig].append((-rank[t] * (2.0 if closing else 1.0), t, m, a, b))
    heap = []
    for rig, queue in queues.items():
        queue.sort()
        heap.append((min(q[3] for q in queue), queue[0][0], rig))
    heapq.heapify(heap)
    while heap:
        _, score, rig = heapq.heappop(heap)
        end = _next_job(book, day, rig, queues[rig])
        if end is not None:
            heapq.heappush(heap, (end, score, rig))


def _opens_today(book: Book, t: int) -> bool:
    """Tell whether what blocks a task may itself be finished today, so that it is worth a look."""
    return any(not lag.loose and (lag.least or 0) < book.day_span for lag in book.before[t])


def _next_job(
    book: Book, day: int, rig: tuple[int, ...], queue: list[tuple[float, int, int, int, int]]
) -> int | None:
    """Give the rig its next block; return when it ends."""
    live = [q for q in queue if book.left[q[1]] > 0]
    if rig and len(live) > 1:
        live = _nearest_first(book, day, rig[0], live)
    for _, t, m, a, b in live:
        bounds = book.bounds(t)
        if not bounds.allowed or lets_go_first(book, t, day):
            continue
        block = book.fit(t, m, day, a, b, bounds)
        if block is not None and block.end >= bounds.end_least and worth_it(book, block):
            book.add(block)
            return block.end
    return None


def _nearest_first(
    book: Book, day: int, r: int, live: list[tuple[float, int, int, int, int]]
) -> list[tuple[float, int, int, int, int]]:
    moves = book.problem.resources[r].moves
    if moves is None:
        return live
    entries = book.entries[r][day]
    here = entries[-1][2] if entries else moves.depot
    if here is None or here < 0:
        return live
    head = sorted(
        live[:LOOK_AT], key=lambda q: int(moves.minutes[here, book.problem.tasks[q[1]].modes[q[2]].site])
    )
    return head + live[LOOK_AT:]


def worth_it(book: Book, block: Block) -> bool:
    """Tell whether a block costs less than leaving its share undone (with all that hangs on it)."""
    task = book.problem.tasks[block.task]
    if not task.optional or book.after[block.task]:
        return True
    cost = float(task.modes[block.mode].cost)
    cost += task.end_curve.at(block.end) if task.end_curve else 0.0
    cost += task.start_curve.at(block.start) if task.start_curve else 0.0
    return cost < task.drop_cost


def settle_choices(book: Book) -> None:
    """Take out tasks whose chosen company is missing (if `given` is done, one of `one_of` must be)."""
    for choice in book.problem.choices:
        done = [t for t in choice.one_of if book.left[t] == 0]
        if choice.given is None or done or book.left[choice.given] > 0:
            continue
        if not book.problem.tasks[choice.given].optional:
            continue
        book.blocks = [b for b in book.blocks if b.task != choice.given]
