"""The plan that people work by: kept when it is issued, read back, and what moved between the last two."""

from __future__ import annotations

from datetime import UTC

from scheduler.events.decide import planner_event
from scheduler.events.derive import situation as derive_situation
from scheduler.events.describe import describe, touched
from scheduler.events.kinds import PlanIssued
from scheduler.events.situation import Situation
from scheduler.planning.diff import Changes, compare
from scheduler.planning.plan import Plan
from scheduler.wiring.news import read_state
from scheduler.wiring.news_or_not import may_be_a_cause
from scheduler.wiring.workspace import Workspace
from shared.vocabulary import EventKind

DRAFT = "draft plan"
"""Name of the mark that holds a plan which waits for a person."""


def issue_plan(workspace: Workspace, plan: Plan) -> None:
    """Keep a plan as the one that people work by, and write that down in the log."""
    workspace.shelf.put(plan.id, plan.made_at, plan.model_dump_json())
    body = PlanIssued(plan_id=plan.id, made_at=plan.made_at.astimezone(UTC), log_sequence=plan.log_sequence)
    workspace.log.append([planner_event(f"plan-{plan.id}", body, EventKind.PLAN_ISSUED, plan.made_at)])


def latest_plan(workspace: Workspace) -> Plan | None:
    """Return the plan issued last, or None."""
    text = workspace.shelf.latest()
    return None if text is None else Plan.model_validate_json(text)


def last_changes(workspace: Workspace) -> Changes | None:
    """Return what changed between the last two plans; None while there are fewer than two."""
    texts = workspace.shelf.last(2)
    if len(texts) < 2:
        return None
    new, old = (Plan.model_validate_json(text) for text in texts)
    situation = derive_situation(workspace.farm, read_state(workspace), new.made_at)
    news = news_since(workspace, old, situation)
    return compare(old, new, news, situation.farm)


def news_since(
    workspace: Workspace, previous: Plan | None, situation: Situation
) -> list[tuple[str, str, tuple[str, ...]]]:
    """Return (id, sentence, ids touched) of every report since the plan that people know."""
    state = read_state(workspace)
    since = 0 if previous is None else previous.log_sequence
    out = []
    for event in state.told.values():
        if event.sequence <= since or not may_be_a_cause(event, previous, situation.farm.time_zone):
            continue
        if event.happened_at > situation.now:
            continue
        ids = touched(event) or frozenset({"all"})
        out.append((event.id, describe(event, situation.farm), tuple(sorted(ids))))
    return out
