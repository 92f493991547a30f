"""The day-level plan: who works how much where on which day, and a true plan made from it.

Question answered: *what does the whole look like from above?* The relaxation of `bound_model` spreads work over
days with all people, machines, stocks and waits in view; its answer is turned into blocks day by day, with exact
roads, hours and windows, and the dispatch rule fills what is left. The engine does without it; it is one of the methods
that the engine is held against.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

from scheduler.solver.bound_model import RelaxedFarm
from scheduler.solver.dispatch import dispatch, place_pins, worth_it
from scheduler.solver.problem import Problem
from scheduler.solver.result import CorePlan
from scheduler.solver.rigday_book import Book
from scheduler.solver.rigday_calendar import Calendar


def plan_from_days(problem: Problem, calendar: Calendar, farm: RelaxedFarm, values: list[float]) -> CorePlan:
    """Return a true plan that follows a solution of the relaxation.

    Parameters
    ----------
    problem, calendar
    farm : RelaxedFarm
        The program that was solved.
    values : list of float
        One value per column.
    """
    amounts: dict[tuple[int, int, int], float] = defaultdict(float)
    moment: dict[tuple[int, int, int], float] = defaultdict(float)
    for piece in farm.pieces:
        amount = values[piece.column]
        if amount > 1e-6:
            key = (piece.day, piece.task, piece.mode)
            amounts[key] += amount
            moment[key] += amount * piece.start
    book = Book(problem, calendar)
    place_pins(book)
    order = sorted(amounts, key=lambda key: (key[0], moment[key] / amounts[key], key[1], key[2]))
    for day, t, m in order:
        _follow(book, day, t, m, amounts[day, t, m])
    return dispatch(problem, calendar, book.plan())


def _follow(book: Book, day: int, t: int, m: int, amount: float) -> None:
    """Place about `amount` of a task on a day, when it fits."""
    task = book.problem.tasks[t]
    least = task.size if task.min_chunk is None else min(task.min_chunk, task.size)
    if book.left[t] == 0 or amount < 0.5 * least:
        return
    for d, a, b in book.calendar.windows[t][m]:
        if d != day or book.left[t] == 0:
            continue
        bounds = book.bounds(t)
        if not bounds.allowed:
            return
        block = book.fit(t, m, day, a, b, bounds)
        if block is None or block.end < bounds.end_least or not worth_it(book, block):
            continue
        wanted = max(least, round(amount))
        if wanted < block.amount and book.left[t] - wanted >= least:
            length = task.modes[m].minutes_for(wanted, task.size)
            block = replace(block, amount=wanted, end=block.start + length)
        book.add(block)
        return
