"""A real morning of the wet week by the dispatch rule: fast, checked, the same every time."""

from __future__ import annotations

from datetime import datetime
from functools import lru_cache
from pathlib import Path

from scheduler.events.situation import Situation
from scheduler.planning.plan import Plan
from scheduler.planning.schedule import make_plan
from scheduler.solver.result import Limits
from scheduler.windows.records import Outlook
from scheduler.wiring.mornings import look_ahead
from scheduler.wiring.workspace import open_farm
from shared.clock import Horizon

WET_WEEK = Path(__file__).resolve().parents[2] / "scenarios" / "wet-week"


@lru_cache(maxsize=1)
def morning() -> tuple[Plan, Situation, Outlook]:
    """Return plan, situation and outlook of Monday 10 May 2027, 5 a.m."""
    workspace = open_farm(WET_WEEK, quiet_log=True)
    now = datetime(2027, 5, 10, 5, tzinfo=workspace.zone)
    situation, outlook = look_ahead(workspace, now)
    horizon = Horizon(outlook.first_day, outlook.days, outlook.time_zone)
    plan = make_plan(situation, outlook, horizon, Limits(1.0, 1, 1), use_engine=False)
    return plan, situation, outlook
