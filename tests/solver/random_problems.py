"""Small random problems without days, and every plan of a tiny one, for tests of the engine."""

from __future__ import annotations

from itertools import product

import numpy as np
from hypothesis import strategies as st

from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Curve, Lag, LagKind, Mode, Need, Problem, Task, Window
from scheduler.solver.resources import Moves, Resource, Stock
from scheduler.solver.result import Block, CorePlan

HORIZON = 24


@st.composite
def curves(draw: st.DrawFn) -> Curve:
    """Convex costs with whole slopes."""
    at = draw(st.integers(0, 12))
    return Curve(((at, 0),), -float(draw(st.integers(0, 2))), float(draw(st.integers(0, 4))))


@st.composite
def tasks(draw: st.DrawFn, i: int, resources: int, sites: int) -> Task:
    """A task of one or two modes."""
    modes = []
    for _ in range(draw(st.integers(1, 2))):
        any_of = tuple(sorted(draw(st.sets(st.integers(0, resources - 2), min_size=1, max_size=2))))
        needs = [Need(any_of)]
        if draw(st.booleans()):
            needs.append(Need((resources - 1,), draw(st.integers(1, 2))))
        windows = (Window(2, 9), Window(11, 22)) if draw(st.integers(0, 3)) == 0 else None
        taken = {0: draw(st.integers(0, 3))}
        minutes, cost = draw(st.integers(0, 4)), draw(st.integers(0, 3))
        modes.append(
            Mode(
                minutes,
                tuple(needs),
                windows,
                site=draw(st.integers(0, sites - 1)),
                cost=cost,
                consumes=taken,
            )
        )
    optional = draw(st.integers(0, 3)) == 0
    return Task(
        f"task {i}",
        tuple(modes),
        release=draw(st.integers(0, 3)),
        latest_end=draw(st.sampled_from([HORIZON, HORIZON, 12])),
        start_curve=draw(st.none() | curves()),
        end_curve=draw(st.none() | curves()),
        optional=optional,
        drop_cost=draw(st.integers(0, 20)) if optional else 0,
        resumable=draw(st.integers(0, 3)) == 0,
    )


@st.composite
def problems(draw: st.DrawFn, most_tasks: int = 5) -> Problem:
    """Two unary machines, one with set-ups and hours, a pool, a stock with a delivery, lags of all kinds."""
    count = draw(st.integers(1, most_tasks))
    sites = 3
    road = np.array(
        draw(st.lists(st.lists(st.integers(0, 3), min_size=3, max_size=3), min_size=3, max_size=3))
    )
    np.fill_diagonal(road, 0)
    moves = Moves(
        road,
        initial=road[0] if draw(st.booleans()) else None,
        all_pairs=draw(st.booleans()),
        cost_per_minute=float(draw(st.integers(0, 1))),
    )
    hours = ((0, 10), (12, HORIZON)) if draw(st.booleans()) else None
    resources = (
        Resource("machine", moves=moves if draw(st.booleans()) else None),
        Resource("other", open=hours),
        Resource("pool", capacity=2, cumulative=True),
    )
    rows = tuple(draw(tasks(i, len(resources), sites)) for i in range(count))
    lags = []
    for _ in range(draw(st.integers(0, 3))):
        a, b = draw(st.integers(0, count - 1)), draw(st.integers(0, count - 1))
        if a < b:
            least = draw(st.integers(-3, 4))
            most = draw(st.none() | st.integers(least, 8))
            lags.append(Lag(a, b, draw(st.sampled_from(list(LagKind))), least, most, draw(st.booleans())))
    stock = Stock("stock", draw(st.integers(0, 8)), ((8, draw(st.integers(0, 8))),))
    weight = draw(st.integers(0, 2))
    return Problem(rows, resources, HORIZON, tuple(lags), (stock,), makespan_weight=weight)


def best_by_trying_all(problem: Problem) -> float | None:
    """Return the least cost over every plan with whole tasks, or None where no plan is sound."""
    choices: list[list[Block | None]] = []
    for t, task in enumerate(problem.tasks):
        ways: list[Block | None] = [None] if task.optional else []
        for m, mode in enumerate(task.modes):
            for crew in product(*(need.any_of for need in mode.needs)):
                for start in range(task.release, problem.horizon + 1):
                    for end in _ends(problem, task, mode, crew, start):
                        if end <= min(problem.horizon, task.latest_end):
                            ways.append(Block(start, end, t, m, 1, crew))
        choices.append(ways)
    best: float | None = None
    for picked in product(*choices):
        blocks = tuple(sorted((b for b in picked if b is not None), key=lambda b: (b.start, b.end)))
        found = evaluate(problem, CorePlan(blocks))
        if not found.violations and (best is None or found.value < best):
            best = found.value
    return best


def _ends(problem: Problem, task: Task, mode: Mode, crew: tuple[int, ...], start: int) -> list[int]:
    """Return the ends worth trying: the plain one, and later ones for work that may stop."""
    shortest = start + mode.minutes
    has_hours = any(problem.resources[r].open is not None for r in crew)
    return [shortest, shortest + 2] if task.resumable and has_hours else [shortest]
