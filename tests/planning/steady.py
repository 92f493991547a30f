"""Plans that do not depend on how busy the machine is: effort counted in rounds, the deadline far away.

In deterministic mode the deadline only guards; here it is moved off, and the compiled search is ready before it starts.
"""

from __future__ import annotations

import time
from unittest.mock import patch

from scheduler.events.situation import Situation
from scheduler.planning import schedule
from scheduler.planning.plan import Plan
from scheduler.solver import rigday
from scheduler.solver.problem import Problem
from scheduler.solver.result import CorePlan, Limits, Result
from scheduler.windows.records import Outlook
from tests.planning import builders as make

SHORT = Limits(seconds=0.3, workers=1, seed=1, deterministic=True)


def _patient(
    problem: Problem,
    limits: Limits,
    progress: object = None,
    start: CorePlan | None = None,
    rule: CorePlan | None = None,
) -> Result:
    rigday.warm_up()
    return rigday.search(problem, time.monotonic() + 60.0, limits, start)


def steady_plan(
    situation: Situation, outlook: Outlook, previous: Plan | None = None, days: int = 5, effort: float = 0.3
) -> Plan:
    """Return the plan of a counted search."""
    limits = Limits(seconds=effort, workers=1, seed=1, deterministic=True)
    with patch.object(schedule, "solve", _patient):
        return schedule.make_plan(situation, outlook, make.horizon(days), limits, previous)


def short_plan(
    situation: Situation, outlook: Outlook, days: int = 5, previous: Plan | None = None, **more: object
) -> Plan:
    """Return a plan after a short search."""
    return schedule.make_plan(situation, outlook, make.horizon(days), SHORT, previous, **more)  # type: ignore[arg-type]
