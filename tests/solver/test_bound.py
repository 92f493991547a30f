"""The relaxation against true plans: every plan, written into its columns, keeps every row and costs no less.

No source: the check is that of the definition of a relaxation. The cheapest day of the kernel is held against the
enumeration of all orders and lengths of stay.
"""

from __future__ import annotations

import time
from collections import defaultdict
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scheduler.solver.bound_days import RigDays
from scheduler.solver.bound_kernel import cheapest_day
from scheduler.solver.bound_merge import NOBODY, carriers_of, merged_ways
from scheduler.solver.bound_model import RelaxedFarm
from scheduler.solver.bound_pieces import Piece
from scheduler.solver.bound_solve import Program, solve_rows
from scheduler.solver.bound_staff import staffed
from scheduler.solver.dispatch import dispatch
from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Pin, Problem, Window
from scheduler.solver.resources import Resource
from scheduler.solver.result import Block, CorePlan, Limits
from scheduler.solver.rigday import search
from scheduler.solver.rigday_calendar import Calendar
from tests.benchmarks.farms import make_farm

FEW = settings(max_examples=5, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
ROUNDING = 1e-6


def relaxed(problem: Problem, stretch: int) -> tuple[RelaxedFarm, list[list[int]]]:
    merged, carriers = merged_ways(problem)
    return RelaxedFarm(merged, staffed(merged, Calendar(merged)), stretch, carriers=carriers), carriers


def mode_of(farm: RelaxedFarm, carriers: list[list[int]], problem: Problem, block: Block) -> int:
    """Return the merged mode that a block is done in."""
    true = problem.tasks[block.task].modes[block.mode]
    for m, mode in enumerate(farm.problem.tasks[block.task].modes):
        carrier = carriers[block.task][m]
        if (carrier == NOBODY or carrier in block.resources) and (mode.minutes, mode.windows) == (
            true.minutes,
            true.windows,
        ):
            return m
    raise AssertionError("no merged mode for a block")


def written_in(
    farm: RelaxedFarm, carriers: list[list[int]] | None, problem: Problem, plan: CorePlan
) -> dict[int, float]:
    """Return how much each column of work and visits holds when the plan is written into the relaxation."""
    pieces: dict[tuple[int, int], list[Piece]] = defaultdict(list)
    for piece in farm.pieces:
        pieces[piece.task, piece.mode].append(piece)
    held: dict[int, float] = dict.fromkeys([p.column for p in farm.pieces] + list(farm.visit.values()), 0.0)
    standing = {(pin.task, pin.start) for pin in problem.pins}
    for block in plan.blocks:
        if (block.task, block.start) in standing:
            continue
        m = block.mode if carriers is None else mode_of(farm, carriers, problem, block)
        mode, size = farm.problem.tasks[block.task].modes[m], problem.tasks[block.task].size
        at, left = block.start + mode.fixed_minutes, float(block.amount)
        for piece in sorted(pieces[block.task, m], key=lambda p: p.start):
            inside = min(piece.end, block.end) - max(piece.start, at)
            done = min(left, max(0.0, inside * size / mode.minutes))
            held[piece.column] += done
            left -= done
        assert left < ROUNDING * size, "a block lies outside the pieces of its mode"
        day = farm.calendar.day_of(block.start)
        if (block.task, m, day) in farm.visit:
            held[farm.visit[block.task, m, day]] += 1.0
    for item in plan.later:
        held[farm.after_days[item.task][item.bucket][1]] = 0.0
    for item in plan.later:
        held[farm.after_days[item.task][item.bucket][1]] += item.amount
    return held


def done_by(problem: Problem, plan: CorePlan, task: int, by: int) -> bool:
    """Tell whether a task is wholly done by a time, seen from the weeks behind the horizon, which count at their start.

    What stands counts as done, as in the relaxation.
    """
    standing = {(pin.task, pin.start) for pin in problem.pins}
    early = [
        b.amount for b in plan.blocks if b.task == task and (b.end <= by or (b.task, b.start) in standing)
    ]
    early += [x.amount for x in plan.later if x.task == task and problem.buckets[x.bucket].start <= by]
    return sum(early) == problem.tasks[task].size


def costs_in_relaxation(
    problem: Problem, plan: CorePlan, stretch: int, cuts: int, whole: bool, apart: bool = False
) -> float:
    """Return what the plan costs in the relaxation; infinite when it breaks one of its rows. `apart`: ways not merged."""
    farm, carriers = relaxed(problem, stretch)
    if apart:
        carriers = carriers_of(problem)
        calendar = staffed(problem, Calendar(problem))
        farm = RelaxedFarm(problem, calendar, stretch, carriers=carriers, lengths=1)
    days = RigDays(farm)
    program = Program(farm.rows)
    for _ in range(cuts):
        program.cut_days(farm.own_rows, days, program.solve(60.0))
    for column, amount in written_in(farm, None if apart else carriers, problem, plan).items():
        slack = ROUNDING * max(1.0, amount)
        farm.rows.row([(column, 1.0)], amount - slack, amount + slack)
    if whole:
        in_days = CorePlan(plan.blocks)
        truths = [(c, done_by(problem, in_days, *when)) for c, when in farm.done_by.items()]
        truths += [(c, done_by(problem, plan, *when)) for c, when in farm.done_by_bucket.items()]
        for column, truth in truths:
            farm.rows.row([(column, 1.0)], truth, truth)
    found = solve_rows(farm.rows, 60.0)
    return found.bound if np.isfinite(found.bound) else float("inf")


@pytest.mark.parametrize("stretch", [90, 1440])
@pytest.mark.parametrize("seed", [0, 1])
def test_a_true_plan_is_a_plan_of_the_relaxation(seed: int, stretch: int) -> None:
    problem = make_farm(9, seed, 6)
    for plan in (dispatch(problem), search(problem, time.monotonic() + 60, Limits(0.3, 1, 1, True)).plan):
        value = evaluate(problem, plan).value
        assert costs_in_relaxation(problem, plan, stretch, cuts=2, whole=False) <= value * (1 + 1e-5)
        assert costs_in_relaxation(problem, plan, stretch, cuts=0, whole=True) <= value * (1 + 1e-5)
        assert costs_in_relaxation(problem, plan, 1440, cuts=0, whole=False, apart=True) <= value * (1 + 1e-5)


@FEW
@given(
    st.integers(3, 8),
    st.integers(0, 10_000),
    st.integers(3, 6),
    st.booleans(),
    st.sampled_from([45, 120, 300]),
    st.integers(0, 3),
)
def test_any_farm_keeps_the_relaxation(
    fields: int, seed: int, days: int, buckets: bool, stretch: int, pins: int
) -> None:
    """Windows torn in two, so that one task has two on a day; some rest at noon; now and then some blocks stand."""
    problem = torn(make_farm(fields, seed, days, buckets), seed)
    plan = search(problem, time.monotonic() + 60, Limits(0.05, 1, 1, True)).plan
    standing = tuple(
        Pin(b.task, b.mode, b.start, b.end, b.amount, b.resources) for b in plan.blocks[: 3 * pins : 3]
    )
    problem = replace(problem, pins=standing)
    value = evaluate(problem, plan).value
    most = value * (1 + 1e-5) + 1e-3
    assert costs_in_relaxation(problem, plan, stretch, cuts=1, whole=True) <= most
    assert costs_in_relaxation(problem, plan, 1440, cuts=0, whole=False, apart=True) <= most


def torn(problem: Problem, seed: int) -> Problem:
    """Cut some windows in two with a pause of one or two hours."""
    rng = np.random.default_rng(seed)
    tasks = []
    for task in problem.tasks:
        if rng.random() < 0.5:
            tasks.append(task)
            continue
        pause = int(rng.integers(0, 120))
        modes = []
        for mode in task.modes:
            parts = []
            for w in mode.windows or ():
                middle = (w.start + w.end) // 2
                parts += [Window(w.start, middle, w.chance, w.risk_per_minute)]
                if middle + pause < w.end:
                    parts += [Window(middle + pause, w.end, w.chance, w.risk_per_minute)]
            modes.append(replace(mode, windows=tuple(parts)))
        tasks.append(replace(task, modes=tuple(modes)))
    resting = tuple(at_noon(r, rng) if rng.random() < 0.4 else r for r in problem.resources)
    return replace(problem, tasks=tuple(tasks), resources=resting)


def at_noon(resource: Resource, rng: np.random.Generator) -> Resource:
    """Close a resource for a while in the middle of each day: it may be on the road then."""
    pause = int(rng.integers(10, 90))
    halves = [half for a, b in resource.open or () for half in ((a, (a + b) // 2), ((a + b) // 2 + pause, b))]
    return replace(resource, open=tuple(halves))


@pytest.mark.parametrize("seed", [0, 1])
def test_a_plan_that_breaks_a_wait_is_none_of_the_relaxation(seed: int) -> None:
    """The check above can fail: without half of what it waited for, later work is not allowed."""
    problem = make_farm(9, seed, 6)
    plan = search(problem, time.monotonic() + 60, Limits(0.3, 1, 1, True)).plan
    done = {block.task for block in plan.blocks}
    first = next(lag.before for lag in problem.lags if {lag.before, lag.after} <= done)

    def half(block: Block) -> Block:
        task = problem.tasks[block.task]
        length = task.modes[block.mode].minutes_for(block.amount // 2, task.size)
        return replace(block, amount=block.amount // 2, end=block.start + length)

    halved = CorePlan(tuple(half(b) if b.task == first else b for b in plan.blocks))
    assert costs_in_relaxation(problem, plan, 60, cuts=0, whole=True) < float("inf")
    assert costs_in_relaxation(problem, halved, 60, cuts=0, whole=True) == float("inf")


@pytest.mark.parametrize("pays", [False, True], ids=["visits cost", "visits pay"])
@pytest.mark.parametrize("seed", range(6))
def test_cheapest_day_against_every_order_and_stay(seed: int, pays: bool) -> None:
    rng = np.random.default_rng(seed)
    fields, minutes = 3, 16
    gain = rng.integers(-6, 3, (fields, minutes)).astype(float)
    opens, closes = rng.integers(0, 4, fields), rng.integers(11, minutes + 1, fields)
    since = np.full((fields, minutes + 1), -1, np.int64)
    for i in range(fields):
        since[i, opens[i] : closes[i] + 1] = np.arange(closes[i] - opens[i] + 1)
    fixed, most = rng.integers(1, 4, fields), rng.integers(3, 8, fields)
    charge = rng.integers(4, 9, fields).astype(float)
    if pays:
        # Long fixed minutes leave no room for a fourth visit, and nobody is paid for one without work.
        fixed, charge = rng.integers(4, 6, fields), -charge
    out, back = rng.integers(0, 4, fields), rng.integers(0, 4, fields)
    hop = rng.integers(0, 4, (fields, fields))
    np.fill_diagonal(hop, 0)
    found = cheapest_day(gain, since, fixed, most, charge, out, hop, back, 0.5)
    best = 0.0
    for count in (1, 2, 3):
        for order in product(range(fields), repeat=count):
            best = min(
                best,
                _best_of_order(order, gain, opens, closes, fixed, most, charge, out, hop, back, int(pays)),
            )
    assert found == pytest.approx(best)


def _best_of_order(order, gain, opens, closes, fixed, most, charge, out, hop, back, least):  # type: ignore[no-untyped-def]
    minutes = gain.shape[1]
    best = np.inf

    def go(k: int, place: int, time: int, cost: float) -> None:
        nonlocal best
        if k == len(order):
            if time + back[place] <= minutes:
                best = min(best, cost + 0.5 * back[place])
            return
        i = order[k]
        road = out[i] if k == 0 else hop[place, i]
        for start in range(time + road, minutes + 1):
            if start < opens[i]:
                continue
            first = start + fixed[i]
            for stay in range(least, most[i] + 1):
                if first + stay > closes[i]:
                    break
                go(
                    k + 1,
                    i,
                    first + stay,
                    cost + 0.5 * road + charge[i] + gain[i, first : first + stay].sum(),
                )

    go(0, -1, 0, 0.0)
    return best
