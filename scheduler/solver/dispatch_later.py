"""What the dispatch rule leaves to the weekly buckets behind the exact days.

Question answered: *what of the rest is still worth doing later, and in which week is there room?*
"""

from __future__ import annotations

from scheduler.solver.dispatch_order import followers, lets_go_first, potentials
from scheduler.solver.result import CorePlan, Later
from scheduler.solver.rigday_book import Book


def keep_later(book: Book, start: CorePlan) -> None:
    """Leave to the buckets again what an earlier plan left to them; a pass that waits comes after the one it waits for."""
    behind = followers(book.problem)
    for b in range(len(book.problem.buckets)):
        items = [item for item in start.later if item.bucket == b]
        placed = True
        while placed:
            placed = False
            for item in list(items):
                left = book.left[item.task]
                _into_bucket(book, item.task, item.mode, b, behind[item.task], item.amount)
                if book.left[item.task] < left:
                    items.remove(item)
                    placed = True


def fill_buckets(book: Book) -> None:
    """Leave what is not placed to the weekly buckets, dearest per minute first; what waits comes after what it waits for."""
    problem = book.problem
    weight = potentials(problem)
    rest = [t for t, task in enumerate(problem.tasks) if task.later and book.left[t] > 0]
    rest.sort(key=lambda t: -weight[t] / max(1, problem.tasks[t].modes[0].minutes))
    ways = {t: sorted((mode.cost, m) for m, mode in enumerate(problem.tasks[t].modes)) for t in rest}
    behind = followers(problem)
    for b in range(len(problem.buckets)):
        last = b + 1 == len(problem.buckets)
        waiting = [t for t in rest if book.left[t] > 0]
        while waiting:
            held = [t for t in waiting if not last and lets_go_first(book, t, len(problem.days))]
            for t in waiting:
                if t not in held:
                    for _, m in ways[t]:
                        _into_bucket(book, t, m, b, behind[t])
            waiting = held if len(held) < len(waiting) else []


def _into_bucket(book: Book, t: int, m: int, b: int, behind: set[int], most: int | None = None) -> None:
    """Leave as much of a task to a bucket as there is room for, at most `most`."""
    task = book.problem.tasks[t]
    mode, start, end = task.modes[m], book.problem.buckets[b].start, book.problem.buckets[b].end
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
    wanted = book.left[t] if most is None else min(most, book.left[t])
    amount = min(wanted, room * task.size // mode.minutes)
    for stock, taken in mode.consumes.items():
        if taken > 0:
            amount = min(amount, int(book.stock_room(stock, start) * task.size / taken + 1e-9))
    cost = mode.cost + (task.end_curve.at(end) if task.end_curve else 0.0)
    if task.min_chunk is None and amount < task.size:
        return
    if amount <= 0 or (task.optional and cost >= task.drop_cost + hangs_on(book, behind, end)):
        return
    for r in chosen:
        left[r] = left.get(r, 0) - mode.minutes_for(amount, task.size)
    for stock, taken in mode.consumes.items():
        book.stock_used[stock][book.cell(stock, start)] += taken * amount / task.size
    book.later.append(Later(t, m, b, amount))
    book.left[t] -= amount
    book.first[t], book.last[t] = min(book.first[t], end), max(book.last[t], start)


def hangs_on(book: Book, behind: set[int], end: int) -> float:
    """Return what those that must wait for a task can still save when it is done by then: else it is done for nothing."""
    saved = 0.0
    for t in behind:
        task = book.problem.tasks[t]
        if task.optional and book.left[t] > 0 and task.modes:
            cost = min(mode.cost for mode in task.modes) + (task.end_curve.at(end) if task.end_curve else 0.0)
            saved += max(0.0, task.drop_cost - cost)
    return saved
