"""What hangs on a task and what it lets go first, for the dispatch rule and for the search.

Question answered: *what is lost with a task, and which one would spoil another by being early?*
"""

from __future__ import annotations

from collections import defaultdict

from scheduler.solver.problem import Problem
from scheduler.solver.rigday_book import Book


def followers(problem: Problem) -> list[set[int]]:
    """Return per task all those that must wait for it, through others too."""
    after: dict[int, set[int]] = defaultdict(set)
    for lag in problem.lags:
        if not lag.loose:
            after[lag.before].add(lag.after)

    def reach(t: int) -> set[int]:
        seen: set[int] = set()
        todo = [t]
        while todo:
            for follower in after[todo.pop()]:
                if follower not in seen and follower != t:
                    seen.add(follower)
                    todo.append(follower)
        return seen

    return [reach(t) for t in range(len(problem.tasks))]


def potentials(problem: Problem) -> list[float]:
    """Return per task what hangs on doing it: its own cost undone and that of all that must wait for it."""
    must = 4.0 * sum(t.drop_cost for t in problem.tasks if t.optional) + 1e6
    own = [float(t.drop_cost) if t.optional else must for t in problem.tasks]
    return [own[t] + sum(own[f] for f in behind) for t, behind in enumerate(followers(problem))]


def lets_go_first(book: Book, t: int, day: int) -> bool:
    """Tell whether a task should wait for one that has to come before it *if both are done*, and still can be done.

    Nobody bands nitrogen into a cover that is to be terminated first: once the band is there, it would be too late for that.
    """
    for lag in book.before[t]:
        if lag.loose and book.left[lag.before] > 0:
            first = book.problem.tasks[lag.before]
            if first.later or any(cut and cut[-1][0] >= day for cut in book.calendar.windows[lag.before]):
                return True
    return False
