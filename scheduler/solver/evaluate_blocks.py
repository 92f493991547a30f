"""Rules that concern one block or one task alone: length, windows, calendars, dates, chunks, completeness, pins."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict

from scheduler.solver.calendar import Calendar, resumed_end
from scheduler.solver.problem import Pin, Problem, Task
from scheduler.solver.resources import FAR, Interval
from scheduler.solver.result import Block, CorePlan, Violation


def standing(problem: Problem, blocks: tuple[Block, ...]) -> set[Block]:
    """Return the blocks that are pins."""
    pins: dict[tuple[int, int, int, int, int], list[Pin]] = defaultdict(list)
    for pin in problem.pins:
        pins[(pin.task, pin.mode, pin.start, pin.end, pin.amount)].append(pin)
    out = set()
    for block in blocks:
        same = pins.get((block.task, block.mode, block.start, block.end, block.amount), ())
        if any(not pin.resources or pin.resources == block.resources for pin in same):
            out.add(block)
    return out


def inside(start: int, end: int, spans: Calendar) -> bool:
    """Tell whether a stretch lies in one interval."""
    if spans is None:
        return True
    k = bisect_right(spans, (start, FAR)) - 1
    if start == end and k > 0 and spans[k - 1][1] == start:
        return True
    return k >= 0 and spans[k][0] <= start and end <= spans[k][1]


def day_of(days: tuple[Interval, ...], start: int, end: int) -> int:
    """Return the day that holds the whole stretch, or -1."""
    k = bisect_right(days, (start, FAR)) - 1
    return k if k >= 0 and days[k][0] <= start and end <= days[k][1] else -1


def block_violations(problem: Problem, plan: CorePlan) -> list[Violation]:
    """Return what is wrong with single blocks."""
    found: list[Violation] = []
    pinned = standing(problem, plan.blocks)
    for block in plan.blocks:
        task = problem.tasks[block.task]

        def say(rule: str, text: str, block: Block = block, task: Task = task) -> None:
            where = f"{task.name} from {block.start} to {block.end}"
            found.append(Violation(rule, (block.task,), f"{where} {text}."))

        _check_resources(problem, block, say)
        if block.amount <= 0:
            say("amount", f"carries {block.amount} of its work")
        if block.start < 0 or (block.end > problem.horizon and block not in pinned):
            say("horizon", f"lies outside the horizon of {problem.horizon}")
        if block not in pinned:
            _check_times(problem, block, say)
    found += _pin_violations(problem, plan)
    return found


def _check_resources(problem: Problem, block: Block, say) -> None:  # type: ignore[no-untyped-def]
    mode = problem.tasks[block.task].modes[block.mode]
    for need, r in zip(mode.needs, block.resources, strict=True):
        if r not in need.any_of:
            say("resource", f"is given {problem.resources[r].name}, which its mode does not allow")
    if len(set(block.resources)) < len(block.resources):
        say("resource", "uses one resource twice")


def _check_times(problem: Problem, block: Block, say) -> None:  # type: ignore[no-untyped-def]
    task = problem.tasks[block.task]
    mode = task.modes[block.mode]
    calendars = [problem.resources[r].open for r in block.resources]
    minutes = mode.minutes_for(block.amount, task.size)
    should_end = resumed_end(task, minutes, block.start, calendars)
    if should_end is None:
        say("calendar", "starts while closed, or cannot be finished before the calendar ends")
    elif should_end != block.end:
        say("length", f"should end at {should_end}")
    if block.start < task.release:
        say("release", f"starts before its release at {task.release}")
    if block.start > task.latest_start:
        say("latest_start", f"starts after its latest start at {task.latest_start}")
    if block.end > task.latest_end:
        say("latest_end", f"ends after its latest end at {task.latest_end}")
    windows = None if mode.windows is None else [(w.start, w.end) for w in mode.windows]
    if windows is not None and not any(a <= block.start and block.end <= b for a, b in windows):
        say("window", "lies in no window of its mode")
    if not task.resumable:
        for r, spans in zip(block.resources, calendars, strict=True):
            if not inside(block.start, block.end, spans):
                say("calendar", f"lies outside the hours of {problem.resources[r].name}")
    if problem.days and day_of(problem.days, block.start, block.end) < 0:
        say("day", "lies in no single day")


def _pin_violations(problem: Problem, plan: CorePlan) -> list[Violation]:
    """Every pin has its block."""
    have: dict[tuple[int, int, int, int, int], list[tuple[int, ...]]] = defaultdict(list)
    for b in plan.blocks:
        have[(b.task, b.mode, b.start, b.end, b.amount)].append(b.resources)
    found = []
    for pin in problem.pins:
        same = have.get((pin.task, pin.mode, pin.start, pin.end, pin.amount), [])
        if not any(not pin.resources or res == pin.resources for res in same):
            name = problem.tasks[pin.task].name
            text = f"{name} is pinned from {pin.start} to {pin.end} and is not there."
            found.append(Violation("pin", (pin.task,), text))
    return found


def placed_violations(problem: Problem, plan: CorePlan) -> list[Violation]:
    """Return tasks placed too little, too much, or in the wrong pieces."""
    found: list[Violation] = []
    pinned = standing(problem, plan.blocks)
    blocks: dict[int, list[Block]] = defaultdict(list)
    later: dict[int, int] = defaultdict(int)
    for block in plan.blocks:
        blocks[block.task].append(block)
    for item in plan.later:
        later[item.task] += item.amount
        task = problem.tasks[item.task]
        if not task.later or item.amount <= 0:
            found.append(Violation("later", (item.task,), f"{task.name} may not be left to a bucket."))
    for t, task in enumerate(problem.tasks):
        done = sum(b.amount for b in blocks[t]) + later[t]
        if done > task.size:
            found.append(Violation("amount", (t,), f"{task.name}: {done} placed of {task.size}."))
        if done < task.size and not task.optional:
            text = f"{task.name} must be done: {done} placed of {task.size}."
            found.append(Violation("undone", (t,), text))
        free = [b for b in blocks[t] if b not in pinned]
        if task.min_chunk is None:
            whole = len(blocks[t]) + sum(1 for x in plan.later if x.task == t) if done else 0
            if free and (whole > 1 or done < task.size) and len(free) == len(blocks[t]):
                found.append(Violation("split", (t,), f"{task.name} may not be split."))
        elif sum(b.amount < task.min_chunk for b in free) > 1:
            text = f"{task.name} has more than one piece below {task.min_chunk}."
            found.append(Violation("chunk", (t,), text))
    return found
