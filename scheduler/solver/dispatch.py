"""The dispatch rule: what a person does with a wet week, and the baseline that every search must beat.

Day by day, the rig that is free first takes, among the few fields whose windows close soonest or that
lose most per minute of work, the one nearest to where it stands. Input: a problem with `days`; output:
a complete plan that respects every rule the evaluator checks. Pins go first, weekly buckets take what
is left.
"""

from __future__ import annotations

import heapq
from collections import defaultdict

from scheduler.solver.problem import Pin, Problem
from scheduler.solver.result import Block, CorePlan, Later
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
        A plan to repair: its blocks stay where they still fit, the rule fills the rest.
    """
    book = Book(problem, calendar)
    place_pins(book)
    if start is not None:
        keep_what_fits(book, start)
    weight = potentials(problem)
    order = _urgency(book, weight)
    for day, openings in enumerate(_openings(book)):
        _run_day(book, day, openings, order)
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
    """Take over the blocks of an earlier plan that break no rule now, earliest first."""
    pins = {(p.task, p.start) for p in book.problem.pins}
    for block in sorted(start.blocks):
        if (block.task, block.start) not in pins and book.still_fits(block):
            book.add(block)


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


def potentials(problem: Problem) -> list[float]:
    """Return per task what hangs on doing it: its own cost undone and that of all that must wait for it."""
    after: dict[int, set[int]] = defaultdict(set)
    for lag in problem.lags:
        if not lag.loose:
            after[lag.before].add(lag.after)
    must = 4.0 * sum(t.drop_cost for t in problem.tasks if t.optional) + 1e6
    own = [float(t.drop_cost) if t.optional else must for t in problem.tasks]

    def reach(t: int) -> set[int]:
        seen: set[int] = set()
        todo = [t]
        while todo:
            for follower in after[todo.pop()]:
                if follower not in seen and follower != t:
                    seen.add(follower)
                    todo.append(follower)
        return seen

    return [own[t] + sum(own[f] for f in reach(t)) for t in range(len(problem.tasks))]


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
        if not bounds.allowed:
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


def fill_buckets(book: Book) -> None:
    """Leave what is not placed to the weekly buckets, dearest per minute first."""
    problem = book.problem
    weight = potentials(problem)
    rest = [t for t, task in enumerate(problem.tasks) if task.later and book.left[t] > 0]
    for b, bucket in enumerate(problem.buckets):
        for t in sorted(rest, key=lambda t: -weight[t] / max(1, problem.tasks[t].modes[0].minutes)):
            for _, m in sorted((mode.cost, m) for m, mode in enumerate(problem.tasks[t].modes)):
                _into_bucket(book, t, m, b, bucket.start, bucket.end)


def _into_bucket(book: Book, t: int, m: int, b: int, start: int, end: int) -> None:
    task = book.problem.tasks[t]
    mode = task.modes[m]
    bounds = book.bounds(t)
    if book.left[t] == 0 or not bounds.allowed or mode.minutes <= 0:
        return
    if end <= bounds.start_least or start > bounds.start_most or start >= bounds.end_most:
        return
    left = book.bucket_left[b]
    chosen: list[int] = []
    for need in mode.needs:
        options = [r for r in need.any_of if r not in chosen]
        chosen.append(max(options, key=lambda r: (left.get(r, 0), -r)))
    room = min((left.get(r, 0) for r in chosen), default=0) - mode.fixed_minutes
    amount = min(book.left[t], room * task.size // mode.minutes)
    for stock, taken in mode.consumes.items():
        if taken > 0:
            amount = min(amount, int(book.stock_room(stock, start) * task.size / taken + 1e-9))
    cost = mode.cost + (task.end_curve.at(end) if task.end_curve else 0.0)
    if task.min_chunk is None and amount < task.size:
        return
    if amount <= 0 or (task.optional and cost >= task.drop_cost):
        return
    for r in chosen:
        left[r] = left.get(r, 0) - mode.minutes_for(amount, task.size)
    for stock, taken in mode.consumes.items():
        book.stock_used[stock][book.cell(stock, start)] += taken * amount / task.size
    book.later.append(Later(t, m, b, amount))
    book.left[t] -= amount
    book.first[t], book.last[t] = min(book.first[t], end), max(book.last[t], start)


def settle_choices(book: Book) -> None:
    """Take out tasks whose chosen company is missing (if `given` is done, one of `one_of` must be)."""
    for choice in book.problem.choices:
        done = [t for t in choice.one_of if book.left[t] == 0]
        if choice.given is None or done or book.left[choice.given] > 0:
            continue
        if not book.problem.tasks[choice.given].optional:
            continue
        book.blocks = [b for b in book.blocks if b.task != choice.given]
