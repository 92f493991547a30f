"""Which events are news that a plan has to answer, and which only say that things go as planned.

Question answered: *does this event ask for a new plan, and can it be told as the cause of a change?* That somebody begins
what the plan has for them today is no news; that somebody begins anything else is.
"""

from __future__ import annotations

from zoneinfo import ZoneInfo

from scheduler.events.codec import Event
from scheduler.events.kinds import QUIET_KINDS, PassStarted
from scheduler.planning.plan import Plan
from shared.vocabulary import EventKind


def asks_for_a_plan(event: Event, plan: Plan | None, time_zone: str) -> bool:
    """Tell whether an event alone makes a plan old.

    Parameters
    ----------
    event : Event
    plan : Plan or None
        What people know; None: nothing is planned yet.
    time_zone : str
    """
    if isinstance(event.body, PassStarted):
        return not _expected(event.body, event, plan, time_zone)
    return event.kind not in QUIET_KINDS


def may_be_a_cause(event: Event, plan: Plan | None, time_zone: str) -> bool:
    """Tell whether an event may be told as the cause of a change: also that somebody paused, which frees what stood."""
    return event.kind == EventKind.PASS_PAUSED or asks_for_a_plan(event, plan, time_zone)


def _expected(body: PassStarted, event: Event, plan: Plan | None, time_zone: str) -> bool:
    """Tell whether the plan has this pass on that day, with whoever began it where that was said."""
    day = event.happened_at.astimezone(ZoneInfo(time_zone)).date()
    return any(
        (block.field, block.pass_id) == (body.field, body.pass_id)
        and block.start.date() == day
        and body.operator in (None, block.operator, block.support)
        for block in (() if plan is None else plan.blocks)
    )
