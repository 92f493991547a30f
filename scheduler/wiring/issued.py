"""The plan that people work by: kept when it is issued, read back, and what moved between the last two."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from itertools import chain

from scheduler.events.decide import planner_event
from scheduler.events.derive import situation as derive_situation
from scheduler.events.describe import describe_told
from scheduler.events.kinds import PlanIssued
from scheduler.events.news import News, news_of
from scheduler.events.situation import Situation
from scheduler.planning.diff import Changes, compare
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.wiring.news import read_state
from scheduler.wiring.news_or_not import may_be_a_cause
from scheduler.wiring.workspace import Workspace
from shared.vocabulary import EventKind

DRAFT = "draft plan"
"""Name of the mark that holds a plan which waits for a person."""
MOST_BACK = 40
"""So many plans are looked through for a block that is in the newest no more."""


def issue_plan(workspace: Workspace, plan: Plan) -> None:
    """Keep a plan as the one that people work by, and write that down in the log."""
    workspace.shelf.put(plan.id, plan.made_at, plan.model_dump_json())
    body = PlanIssued(plan_id=plan.id, made_at=plan.made_at.astimezone(UTC), log_sequence=plan.log_sequence)
    workspace.log.append([planner_event(f"plan-{plan.id}", body, EventKind.PLAN_ISSUED, plan.made_at)])


def latest_plan(workspace: Workspace) -> Plan | None:
    """Return the plan issued last, or None."""
    text = workspace.shelf.latest()
    return None if text is None else Plan.model_validate_json(text)


def known_block(
    workspace: Workspace, plan: Plan | None, person: str, block: str, since: datetime
) -> PlanBlock | None:
    """Return a block of a person by its id: out of a plan, else out of the ones before it that were made after `since`.

    A phone that was out of reach reports on the list that it holds, whatever was planned since.
    """
    plans = chain([] if plan is None else [plan], _back_to(workspace, since))
    return next((one for then in plans for one in then.of_operator(person) if one.id == block), None)


def _back_to(workspace: Workspace, since: datetime) -> Iterator[Plan]:
    for text in workspace.shelf.last(MOST_BACK):
        plan = Plan.model_validate_json(text)
        if plan.made_at < since:
            return
        yield plan


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
