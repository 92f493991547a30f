"""What a plan costs, and every rule that it breaks: the judge of all searches, with no solver code in it.

Question answered: *given the problem and a plan, what does it cost, part by part, and which rules are broken?*
The search code has its own books; this one shares nothing with them, so that a slip there shows here.

How the open points of `problem` are read
- A block equal to a pin is *standing*: it is not held against windows, calendars, days, dates, chunks or its
  own length (nothing can be done about it); overlaps, lags and stocks hold for it too.
- With `Problem.days` and ``Moves.home_daily`` the night is free of gaps: the way home and out counts instead.
  Without, the gap holds from each block to the next one, over nights too.
- A bucket's part starts, for cost and stock, when the bucket does and ends when it does; a lag holds for it as
  long as some order inside the bucket could keep it. A resource that a bucket does not name has no time there.
- Hours of a person run from leaving its own depot (when its moves are `home_daily`) to coming back, idle time
  included.
- Two blocks that start together at the same place in a list keep the order of the plan.
"""

from __future__ import annotations

from collections import defaultdict

from scheduler.solver.evaluate_blocks import block_violations, placed_violations
from scheduler.solver.evaluate_relations import relation_violations
from scheduler.solver.evaluate_resources import Sequence, handovers, resource_violations, sequences
from scheduler.solver.problem import Problem
from scheduler.solver.result import Block, CorePlan, Evaluation, Violation

PARTS = ("start", "end", "drop", "mode", "move", "hours", "risk", "handover", "change", "makespan")


def evaluate(problem: Problem, plan: CorePlan) -> Evaluation:
    """Return the cost of a plan by part, and every broken rule.

    Parameters
    ----------
    problem : Problem
    plan : CorePlan
        Any plan, sound or not; blocks that name unknown tasks, modes or resources are reported and left out.

    Returns
    -------
    Evaluation
        Parts: start, end, drop, mode, move, hours, risk, handover, change, makespan (in the problem's cost unit).
    """
    known, found = _known_blocks(problem, plan)
    plan = CorePlan(tuple(known), tuple(item for item in plan.later if _later_known(problem, item)))
    rows = sequences(problem, plan.blocks)
    found += block_violations(problem, plan)
    found += placed_violations(problem, plan)
    found += resource_violations(problem, plan, rows)
    found += relation_violations(problem, plan)
    parts = {name: float(cost) for name, cost in _costs(problem, plan, rows).items()}
    return Evaluation(parts, tuple(found))


def _later_known(problem: Problem, item: object) -> bool:
    task, mode, bucket = (getattr(item, name) for name in ("task", "mode", "bucket"))
    if not 0 <= task < len(problem.tasks) or not 0 <= bucket < len(problem.buckets):
        return False
    return 0 <= mode < len(problem.tasks[task].modes)


def _known_blocks(problem: Problem, plan: CorePlan) -> tuple[list[Block], list[Violation]]:
    """Sort out blocks and parts that speak of things the problem does not have."""
    good: list[Block] = []
    found: list[Violation] = []
    for block in plan.blocks:
        fault = _fault_of(problem, block)
        if fault:
            found.append(Violation("unknown", (block.task,), fault))
        else:
            good.append(block)
    for item in plan.later:
        if not _later_known(problem, item):
            found.append(
                Violation("unknown", (item.task,), f"A part for later names no task, mode or bucket: {item}.")
            )
    return good, found


def _fault_of(problem: Problem, block: Block) -> str:
    if not 0 <= block.task < len(problem.tasks):
        return f"A block names task {block.task}; there are {len(problem.tasks)}."
    task = problem.tasks[block.task]
    if not 0 <= block.mode < len(task.modes):
        return f"A block of {task.name} names mode {block.mode}; there are {len(task.modes)}."
    needs = task.modes[block.mode].needs
    if len(needs) != len(block.resources):
        return f"A block of {task.name} names {len(block.resources)} resources; its mode needs {len(needs)}."
    if any(not 0 <= r < len(problem.resources) for r in block.resources):
        return f"A block of {task.name} names a resource that does not exist."
    return ""


def _costs(problem: Problem, plan: CorePlan, rows: list[Sequence]) -> dict[str, float]:
    """Return the cost by part."""
    parts = dict.fromkeys(PARTS, 0.0)
    done: dict[int, int] = defaultdict(int)
    spans = [(b.task, b.mode, b.start, b.end, b.amount) for b in plan.blocks]
    for item in plan.later:
        bucket = problem.buckets[item.bucket]
        spans.append((item.task, item.mode, bucket.start, bucket.end, item.amount))
    for t, m, start, end, amount in spans:
        task = problem.tasks[t]
        share = amount / task.size
        done[t] += amount
        parts["start"] += share * task.start_curve.at(start) if task.start_curve else 0.0
        parts["end"] += share * task.end_curve.at(end) if task.end_curve else 0.0
        parts["mode"] += share * task.modes[m].cost
    for t, task in enumerate(problem.tasks):
        left = max(0, task.size - done[t])
        if left and task.optional:
            parts["drop"] += task.drop_cost * left / task.size
    parts["risk"] = sum(_risk(problem, block) for block in plan.blocks)
    parts["move"] = sum(row.moving * row.rate for row in rows)
    parts["hours"] = sum(_pay(problem, row) for row in rows)
    parts["handover"] = sum(
        problem.resources[row.resource].handover * handovers(problem, row.resource, members)
        for row in rows
        if problem.resources[row.resource].handover and problem.days
        for members in row.by_day.values()
    )
    parts["change"] = _change(problem, plan)
    parts["makespan"] = float(problem.makespan_weight * max((b.end for b in plan.blocks), default=0))
    return parts


def _risk(problem: Problem, block: Block) -> float:
    windows = problem.tasks[block.task].modes[block.mode].windows
    if not windows:
        return 0.0
    rates = [w.risk_per_minute for w in windows if w.start <= block.start and block.end <= w.end]
    return min(rates, default=0.0) * (block.end - block.start)


def _pay(problem: Problem, row: Sequence) -> float:
    hours = problem.resources[row.resource].hours
    if hours is None:
        return 0.0
    cost = 0.0
    for span in row.away.values():
        over = max(0, span - hours.normal_per_day)
        cost += hours.cost_per_minute * (span - over) + hours.overtime_per_minute * over
    return cost


def _change(problem: Problem, plan: CorePlan) -> float:
    """Return the price of the tasks none of whose blocks keeps day and resources of the plan before."""
    if not problem.before.price:
        return 0.0

    def day(start: int) -> int:
        return next((d for d, (a, b) in enumerate(problem.days) if a <= start < b), -1 - start)

    known = {(p.task, day(p.start), frozenset(p.resources)) for p in problem.before.blocks}
    tasks = {p.task for p in problem.before.blocks}
    kept = set()
    for block in plan.blocks:
        if problem.before.price.get(block.task) and block.task in tasks:
            key = (block.task, day(block.start))
            if (*key, frozenset(block.resources)) in known or (*key, frozenset()) in known:
                kept.add(block.task)
    return float(sum(price for t, price in problem.before.price.items() if t in tasks and t not in kept))
