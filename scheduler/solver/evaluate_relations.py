"""Rules between tasks: lags, stocks, choices, and the capacity of the buckets behind the horizon."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from scheduler.solver.problem import Lag, LagKind, Problem
from scheduler.solver.resources import FAR
from scheduler.solver.result import CorePlan, Violation


@dataclass
class Times:
    """Between which times a task starts and ends; one value for what is in blocks, a range for buckets."""

    start: tuple[int, int] = (FAR, FAR)
    end: tuple[int, int] = (-FAR, -FAR)
    done: int = 0


def relation_violations(problem: Problem, plan: CorePlan) -> list[Violation]:
    """Return every broken rule between tasks."""
    times = _times(problem, plan)
    found = [v for lag in problem.lags if (v := _lag_fault(problem, lag, times)) is not None]
    return found + _choices(problem, times) + _stocks(problem, plan) + _buckets(problem, plan)


def _times(problem: Problem, plan: CorePlan) -> list[Times]:
    times = [Times() for _ in problem.tasks]
    parts = [(b.task, b.amount, (b.start, b.start), (b.end, b.end)) for b in plan.blocks]
    for item in plan.later:
        span = (problem.buckets[item.bucket].start, problem.buckets[item.bucket].end)
        parts.append((item.task, item.amount, span, span))
    for t, amount, start, end in parts:
        row = times[t]
        row.start = (min(row.start[0], start[0]), min(row.start[1], start[1]))
        row.end = (max(row.end[0], end[0]), max(row.end[1], end[1]))
        row.done += amount
    return times


def _lag_fault(problem: Problem, lag: Lag, times: list[Times]) -> Violation | None:
    before, after = times[lag.before], times[lag.after]
    if after.done == 0:
        return None
    one, two = problem.tasks[lag.before], problem.tasks[lag.after]
    pair = (lag.before, lag.after)
    if lag.loose and before.done == 0:
        return None
    if before.done < one.size and not lag.loose:
        return Violation("lag", pair, f"{two.name} is planned though {one.name} is not done before it.")
    a = before.end if lag.kind in (LagKind.END_START, LagKind.END_END) else before.start
    b = after.start if lag.kind in (LagKind.END_START, LagKind.START_START) else after.end
    if lag.least is not None and b[1] - a[0] < lag.least:
        text = f"{two.name} follows {one.name} by {b[1] - a[0]} and needs at least {lag.least} ({lag.kind})."
        return Violation("lag", pair, text)
    if lag.most is not None and b[0] - a[1] > lag.most:
        text = f"{two.name} follows {one.name} by {b[0] - a[1]} and may by at most {lag.most} ({lag.kind})."
        return Violation("lag_most", pair, text)
    return None


def _choices(problem: Problem, times: list[Times]) -> list[Violation]:
    def done(t: int) -> bool:
        return times[t].done >= problem.tasks[t].size

    found = []
    for choice in problem.choices:
        if (choice.given is None or done(choice.given)) and not any(done(t) for t in choice.one_of):
            names = ", ".join(problem.tasks[t].name for t in choice.one_of)
            given = "" if choice.given is None else f" because {problem.tasks[choice.given].name} is done"
            found.append(Violation("choice", choice.one_of, f"At least one of {names} must be done{given}."))
    return found


def _stocks(problem: Problem, plan: CorePlan) -> list[Violation]:
    """What was taken up to any time is not more than what was there."""
    taken: dict[int, list[tuple[int, float, int]]] = defaultdict(list)
    parts = [(b.task, b.mode, b.start, b.amount) for b in plan.blocks]
    parts += [(x.task, x.mode, problem.buckets[x.bucket].start, x.amount) for x in plan.later]
    for t, m, start, placed in parts:
        task = problem.tasks[t]
        for stock, whole in task.modes[m].consumes.items():
            taken[stock].append((start, whole * placed / task.size, t))
    found = []
    for s, takes in sorted(taken.items()):
        supply = problem.stocks[s]
        used, have = 0.0, float(supply.initial)
        k = 0
        deliveries = sorted(supply.deliveries)
        for time, amount, t in sorted(takes):
            while k < len(deliveries) and deliveries[k][0] <= time:
                have += deliveries[k][1]
                k += 1
            used += amount
            if used > have + 1e-6 * max(1.0, have):
                text = f"{supply.name}: {used:g} taken by {time}; {have:g} were there."
                found.append(Violation("stock", (t,), text))
    return found


def _buckets(problem: Problem, plan: CorePlan) -> list[Violation]:
    """Every bucket has room for its parts, over all ways of choosing resources, and lies in their dates."""
    found: list[Violation] = []
    demand: dict[int, dict[tuple[int, ...], int]] = defaultdict(lambda: defaultdict(int))
    for item in plan.later:
        task, bucket = problem.tasks[item.task], problem.buckets[item.bucket]
        mode = task.modes[item.mode]
        minutes = mode.minutes_for(item.amount, task.size)
        if bucket.end <= task.release or bucket.start >= min(task.latest_end, task.latest_start + 1):
            text = f"{task.name} is left to a bucket outside its dates."
            found.append(Violation("bucket", (item.task,), text))
        for need in mode.needs:
            demand[item.bucket][tuple(sorted(set(need.any_of)))] += minutes * need.amount
    for b, groups in sorted(demand.items()):
        if not _fits(dict(groups), dict(problem.buckets[b].capacity)):
            tasks = tuple(sorted({x.task for x in plan.later if x.bucket == b}))
            names = ", ".join(problem.resources[r].name for r in sorted({r for g in groups for r in g}))
            text = f"Bucket {b} is too small for what is left to it (of {names})."
            found.append(Violation("bucket", tasks, text))
    return found


def _fits(demand: dict[tuple[int, ...], int], room: dict[int, int]) -> bool:
    """Tell whether demands that may be split over their resources fit: augmenting paths, a handful of groups."""
    flow: dict[tuple[tuple[int, ...], int], int] = defaultdict(int)
    left = dict(room)
    for group, minutes in sorted(demand.items(), key=lambda x: len(x[0])):
        need = minutes
        while need > 0:
            path = _path(group, list(demand), flow, left)
            if path is None:
                return False
            amount = min([need, left[path[-1][1]]] + [flow[(g, r)] for (g, r) in _returns(path)])
            for g, r in path:
                flow[(g, r)] += amount
            for g, r in _returns(path):
                flow[(g, r)] -= amount
            left[path[-1][1]] -= amount
            need -= amount
    return True


def _returns(path: list[tuple[tuple[int, ...], int]]) -> list[tuple[tuple[int, ...], int]]:
    """Return the assignments a path takes back: each next group gives up the resource before it."""
    return [(path[i + 1][0], path[i][1]) for i in range(len(path) - 1)]


def _path(
    group: tuple[int, ...],
    groups: list[tuple[int, ...]],
    flow: dict[tuple[tuple[int, ...], int], int],
    left: dict[int, int],
) -> list[tuple[tuple[int, ...], int]] | None:
    """Return a shortest chain of (group, resource) from a group to a resource with room."""
    todo: list[list[tuple[tuple[int, ...], int]]] = [[(group, r)] for r in group]
    seen = set(group)
    for path in todo:
        r = path[-1][1]
        if left.get(r, 0) > 0:
            return path
        for other in groups:
            if flow[(other, r)] > 0:
                for nxt in other:
                    if nxt not in seen:
                        seen.add(nxt)
                        todo.append([*path, (other, nxt)])
    return None
