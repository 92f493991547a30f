"""The road for problems with `days`."""

from __future__ import annotations

import time

from scheduler.solver.dispatch import dispatch
from scheduler.solver.problem import Problem
from scheduler.solver.result import CorePlan, Limits, Progress, ProgressSink, Result, Status


def search(
    problem: Problem,
    deadline: float,
    limits: Limits,
    start: CorePlan | None = None,
    progress: ProgressSink | None = None,
) -> Result:
    """Return the best plan found before `deadline` (a value of ``time.monotonic``)."""
    from scheduler.solver.evaluate import evaluate

    began = time.monotonic()
    plan = dispatch(problem)
    value = evaluate(problem, plan).value
    line = Progress(time.monotonic() - began, "dispatch", value, float("-inf"), deadline - time.monotonic())
    if progress:
        progress(line)
    return Result(Status.FEASIBLE, plan, value, float("-inf"), value, (line,), time.monotonic() - began)
