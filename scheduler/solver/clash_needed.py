"""The part of a problem that decides whether what must be done can be done.

Question answered: *which tasks could stand in the way of what must be done?* What may stay undone and is asked for by
nothing can be left out of every plan, so it has no part in a clash. Leaving it out makes each check small.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from scheduler.solver.clash_rules import Rule
from scheduler.solver.problem import Before, Problem, Task
from scheduler.solver.resources import Moves

OF_TASKS = ("must", "dates", "windows")


@dataclass(frozen=True)
class Needed:
    """A part of a problem; `back` says of which task and lag of the whole each one is a copy; the rest is the same."""

    problem: Problem
    back: Mapping[str, Sequence[int]]

    def whole(self, rule: Rule) -> Rule:
        """Return a rule of the part as a rule of the whole."""
        kind = "task" if rule.kind in OF_TASKS else rule.kind
        return replace(rule, index=self.back[kind][rule.index]) if kind in self.back else rule


def needed(problem: Problem) -> Needed:
    """Return the tasks that must be done, pinned ones, what any of these asks for, and the rules between them."""
    kept = {t for t, task in enumerate(problem.tasks) if not task.optional}
    kept |= {pin.task for pin in problem.pins}
    for choice in problem.choices:
        kept |= {*choice.one_of, *(() if choice.given is None else (choice.given,))}
    waits = [(lag.before, lag.after) for lag in problem.lags if not lag.loose]
    while more := {before for before, after in waits if after in kept and before not in kept}:
        kept |= more
    tasks = sorted(kept)
    at = {t: k for k, t in enumerate(tasks)}
    lags = [(k, lag) for k, lag in enumerate(problem.lags) if lag.before in at and lag.after in at]
    part = replace(
        _on_few_sites(problem, [problem.tasks[t] for t in tasks]),
        lags=tuple(replace(lag, before=at[lag.before], after=at[lag.after]) for _, lag in lags),
        pins=tuple(replace(pin, task=at[pin.task]) for pin in problem.pins),
        choices=tuple(
            replace(c, given=None if c.given is None else at[c.given], one_of=tuple(at[t] for t in c.one_of))
            for c in problem.choices
        ),
        before=Before(),
    )
    return Needed(part, {"task": tasks, "lag": [k for k, _ in lags]})


def _on_few_sites(problem: Problem, tasks: Sequence[Task]) -> Problem:
    """Return the problem with these tasks only, with roads between their places and the yards of those who may do them."""
    modes = [mode for task in tasks for mode in task.modes]
    asked = {r for mode in modes for need in mode.needs for r in need.any_of}
    moving = {r: moves for r in asked if (moves := problem.resources[r].moves) is not None}
    places = {mode.site for mode in modes if mode.site >= 0}
    places |= {moves.depot for moves in moving.values() if moves.depot is not None}
    known = min((len(moves.minutes) for moves in moving.values()), default=0)
    kept = sorted(site for site in places if site < known)
    if any(site >= known for site in places):
        # A place that is on nobody's or not on everybody's table of roads: they are left as they are.
        return replace(problem, tasks=tuple(tasks))
    at = {site: k for k, site in enumerate(kept)}
    resources = tuple(
        replace(one, moves=_few(moving[r], kept, at) if r in moving else None)
        for r, one in enumerate(problem.resources)
    )
    return replace(
        problem,
        tasks=tuple(
            replace(task, modes=tuple(replace(mode, site=at.get(mode.site, -1)) for mode in task.modes))
            for task in tasks
        ),
        resources=resources,
    )


def _few(moves: Moves, kept: Sequence[int], at: Mapping[int, int]) -> Moves:
    initial, final = moves.initial, moves.final
    return replace(
        moves,
        minutes=moves.minutes[np.ix_(kept, kept)],
        depot=None if moves.depot is None else at[moves.depot],
        initial=None if initial is None else initial[kept],
        final=None if final is None else final[kept],
    )
