"""The plan that people work by: kept when it is issued, read back, and what moved between the last two."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from scheduler.events.decide import planner_event
from scheduler.events.derive import situation as derive_situation
from scheduler.events.describe import describe_told
from scheduler.events.kinds import PlanIssued
from scheduler.events.news import News, news_of
from scheduler.events.situation import Situation
from scheduler.farm.farm import Farm
from scheduler.planning.diff import Changes, compare
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.planning.still_there import still_there
from scheduler.wiring.news import read_state
from scheduler.wiring.news_or_not import may_be_a_cause
from scheduler.wiring.plans_known import back_from, latest_plan, plan_of
from scheduler.wiring.workspace import Workspace
from shared.clock import local_midnight
from shared.errors import FitgroundError
from shared.vocabulary import EventKind

DRAFT = "draft plan"
"""Name of the mark that holds a plan which waits for a person."""


def issue_plan(workspace: Workspace, plan: Plan) -> None:
    """Keep a plan as the one that people work by, and write that down in the log."""
    workspace.shelf.put(plan.id, plan.made_at, plan.model_dump_json())
    body = PlanIssued(plan_id=plan.id, made_at=plan.made_at.astimezone(UTC), log_sequence=plan.log_sequence)
    workspace.log.append([planner_event(f"plan-{plan.id}", body, EventKind.PLAN_ISSUED, plan.made_at)])


def plan_shown(workspace: Workspace, farm: Farm, now: datetime) -> Plan | None:
    """Return the plan issued last as this farm can still read it, or None."""
    plan = latest_plan(workspace)
    return None if plan is None else still_there(plan, farm, now)


def day_shown(workspace: Workspace, wanted: date | None, today: date) -> tuple[Plan, date]:
    """Return the plan of a day, and the day: where none is wanted today if the newest plan reaches it, else that plan's first.

    Raises
    ------
    FitgroundError
        No plan was issued yet, or none by that day.
    """
    newest = latest_plan(workspace)
    if newest is None:
        raise FitgroundError(f"no plan was issued yet; run: fitground plan {workspace.folder}")
    covered = newest.first_day <= today < newest.first_day + timedelta(days=newest.days)
    day = wanted or (today if covered else newest.first_day)
    plan = plan_of(workspace, day, newest)
    if plan is None:
        raise FitgroundError(f"no plan had been issued by {day}; allowed: a day since the first plan.")
    farm = derive_situation(workspace.farm, read_state(workspace), plan.made_at).farm
    return still_there(plan, farm, plan.made_at), day


def list_before(workspace: Workspace, plan: Plan) -> Plan | None:
    """Return the first plan of the day on which a plan was made, whose lists people hold; None where it is that one."""
    first, morning = None, local_midnight(plan.first_day, workspace.zone)
    for one in back_from(workspace, plan.made_at - timedelta(microseconds=1)):
        if one.made_at < morning:
            break
        first = one
    return first


def known_block(
    workspace: Workspace, person: str, block: str, now: datetime, back: timedelta
) -> PlanBlock | None:
    """Return a block of a person by its id, out of the newest of the plans that people worked by in the time `back`.

    A phone that was out of reach reports on the list that it holds, whatever was planned since.
    """
    for plan in back_from(workspace, now):
        found = next((one for one in plan.of_operator(person) if one.id == block), None)
        if found is not None or plan.made_at < now - back:
            return found
    return None


def last_two(workspace: Workspace) -> tuple[Plan, Plan] | None:
    """Return the plan issued before the last one, and the last one; None while there are fewer than two."""
    texts = workspace.shelf.last(2)
    if len(texts) < 2:
        return None
    new, old = (Plan.model_validate_json(text) for text in texts)
    return old, new


def last_changes(workspace: Workspace) -> Changes | None:
    """Return what changed between the last two plans; None while there are fewer than two."""
    plans = last_two(workspace)
    return None if plans is None else changes_between(workspace, *plans)


def changes_between(workspace: Workspace, old: Plan, new: Plan) -> Changes:
    """Return what is different in a plan, and because of which of the news that it knew."""
    situation = derive_situation(workspace.farm, read_state(workspace), new.made_at)
    news = news_since(workspace, old, situation, new.log_sequence)
    return compare(old, new, news, situation.farm)


def news_since(
    workspace: Workspace, previous: Plan | None, situation: Situation, until: int | None = None
) -> list[News]:
    """Return every report after the plan that people know, up to event `until`; one that was corrected speaks no more."""
    state = read_state(workspace)
    since = 0 if previous is None else previous.log_sequence
    until = state.sequence if until is None else until
    corrected = {name for name, by in state.corrected.items() if state.told[by].sequence <= until}
    return [
        news_of(event, describe_told(event, state, situation.farm), state)
        for event in state.told.values()
        if since < event.sequence <= until
        and event.happened_at <= situation.now
        and event.id not in corrected
        and may_be_a_cause(event, previous, situation.farm.time_zone)
    ]
