"""A published case put to PyJobShop, a general scheduling library, where it has words for it; its plan judged by our evaluator.

Not expressed: early and late cost of a start, travel as objective, set-ups between any two jobs or at the beginning or end of a
row, "if this then one of". Install it with ``pip install .[bench]``; without it the column stays empty.
"""

from __future__ import annotations

import time
from dataclasses import replace
from typing import Any

from scheduler.solver.cases import problem_of
from scheduler.solver.evaluate import evaluate
from scheduler.solver.result import Block, CorePlan

LATE = 10_000_000


def expressible(case: dict[str, Any]) -> bool:
    """Tell whether the library has words for everything in the case."""
    if case["objective"] not in ("makespan", "weighted_tardiness", "weighted_completion") or case.get(
        "groups"
    ):
        return False
    return not any(
        r.get("initial_setup")
        or r.get("final_setup")
        or (r.get("setup") and r.get("setup_scope") == "all_pairs")
        for r in case["resources"]
    )


def solve_with_peer(case: dict[str, Any], seconds: float, workers: int) -> dict[str, Any] | None:
    """Return status, recomputed value, bound and seconds; None when the library is not there or has no words for the case."""
    try:
        from pyjobshop import Model
    except ImportError:
        return None
    if not expressible(case):
        return None
    model, resources = Model(), {}
    for r in case["resources"]:
        breaks = [(int(a), int(b)) for a, b in r.get("breaks") or ()]
        if r["type"] == "unary":
            resources[str(r["id"])] = model.add_machine(breaks=breaks)
        elif r["type"] == "cumulative":
            resources[str(r["id"])] = model.add_renewable(int(r["capacity"]), breaks=breaks)
        else:
            resources[str(r["id"])] = model.add_consumable(int(r["capacity"]))
    tasks, modes = _tasks(model, case, resources)
    for before, after, kind, least in case.get("lags") or ():
        add = {
            "es": model.add_end_before_start,
            "ss": model.add_start_before_start,
            "se": model.add_start_before_end,
            "ee": model.add_end_before_end,
        }[kind]
        add(tasks[int(before)], tasks[int(after)], delay=int(least))
    for r in case["resources"]:
        for i, row in enumerate(r.get("setup") or ()):
            for j, length in enumerate(row):
                if i != j and length:
                    model.add_setup_time(resources[str(r["id"])], tasks[i], tasks[j], int(length))
    tardy = case["objective"] != "makespan"
    model.set_objective(weight_makespan=int(not tardy), weight_total_tardiness=int(tardy))
    began = time.monotonic()
    result = model.solve(time_limit=seconds, display=False, num_workers=workers)
    return _judged(case, result, modes, time.monotonic() - began)


def _tasks(model: Any, case: dict[str, Any], resources: dict[str, Any]) -> tuple[list[Any], list[int]]:
    """Add tasks and modes; return the tasks, and for each mode its place in its own task."""
    tasks, places = [], []
    for task in case["tasks"]:
        due = 0 if case["objective"] == "weighted_completion" else task.get("due")
        late = case["objective"] != "makespan" and due is not None
        job = model.add_job(weight=int(task.get("w_tardy") or 0), due_date=int(due)) if late else None
        dates = {key: int(task[key]) for key in ("latest_start", "latest_end") if task.get(key) is not None}
        made = model.add_task(
            job=job,
            earliest_start=int(task.get("release") or 0),
            allow_breaks=bool(task.get("resumable")),
            optional=bool(task.get("optional")),
            **dates,
        )
        tasks.append(made)
        for place, mode in enumerate(task["modes"]):
            use = {r: int(q) for r, q in mode["use"].items() if int(q)}
            unary = {str(r["id"]) for r in case["resources"] if r["type"] == "unary"}
            demands = [0 if r in unary else q for r, q in use.items()]
            model.add_mode(made, [resources[r] for r in use], int(mode["dur"]), demands)
            places.append(place)
    return tasks, places


def _judged(case: dict[str, Any], result: Any, places: list[int], wall_s: float) -> dict[str, Any]:
    """Return the answer in the form of our own command, the value recomputed from the plan."""
    # Its plans may leave gaps, and so end behind the time by which some best plan is over.
    problem = replace(problem_of(case), horizon=LATE)
    answer = {
        "status": result.status.name,
        "value": None,
        "bound": result.lower_bound,
        "wall_s": round(wall_s, 2),
    }
    if result.best is None or not result.best.tasks:
        return answer
    blocks = []
    for t, row in enumerate(result.best.tasks):
        if row.present:
            m = places[row.mode]
            crew = tuple(need.any_of[0] for need in problem.tasks[t].modes[m].needs)
            blocks.append(Block(row.start, row.end, t, m, problem.tasks[t].size, crew))
    found = evaluate(problem, CorePlan(tuple(sorted(blocks))))
    answer["value"] = None if found.violations else round(found.value)
    return answer
