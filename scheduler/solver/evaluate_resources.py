"""Rules of resources over time: order and gaps, ways from and to the depot, hours of people, shared capacity."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from itertools import pairwise

from scheduler.solver.evaluate_blocks import day_of, standing
from scheduler.solver.problem import Problem
from scheduler.solver.resources import Moves
from scheduler.solver.result import Block, CorePlan, Violation


@dataclass
class Sequence:
    """The blocks of one unary resource in order; minutes away from home by day; minutes spent moving."""

    resource: int
    blocks: list[Block]
    rate: float = 0.0
    moving: int = 0
    away: dict[int, int] = field(default_factory=dict)
    by_day: dict[int, list[Block]] = field(default_factory=dict)


def legs(moves: Moves | None, site: int) -> tuple[int, int]:
    """Return the minutes from the depot to a site and back, where days begin and end at the depot."""
    if moves is None or not moves.home_daily or moves.depot is None or site < 0:
        return 0, 0
    return int(moves.minutes[moves.depot, site]), int(moves.minutes[site, moves.depot])


def gap_between(problem: Problem, moves: Moves, a: Block, b: Block) -> int:
    """Return the minutes that must lie between two blocks."""
    one, two = problem.tasks[a.task].modes[a.mode], problem.tasks[b.task].modes[b.mode]
    return moves.gap(one.site, one.family, two.site, two.family)


def sequences(problem: Problem, blocks: tuple[Block, ...]) -> list[Sequence]:
    """Return what each unary resource does, in order."""
    rows: dict[int, list[Block]] = defaultdict(list)
    for block in sorted(blocks, key=lambda b: (b.start, b.end)):
        for r in block.resources:
            if not problem.resources[r].cumulative:
                rows[r].append(block)
    return [_sequence(problem, r, row) for r, row in sorted(rows.items())]


def _sequence(problem: Problem, r: int, blocks: list[Block]) -> Sequence:
    moves = problem.resources[r].moves
    row = Sequence(r, blocks, moves.cost_per_minute if moves else 0.0)
    site = [problem.tasks[b.task].modes[b.mode].site for b in blocks]
    by_day: dict[int, list[int]] = defaultdict(list)
    for i, block in enumerate(blocks):
        by_day[day_of(problem.days, block.start, block.start)].append(i)
    nightly = bool(problem.days) and moves is not None and moves.home_daily
    for day, members in by_day.items():
        out, _ = legs(moves, site[members[0]])
        last = max(members, key=lambda i: blocks[i].end)
        _, back = legs(moves, site[last])
        row.by_day[day] = [blocks[i] for i in members]
        row.away[day] = blocks[last].end + back - (blocks[members[0]].start - out)
        if nightly:
            row.moving += out + back
            if moves is not None:
                row.moving += sum(gap_between(problem, moves, a, b) for a, b in pairwise(row.by_day[day]))
    if moves is not None:
        if not nightly:
            row.moving += sum(gap_between(problem, moves, a, b) for a, b in pairwise(blocks))
        if moves.initial is not None and site[0] >= 0:
            row.moving += int(moves.initial[site[0]])
        if moves.final is not None and site[-1] >= 0:
            row.moving += int(moves.final[site[-1]])
    return row


def partner(problem: Problem, r: int, block: Block) -> int | None:
    """Return what a resource leads in a block, or what leads it; None where it does neither."""
    mode = problem.tasks[block.task].modes[block.mode]
    if mode.lead < 0 or mode.led < 0:
        return None
    lead, led = block.resources[mode.lead], block.resources[mode.led]
    return led if r == lead else lead if r == led else None


def handovers(problem: Problem, r: int, blocks: list[Block]) -> int:
    """Return how often the partner of a resource changes from one block of a day to the next."""
    partners = [partner(problem, r, block) for block in blocks]
    return sum(a is not None and b is not None and a != b for a, b in pairwise(partners))


def resource_violations(problem: Problem, plan: CorePlan, rows: list[Sequence]) -> list[Violation]:
    """Return every broken rule of a resource."""
    pinned = standing(problem, plan.blocks)
    found: list[Violation] = []
    for row in rows:
        found += _overlaps(problem, row)
        found += _first_and_last(problem, row, pinned)
        found += _hours(problem, row, pinned)
    return found + _capacity(problem, plan)


def _say(problem: Problem, rule: str, r: int, a: Block, b: Block, text: str) -> Violation:
    one, two = problem.tasks[a.task].name, problem.tasks[b.task].name
    return Violation(rule, (a.task, b.task), f"{problem.resources[r].name}: {one} then {two} {text}.")


def _overlaps(problem: Problem, row: Sequence) -> list[Violation]:
    """Neighbours leave their gap (by night too, unless the resource goes home); overlaps are seen at any distance."""
    found: list[Violation] = []
    moves = problem.resources[row.resource].moves
    nightly = bool(problem.days) and moves is not None and moves.home_daily
    day = {b: d for d, members in row.by_day.items() for b in members}
    reach = int(max(moves.minutes.max(), 0)) if moves is not None and moves.all_pairs else 0
    if moves is not None and moves.all_pairs and moves.change is not None:
        reach += int(moves.change.max())
    longest: Block | None = None
    for i, b in enumerate(row.blocks):
        if longest is not None and b.start < longest.end:
            found.append(_say(problem, "overlap", row.resource, longest, b, f"overlap at {b.start}"))
        elif i and moves is not None:
            a = row.blocks[i - 1]
            if not (nightly and day[a] != day[b]):
                found += _gap_fault(problem, moves, row.resource, a, b)
            j = i - 2
            while moves.all_pairs and j >= 0 and b.start - row.blocks[j].start < reach + _length(row):
                found += _gap_fault(problem, moves, row.resource, row.blocks[j], b)
                j -= 1
        if longest is None or b.end > longest.end:
            longest = b
    return found


def _length(row: Sequence) -> int:
    return max(b.end - b.start for b in row.blocks)


def _gap_fault(problem: Problem, moves: Moves, r: int, a: Block, b: Block) -> list[Violation]:
    need, have = gap_between(problem, moves, a, b), b.start - a.end
    if have >= need:
        return []
    return [_say(problem, "gap", r, a, b, f"are {have} apart and need {need}")]


def _first_and_last(problem: Problem, row: Sequence, pinned: set[Block]) -> list[Violation]:
    """The way from and to the depot, every day or once."""
    res = problem.resources[row.resource]
    moves = res.moves
    if moves is None:
        return []
    found: list[Violation] = []

    def site(block: Block) -> int:
        return problem.tasks[block.task].modes[block.mode].site

    def say(block: Block, text: str) -> None:
        name = problem.tasks[block.task].name
        found.append(Violation("depot", (block.task,), f"{res.name}: {name} {text}."))

    if problem.days and moves.home_daily:
        for day, members in row.by_day.items():
            if day < 0:
                continue
            opening, closing = _hours_of_day(problem, row.resource, day)
            first, last = members[0], max(members, key=lambda b: b.end)
            if first not in pinned and first.start - legs(moves, site(first))[0] < opening:
                say(first, f"at {first.start} cannot be reached from the depot after {opening}")
            if last not in pinned and last.end + legs(moves, site(last))[1] > closing:
                say(last, f"ends at {last.end}, too late to be home by {closing}")
    if not row.blocks:
        return found
    first, last = row.blocks[0], row.blocks[-1]
    ready = int(moves.initial[site(first)]) if moves.initial is not None and site(first) >= 0 else 0
    if first.start < ready and first not in pinned:
        say(first, f"starts at {first.start}, before the first set-up of {ready}")
    back = int(moves.final[site(last)]) if moves.final is not None and site(last) >= 0 else 0
    if last.end + back > moves.final_latest:
        say(last, f"ends at {last.end}, too late to be back by {moves.final_latest}")
    return found


def _hours_of_day(problem: Problem, r: int, day: int) -> tuple[int, int]:
    a, b = problem.days[day]
    spans = problem.resources[r].open
    if spans is None:
        return a, b
    inside = [(max(a, x), min(b, y)) for x, y in spans if min(b, y) > max(a, x)]
    return (inside[0][0], inside[-1][1]) if inside else (b, a)


def _hours(problem: Problem, row: Sequence, pinned: set[Block]) -> list[Violation]:
    """Hours of a person by day and week; a day of pins alone is not held against the plan."""
    res = problem.resources[row.resource]
    hours = res.hours
    if hours is None or not problem.days:
        return []
    found: list[Violation] = []
    free = {d: [b for b in members if b not in pinned] for d, members in row.by_day.items()}
    for day, span in row.away.items():
        if span > hours.most_per_day and free[day]:
            tasks = tuple(b.task for b in row.by_day[day])
            text = f"{res.name} is away {span} minutes on day {day}; {hours.most_per_day} are allowed."
            found.append(Violation("day_hours", tasks, text))
    for w, week in enumerate(hours.weeks):
        used = hours.used_before[w] if w < len(hours.used_before) else 0
        used += sum(row.away.get(d, 0) for d in week)
        if used > hours.most_per_week and any(free.get(d) for d in week):
            tasks = tuple(b.task for d in week for b in row.by_day.get(d, ()))
            text = f"{res.name} works {used} minutes in week {w}; {hours.most_per_week} are allowed."
            found.append(Violation("week_hours", tasks, text))
    return found


def _capacity(problem: Problem, plan: CorePlan) -> list[Violation]:
    """Shared capacity: the sum over what runs at once."""
    steps: dict[int, list[tuple[int, int, int]]] = defaultdict(list)
    for block in plan.blocks:
        if block.end <= block.start:
            continue
        for need, r in zip(problem.tasks[block.task].modes[block.mode].needs, block.resources, strict=True):
            if problem.resources[r].cumulative:
                steps[r].append((block.start, need.amount, block.task))
                steps[r].append((block.end, -need.amount, block.task))
            elif need.amount > 1:
                steps[r].append((block.start, need.amount, block.task))
    found: list[Violation] = []
    for r, moves in sorted(steps.items()):
        level, res = 0, problem.resources[r]
        for time, amount, task in sorted(moves, key=lambda s: (s[0], s[1])):
            level = level + amount if res.cumulative else amount
            if amount > 0 and level > res.capacity:
                text = f"{res.name}: {level} in use at {time}; there are {res.capacity}."
                found.append(Violation("capacity", (task,), text))
    return found
