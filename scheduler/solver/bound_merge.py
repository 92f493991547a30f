"""The same problem with fewer ways, for the bound: modes that differ only in who serves become one.

Question answered: *which one machine carries each piece of work, and who else is only counted?* A relaxation: every
plan of the true problem is a plan of this one at no higher cost. The machine that carries (the slowest on the road)
keeps its own name, so that its days can be priced exactly; all others of a mode are pooled.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

from scheduler.solver.bound_rows import shortest_roads
from scheduler.solver.problem import Mode, Need, Problem, Task

NOBODY = -1


def merged_ways(problem: Problem) -> tuple[Problem, list[list[int]]]:
    """Return the merged problem and, per task and mode, the resource that carries (`NOBODY`: none).

    Changes of set-up are dropped; what they could shorten on the road is taken into the road.
    """
    roads, load = shortest_roads(problem), load_of(problem)
    resources = tuple(
        r
        if r.moves is None
        else replace(
            r, moves=replace(r.moves, minutes=roads[id(r.moves.minutes)], change=None, on_the_way=None)
        )
        for r in problem.resources
    )
    tasks, carriers = [], []
    merged_as: list[list[int]] = []
    for task in problem.tasks:
        place = _carrying_need(problem, task, load)
        groups: dict[object, list[Mode]] = defaultdict(list)
        merged_as.append([])
        for mode in task.modes:
            takes = tuple(sorted(mode.consumes.items()))
            carrier = NOBODY if place is None else mode.needs[place].any_of[0]
            amounts = tuple(n.amount for n in mode.needs)
            key = (
                carrier,
                mode.minutes,
                mode.fixed_minutes,
                mode.windows,
                mode.cost,
                takes,
                mode.site,
                amounts,
            )
            groups[key].append(mode)
            merged_as[-1].append(list(groups).index(key))
        tasks.append(replace(task, modes=tuple(_pooled(modes) for modes in groups.values())))
        carriers.append([key[0] for key in groups])  # type: ignore[index]
    pins = tuple(replace(pin, mode=merged_as[pin.task][pin.mode]) for pin in problem.pins)
    return replace(problem, tasks=tuple(tasks), resources=resources, pins=pins), carriers


def _pooled(modes: list[Mode]) -> Mode:
    needs = tuple(
        Need(tuple(sorted({r for m in modes for r in m.needs[i].any_of})), need.amount, need.role)
        for i, need in enumerate(modes[0].needs)
    )
    return replace(modes[0], needs=needs, family=0)


def carriers_of(problem: Problem) -> list[list[int]]:
    """Return, per task and mode as they are, the resource that carries (`NOBODY`: none)."""
    load = load_of(problem)
    places = [_carrying_need(problem, task, load) for task in problem.tasks]
    return [
        [NOBODY if place is None else mode.needs[place].any_of[0] for mode in task.modes]
        for task, place in zip(problem.tasks, places, strict=True)
    ]


def load_of(problem: Problem) -> list[float]:
    """Return how many minutes of work each resource would get if all who can share it alike."""
    load = [0.0] * len(problem.resources)
    for task in problem.tasks:
        for mode in task.modes:
            for need in mode.needs:
                for r in need.any_of:
                    load[r] += mode.minutes / len(task.modes) / len(need.any_of)
    return load


def _carrying_need(problem: Problem, task: Task, load: list[float]) -> int | None:
    """Return the place of the need whose one machine goes slowest on the road and home every day."""
    best, slowest = None, (-1.0, 0.0)
    if task.resumable or any(mode.minutes == 0 for mode in task.modes):
        # A day is priced by minutes of work without a break: these have none, or a break.
        return None
    for i in range(min((len(m.needs) for m in task.modes), default=0)):
        roads = []
        for mode in task.modes:
            resource = problem.resources[mode.needs[i].any_of[0]]
            moves = resource.moves
            alone = len(mode.needs[i].any_of) == 1 and not resource.cumulative
            if not alone or moves is None or moves.depot is None or not moves.home_daily or mode.site < 0:
                break
            roads.append(float(moves.minutes.mean()))
        else:
            # Of equally slow machines those with most work each.
            rank = (
                min(roads, default=-1.0),
                max((load[mode.needs[i].any_of[0]] for mode in task.modes), default=0.0),
            )
            if rank > slowest:
                best, slowest = i, rank
    return best
