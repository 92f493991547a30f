"""Plans that people work by, read back from the shelf: the newest, what stood on a day, and what was to be worked.

Question answered: *what did people know they were to do?*
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta

from scheduler.events.planned import PlannedWork
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.wiring.workspace import Workspace
from shared.clock import local_midnight


def latest_plan(workspace: Workspace) -> Plan | None:
    """Return the plan issued last, or None."""
    text = workspace.shelf.latest()
    return None if text is None else Plan.model_validate_json(text)


def plan_of(workspace: Workspace, day: date, newest: Plan) -> Plan | None:
    """Return the plan that people worked by on a day: the newest, or for a day behind what stood in the newest of each hour."""
    if day >= newest.first_day:
        return newest
    found, blocks = _stood(workspace, day)
    return None if found is None else found.model_copy(update={"blocks": tuple(blocks)})


def _stood(workspace: Workspace, day: date) -> tuple[Plan | None, list[PlanBlock]]:
    """Return the newest plan that was made by the end of a day, and the blocks that stood in the newest plan of each of its hours."""
    until, midnight = (local_midnight(one, workspace.zone) for one in (day + timedelta(days=1), day))
    found: Plan | None = None
    blocks: list[PlanBlock] = []
    for plan in back_from(workspace, until):
        found = found or plan
        blocks += [one for one in plan.of_day(day) if plan.made_at <= one.start < until]
        until = plan.made_at
        if plan.made_at <= midnight:
            break
    return found, sorted(blocks, key=lambda one: (one.start, one.id))


def back_from(workspace: Workspace, moment: datetime) -> Iterator[Plan]:
    """Yield the plans that were made before a moment, the newest first."""
    while (text := workspace.shelf.known_at(moment)) is not None:
        plan = Plan.model_validate_json(text)
        yield plan
        moment = plan.made_at - timedelta(microseconds=1)


def planned_work(workspace: Workspace, now: datetime) -> list[PlannedWork]:
    """Return what people were to do yesterday and today, by the plans that they knew then."""
    today = now.astimezone(workspace.zone).date()
    return [
        PlannedWork(one.field, one.pass_id, tuple(filter(None, (one.operator, one.support))), one.start)
        for day in (today - timedelta(days=1), today)
        for one in _stood(workspace, day)[1]
    ]
