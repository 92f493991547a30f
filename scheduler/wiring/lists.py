"""Everybody's list of a day, out of the plan that people work by on that day."""

from __future__ import annotations

from datetime import date, datetime

from scheduler.crew.day_list import DayList, day_lists
from scheduler.planning.still_there import gone_text
from scheduler.wiring.issued import day_shown, list_before
from scheduler.wiring.mornings import look_ahead
from scheduler.wiring.news import situation_now
from scheduler.wiring.plans_known import latest_plan
from scheduler.wiring.workspace import Workspace


def lists_of(workspace: Workspace, wanted: date | None, now: datetime) -> tuple[DayList, ...]:
    """Return the list of every person, those with work first.

    Parameters
    ----------
    wanted : date or None
        Default: today where the plan reaches it, else the plan's first day.

    Raises
    ------
    FitgroundError
        No plan was issued by that day.
    """
    today = now.astimezone(workspace.zone).date()
    plan, day = day_shown(workspace, wanted, today)
    # Farms are also played in years that are not this one: then the weather is that of the plan's morning.
    reached = now >= plan.made_at and 0 <= (today - plan.first_day).days < plan.days
    situation, outlook = look_ahead(workspace, now if reached else plan.made_at)
    newest = latest_plan(workspace)
    anew = newest is not None and plan.id == newest.id and day == plan.first_day
    before = list_before(workspace, plan) if anew else None
    return day_lists(plan, situation, outlook, day, before)


def not_shown(workspace: Workspace, now: datetime) -> str:
    """Return a sentence about what the newest plan counts on and the farm no longer has; empty where that is nothing."""
    plan = latest_plan(workspace)
    return "" if plan is None else gone_text(plan, situation_now(workspace, now)[1].farm, now)
