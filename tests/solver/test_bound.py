"""The relaxation against true plans: every plan, written into its columns, keeps every row and costs no less.

No source: the check is that of the definition of a relaxation. The cheapest day of the kernel is held against the
enumeration of all orders and lengths of stay.
"""

from __future__ import annotations

import time
from collections import defaultdict
from dataclasses import replace
from itertools import permutations, product

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scheduler.solver.bound import Bounder
from scheduler.solver.bound_days import RigDays
from scheduler.solver.bound_kernel import cheapest_day
from scheduler.solver.bound_merge import NOBODY, carriers_of, merged_ways
from scheduler.solver.bound_model import RelaxedFarm
from scheduler.solver.bound_pieces import Piece
from scheduler.solver.bound_solve import Program, solve_rows
from scheduler.solver.bound_staff import staffed
from scheduler.solver.dispatch import dispatch
from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Curve, Mode, Need, Pin, Problem, Task, Window
from scheduler.solver.resources import HoursLimit, Moves, Resource
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


def test_merged_ways_are_the_shortest() -> None:
    problem = make_farm(9, 3, 4)
    merged, carriers = merged_ways(problem)
    for before, after in zip(problem.resources, merged.resources, strict=True):
        assert before.moves is not None and after.moves is not None
        least = after.moves.minutes
        for a, b, c in permutations(range(len(least)), 3):
            assert least[a, c] <= least[a, b] + least[b, c]
        assert (least <= before.moves.minutes).all()
    for task, row in zip(merged.tasks, carriers, strict=True):
        for mode, carrier in zip(task.modes, row, strict=True):
            assert carrier == NOBODY or (carrier,) in [need.any_of for need in mode.needs]


def test_of_machines_that_are_equally_fast_the_busier_carries() -> None:
    """Without roads too: one drill does the work that two tractors share."""
    opened = ((0, 480),)
    roads = Moves(np.zeros((2, 2), np.int64), 0, None, True)
    resources = tuple(
        Resource(name, open=opened, moves=roads) for name in ("tractor 0", "tractor 1", "drill")
    )
    modes = tuple(Mode(100, (Need((r,)), Need((2,))), site=1, family=0) for r in (0, 1))
    task = Task("field", modes, 100, optional=True, drop_cost=1000, min_chunk=10)
    merged, carriers = merged_ways(Problem((task,), resources, 480, days=((0, 480),)))
    assert carriers == [[2]]
    assert [n.any_of for n in merged.tasks[0].modes[0].needs] == [(0, 1), (2,)]


def test_a_block_that_just_fills_its_window_is_one_visit() -> None:
    """7 of 14 units take 9 of 18 minutes; divided in floats a window of 9 minutes held 6.99, so the plan was none."""
    machine = Resource("machine", open=((0, 480),), moves=Moves(np.zeros((2, 2), np.int64), 0, None, True))
    mode = Mode(18, (Need((0,)),), (Window(100, 109),), site=1, family=0)
    task = Task("field", (mode,), 14, optional=True, drop_cost=1400, min_chunk=7)
    problem = Problem((task,), (machine,), 480, days=((0, 480),))
    plan = CorePlan((Block(100, 109, 0, 0, 7, (0,)),))
    found = evaluate(problem, plan)
    assert (found.violations, found.value) == ((), 700.0)
    assert costs_in_relaxation(problem, plan, 60, cuts=1, whole=True) <= 700.0 * (1 + 1e-5)


def test_whole_waits_and_pace_lift_the_bound() -> None:
    """Half a field is not done in half the time of both: waits that are whole cost more than waits in parts."""
    problem = make_farm(9, 1, 6)
    farm, _ = relaxed(problem, 120)
    parts = solve_rows(farm.rows, 60.0).bound
    farm.rows.whole = [column in farm.done_by for column in range(len(farm.rows.cost))]
    whole = solve_rows(farm.rows, 60.0).bound
    bounder = Bounder(problem, Calendar(problem), time.monotonic() + 60, Limits(0.1, 1, 0, True))
    assert bounder.simple() < parts < whole


def bound_with_cuts(problem: Problem, stretch: int) -> float:
    farm, _ = relaxed(problem, stretch)
    days, program, best = RigDays(farm), Program(farm.rows), float("-inf")
    for _ in range(6):
        solved = program.solve(60.0)
        best = max(best, solved.bound, program.cut_days(farm.own_rows, days, solved)[0])
    return best


def test_work_waits_for_the_end_of_its_block(monkeypatch: pytest.MonkeyPatch) -> None:
    """One field in one or two parts, each minute of lateness dear: the parts that cost least are known by hand."""
    moves = Moves(np.array([[0, 10], [10, 0]]), 0, None, True)
    machine = Resource("machine", open=((0, 600),), moves=moves)
    mode = Mode(240, (Need((0,)),), fixed_minutes=60, site=1, family=0)
    task = Task(
        "field", (mode,), size=240, min_chunk=80, end_curve=Curve(((0, 0),), 0.0, 10.0), drop_cost=10**6
    )
    problem = Problem((task,), (machine,), 600, days=((0, 600),))

    def value(*parts: int) -> float:
        blocks, at = [], 10
        for part in parts:
            blocks.append(Block(at, at + 60 + part, 0, 0, part, (0,)))
            at += 60 + part
        found = evaluate(problem, CorePlan(tuple(blocks)))
        assert not found.violations
        return found.value

    best = min(value(240), *(value(n, 240 - n) for n in range(1, 240)), value(80, 80, 80))
    bound = bound_with_cuts(problem, 60)
    monkeypatch.setattr("scheduler.solver.bound_pieces.LENGTHS", {3: ()})
    before = bound_with_cuts(problem, 60)
    assert 1.1 * before < bound <= best


def test_the_farthest_field_of_a_day_is_seen() -> None:
    """Fields an hour away next to each other: the way there and home bounds what a day of people and machine can hold."""
    road = np.full((4, 4), 60, np.int64)
    road[1:, 1:] = 0
    np.fill_diagonal(road, 0)
    moves = Moves(road, 0, None, True, cost_per_minute=1.0)
    hours = HoursLimit(600, 600, cost_per_minute=1.0)
    walks = replace(moves, cost_per_minute=0.0)
    people = tuple(Resource(f"driver {k}", open=((0, 600),), moves=walks, hours=hours) for k in range(2))
    machine = Resource("machine", open=((0, 600),), moves=moves)
    tasks = tuple(
        Task(
            f"field {k}",
            (Mode(240, (Need((0, 1)), Need((2,))), site=k, family=0),),
            optional=True,
            drop_cost=9000,
        )
        for k in (1, 2, 3)
    )
    problem = Problem(tasks, (*people, machine), 600, days=((0, 600),))
    farm, _ = relaxed(problem, 600)
    plan = CorePlan(tuple(Block(60 + 240 * k, 300 + 240 * k, k, 0, 1, (0, 2)) for k in range(2)))
    found = evaluate(problem, plan)
    assert (found.violations, found.value) == ((), 9000.0 + 120.0 + 600.0)
    # No machine can do more: the bound sees the ways, and proves this plan.
    assert solve_rows(farm.rows, 60.0).bound == pytest.approx(found.value, abs=0.1)


def test_one_way_home_is_paid_once() -> None:
    """A tractor without choice for one pass and one of two for another drives home once on a day with both."""
    road = np.array([[0, 1, 1], [30, 0, 1], [30, 1, 0]], np.int64)
    moves = Moves(road, 0, None, True, cost_per_minute=10.0)
    apart = np.array([[0, 1, 1], [30, 0, 60], [30, 60, 0]], np.int64)
    tractors = tuple(Resource(f"tractor {k}", open=((0, 170),), moves=moves) for k in range(2))
    slow = tuple(Resource(f"tool {k}", open=((0, 170),), moves=Moves(apart, 0, None, True)) for k in range(2))
    tasks = (
        Task(
            "only big", (Mode(60, (Need((0,)), Need((2,))), site=1, family=0),), optional=True, drop_cost=9000
        ),
        Task(
            "either",
            tuple(Mode(60, (Need((r,)), Need((3,))), site=2, family=0) for r in (0, 1)),
            optional=True,
            drop_cost=9000,
        ),
    )
    problem = Problem(tasks, (*tractors, *slow), 170, days=((0, 170),))
    plan = CorePlan((Block(1, 61, 0, 0, 1, (0, 2)), Block(62, 122, 1, 0, 1, (0, 3))))
    found = evaluate(problem, plan)
    assert not found.violations
    assert found.value == 10.0 * (1 + 1 + 30)
    assert costs_in_relaxation(problem, plan, 170, cuts=0, whole=False) <= found.value + 1e-3


def test_a_road_may_lie_in_a_rest() -> None:
    """Work and roads are more than the open minutes of the day: the machine is on the road while its driver rests."""
    road = np.array([[0, 10, 10], [10, 0, 20], [10, 20, 0]], np.int64)
    moves = Moves(road, 0, None, True)
    opened = ((0, 100), (120, 220))
    drivers = tuple(Resource(f"driver {k}", open=opened, moves=moves) for k in range(2))
    machine = Resource("machine", open=opened, moves=moves)
    tasks = tuple(
        Task(
            name,
            (Mode(90, (Need((0, 1)), Need((2,))), windows=(Window(0, 220),), site=site, family=0),),
            optional=True,
            drop_cost=1000,
        )
        for name, site in (("near", 1), ("far", 2))
    )
    problem = Problem(tasks, (*drivers, machine), 220, days=((0, 220),))
    plan = CorePlan((Block(10, 100, 0, 0, 1, (0, 2)), Block(120, 210, 1, 0, 1, (0, 2))))
    found = evaluate(problem, plan)
    assert (found.violations, found.value) == ((), 0.0)
    for stretch in (20, 220):
        assert costs_in_relaxation(problem, plan, stretch, cuts=1, whole=True) <= 1e-3


def test_two_people_may_do_one_field_side_by_side() -> None:
    """They did more in a stretch than the relaxation let one of them, so its bound was no bound."""
    people = tuple(Resource(f"person {k}", open=((0, 480),)) for k in range(2))
    task = Task(
        "scout", (Mode(200, (Need((0, 1)),)),), 100, end_curve=Curve(((0, 0),), 0.0, 1.0), optional=True,
        drop_cost=5000, min_chunk=20,
    )  # fmt: skip
    problem = Problem((task,), people, 480, days=((0, 480),))
    plan = CorePlan((Block(0, 100, 0, 0, 50, (0,)), Block(0, 100, 0, 0, 50, (1,))))
    assert not evaluate(problem, plan).violations
    for stretch in (60, 480):
        assert costs_in_relaxation(problem, plan, stretch, cuts=0, whole=False) <= 100.0
