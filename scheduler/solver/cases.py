"""Reading a case: one published scheduling instance in a neutral JSON, as a problem of the core.

Question answered: *what problem does this file pose?* Keys of a case
- resources: id, type (unary / cumulative / consumable), capacity, breaks ``[[from, to], ...]``, setup (task by
  task, minutes), initial_setup, final_setup (by task), setup_scope (adjacent / all_pairs), horizon (back by then)
- tasks: id, release, latest_start, latest_end, due, target_start, w_early, w_tardy, optional, resumable,
  modes ``[{dur, use: {resource: amount}}]``
- lags ``[i, j, kind, minimum]`` (es / ss / se / ee; a maximum is a negative one the other way)
- groups ``{if: task or null, at_least_one_of: [tasks]}``
- objective: makespan, weighted_tardiness, weighted_completion, early_tardy_start or travel
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from scheduler.solver.calendar import closed_to_open
from scheduler.solver.problem import Choice, Curve, Lag, LagKind, Mode, Need, Problem, Task
from scheduler.solver.resources import FAR, Moves, Resource, Stock
from scheduler.solver.validate import ProblemError, validate

OBJECTIVES = ("makespan", "weighted_tardiness", "weighted_completion", "early_tardy_start", "travel")
TYPES = ("unary", "cumulative", "consumable")
Json = Mapping[str, Any]


def read_case(path: Path) -> Problem:
    """Return the problem in a file; a `ProblemError` names the file, the key, the value and what is allowed."""
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "is not text"
        raise ProblemError(f"{path}: cannot be read ({reason}).") from error
    try:
        case = json.loads(text)
    except (json.JSONDecodeError, RecursionError) as error:
        raise ProblemError(f"{path}: is not JSON ({error}).") from error
    try:
        return problem_of(case)
    except ProblemError as error:
        raise ProblemError(f"{path}: {error}") from error


def problem_of(case: Any) -> Problem:
    """Return the problem of a case that was read already."""
    if not isinstance(case, dict):
        raise ProblemError("a case is an object with resources, tasks and objective.")
    objective = case.get("objective")
    if objective not in OBJECTIVES:
        raise ProblemError(f"objective: {objective!r} is not known; allowed: {', '.join(OBJECTIVES)}.")
    try:
        problem = _build(case, str(objective))
    except (KeyError, TypeError, ValueError, IndexError, AttributeError, OverflowError) as error:
        what = f"the key {error} is missing" if isinstance(error, KeyError) else str(error)
        raise ProblemError(f"the case is not in the expected form: {what}.") from error
    validate(problem)
    return problem


def _build(case: Json, objective: str) -> Problem:
    stocks = [r for r in case["resources"] if _type(r) == "consumable"]
    works = [r for r in case["resources"] if _type(r) != "consumable"]
    stock_of = {str(r["id"]): s for s, r in enumerate(stocks)}
    work_of = {str(r["id"]): w for w, r in enumerate(works)}
    tasks = tuple(_task(task, objective, work_of, stock_of) for task in case["tasks"])
    if [int(task["id"]) for task in case["tasks"]] != list(range(len(tasks))):
        raise ProblemError("tasks: ids are not 0, 1, 2, ... in order.")
    lags = tuple(_lag(i, row, tasks) for i, row in enumerate(case.get("lags") or ()))
    horizon = _horizon(case, tasks, lags, works)
    return Problem(
        tasks=tasks,
        resources=tuple(_resource(r, len(tasks), horizon, objective) for r in works),
        horizon=horizon,
        lags=lags,
        stocks=tuple(Stock(f"stock {r['id']}", int(r["capacity"])) for r in stocks),
        choices=tuple(
            Choice(None if g.get("if") is None else int(g["if"]), tuple(int(t) for t in g["at_least_one_of"]))
            for g in case.get("groups") or ()
        ),
        makespan_weight=1 if objective == "makespan" else 0,
    )


def _type(resource: Json) -> str:
    kind = resource["type"]
    if kind not in TYPES:
        raise ProblemError(
            f"resources[{resource.get('id')}].type: {kind!r} is not known; allowed: {', '.join(TYPES)}."
        )
    return str(kind)


def _far(value: Any) -> int:
    return FAR if value is None else int(value)


def _task(task: Json, objective: str, work_of: Mapping[str, int], stock_of: Mapping[str, int]) -> Task:
    early, late = int(task.get("w_early") or 0), int(task.get("w_tardy") or 0)
    start_curve = end_curve = None
    if objective == "weighted_tardiness" and task.get("due") is not None:
        end_curve = Curve(((int(task["due"]), 0),), 0.0, float(late))
    elif objective == "weighted_completion":
        end_curve = Curve(((0, 0),), 0.0, float(late))
    elif objective == "early_tardy_start" and task.get("target_start") is not None:
        start_curve = Curve(((int(task["target_start"]), 0),), -float(early), float(late))
    modes = []
    for mode in task["modes"]:
        use = {str(r): int(q) for r, q in mode["use"].items() if int(q)}
        unknown = [r for r in use if r not in work_of and r not in stock_of]
        if unknown:
            raise ProblemError(f"tasks[{task['id']}]: there is no resource {unknown[0]}.")
        needs = tuple(Need((work_of[r],), q) for r, q in use.items() if r in work_of)
        consumes = {stock_of[r]: q for r, q in use.items() if r in stock_of}
        modes.append(Mode(int(mode["dur"]), needs, site=int(task["id"]), consumes=consumes))
    return Task(
        f"task {task['id']}",
        tuple(modes),
        release=int(task.get("release") or 0),
        latest_start=_far(task.get("latest_start")),
        latest_end=_far(task.get("latest_end")),
        start_curve=start_curve,
        end_curve=end_curve,
        optional=bool(task.get("optional")),
        resumable=bool(task.get("resumable")),
    )


def _lag(i: int, row: Any, tasks: tuple[Task, ...]) -> Lag:
    before, after, kind, least = row
    if kind not in tuple(LagKind):
        raise ProblemError(f"lags[{i}]: kind {kind!r} is not known; allowed: {', '.join(LagKind)}.")
    before, after = int(before), int(after)
    if not (0 <= before < len(tasks) and 0 <= after < len(tasks)):
        raise ProblemError(f"lags[{i}]: names a task that is not there; there are {len(tasks)}.")
    loose = tasks[before].optional or tasks[after].optional
    return Lag(before, after, LagKind(kind), int(least), loose=loose)


def _resource(r: Json, tasks: int, horizon: int, objective: str) -> Resource:
    setup, initial, final = (r.get(key) for key in ("setup", "initial_setup", "final_setup"))
    moves = None
    if setup or initial or final:
        moves = Moves(
            np.array(setup, np.int64) if setup else np.zeros((tasks, tasks), np.int64),
            initial=np.array(initial, np.int64) if initial else None,
            final=np.array(final, np.int64) if final else None,
            final_latest=_far(r.get("horizon")),
            all_pairs=r.get("setup_scope") == "all_pairs",
            cost_per_minute=1.0 if objective == "travel" else 0.0,
        )
    breaks = [(int(a), int(b)) for a, b in r.get("breaks") or ()]
    return Resource(
        f"resource {r['id']}",
        capacity=int(r["capacity"]),
        cumulative=_type(r) == "cumulative",
        open=closed_to_open(breaks, horizon) if breaks else None,
        moves=moves,
    )


def _horizon(case: Json, tasks: tuple[Task, ...], lags: tuple[Lag, ...], works: list[Json]) -> int:
    """Return a time by which some best plan is over: behind the last closure, release and target, all work, every
    least lag and every set-up one after the other."""
    lasts = [max((m.minutes for m in task.modes), default=0) for task in tasks]
    reach = list(lasts)
    for lag in lags:
        from_end = lag.kind in (LagKind.END_START, LagKind.END_END)
        least = (lag.least or 0) + (lasts[lag.before] if from_end else 0)
        reach[lag.before] = max(reach[lag.before], least)
    setups = 0
    for r in works:
        rows = [row for key in ("initial_setup", "final_setup") if (row := r.get(key))]
        setups += sum(max(row) for row in rows)
        setups += sum(max(row) for row in r.get("setup") or () if row)
    breaks = max((int(b) for r in works for _, b in r.get("breaks") or ()), default=0)
    dates = [task.release for task in tasks]
    dates += [p[0] for task in tasks if task.start_curve for p in task.start_curve.points]
    most = max(dates, default=0) + breaks + sum(reach) + setups
    last = [min(t.latest_end, t.latest_start + max((m.minutes for m in t.modes), default=0)) for t in tasks]
    return max(1, min(most, max(last, default=most)))
