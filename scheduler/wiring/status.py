"""How things stand: last forecast, last plan, what is not planned in yet, who issues; and what needs a person."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from adapters.storage.lease import SqlLease
from scheduler.events.describe import at_work
from scheduler.events.news import worked_on
from scheduler.events.presumed import still_presumed
from scheduler.events.situation import Situation
from scheduler.events.skipped import unreported_before
from scheduler.events.state import State
from scheduler.planning.plan import Plan
from scheduler.planning.still_there import gone_text, still_there
from scheduler.planning.wording import Names
from scheduler.planning.worry_groups import gathered
from scheduler.service.duties import daily_due
from scheduler.service.service import ISSUED
from scheduler.wiring.issued import DRAFT
from scheduler.wiring.news import situation_now
from scheduler.wiring.news_or_not import asks_for_a_plan
from scheduler.wiring.plans_known import latest_plan
from scheduler.wiring.workspace import Workspace

ISSUE_LEASE = "issue"
FORECAST_OLD = timedelta(hours=18)
LATE = timedelta(minutes=30)
"""A morning plan that is not out so long after its time is late."""
SILENCE = timedelta(hours=2)
"""Work that was to be over so long ago and of which nobody told is asked for."""


@dataclass(frozen=True)
class Status:
    """How things stand at a moment; times are aware, ages in hours; `needs` are sentences for a person."""

    farm: str
    at: datetime
    events: int
    refused: tuple[str, ...]
    unplanned: int
    forecast_source: str
    forecast_issued_at: datetime | None
    forecast_age_h: float | None
    plan_id: str
    plan_made_at: datetime | None
    plan_age_h: float | None
    plan_method: str
    plan_gap: float | None
    draft_waits: bool
    worries: tuple[str, ...]
    service: str
    needs: tuple[str, ...]
    at_work: tuple[str, ...] = ()

    def plain(self) -> dict[str, Any]:
        """Return JSON-ready values."""
        return {name: getattr(self, name) for name in self.__dataclass_fields__}

    def outward(self) -> dict[str, Any]:
        """Return what a watcher may see: figures and times, no names, no fields, no money."""
        kept = (
            "at",
            "events",
            "unplanned",
            "forecast_age_h",
            "plan_age_h",
            "plan_method",
            "plan_gap",
            "draft_waits",
        )
        return {name: getattr(self, name) for name in kept} | {
            "running": bool(self.service), "needs": len(self.needs), "worries": len(self.worries), "refused": len(self.refused),
        }  # fmt: skip


def status(workspace: Workspace, now: datetime) -> Status:
    """Return how things stand."""
    state, situation = situation_now(workspace, now)
    known = latest_plan(workspace)
    gone = "" if known is None else gone_text(known, situation.farm, now)
    plan = None if known is None else still_there(known, situation.farm, now)
    forecast = workspace.forecasts.newest(now)
    issued = None if forecast is None else forecast.issued_at
    forecast_age = None if issued is None else (now - issued) / timedelta(hours=1)
    service = SqlLease(workspace.database, ISSUE_LEASE, "", timedelta(0)).who(now)
    damaged = getattr(workspace.log, "damaged", ())
    return Status(
        farm=workspace.farm.name, at=now, events=len(state.told), refused=(*state.refused, *damaged),
        unplanned=_unplanned(state, plan, workspace.farm.time_zone), forecast_source="" if forecast is None else forecast.source, forecast_issued_at=issued,
        forecast_age_h=forecast_age, plan_id="" if plan is None else plan.id, plan_made_at=None if plan is None else plan.made_at,
        plan_age_h=None if plan is None else (now - plan.made_at) / timedelta(hours=1),
        plan_method="" if plan is None else plan.method, plan_gap=None if plan is None else plan.value.gap,
        draft_waits=bool(workspace.book.mark(DRAFT)),
        worries=() if plan is None else tuple(one.text for one in gathered(plan.worries, situation.farm) if one.severity >= 2 and one.text != gone), service=service,
        needs=_needs(workspace, now, plan, state, situation, forecast_age, (*state.refused, *damaged), service, gone),
        at_work=tuple(at_work(situation)),
    )  # fmt: skip


def _unplanned(state: State, plan: Plan | None, time_zone: str) -> int:
    known = 0 if plan is None else plan.log_sequence
    return sum(e.sequence > known and asks_for_a_plan(e, plan, time_zone) for e in state.told.values())


def _needs(
    workspace: Workspace, now: datetime, plan: Plan | None, state: State, situation: Situation, forecast_age_h: float | None,
    refused: tuple[str, ...], service: str, gone: str,
) -> tuple[str, ...]:  # fmt: skip
    out: list[str] = []
    names, silent = Names(situation.farm), list[tuple[str, str]]()
    if plan is None:
        out.append("No plan was issued yet.")
    elif gone:
        out.append(gone)
    elif plan.method == "rule":
        out.append("The last plan is the simple rule's: the search failed or was refused; look at the log.")
    if forecast_age_h is None:
        out.append("There is no forecast: the usual weather of the season stands in for it.")
    elif forecast_age_h > FORECAST_OLD / timedelta(hours=1):
        out.append(f"The forecast is {forecast_age_h:.0f} hours old.")
    late = now - LATE
    same_day = late.astimezone(workspace.zone).date() == now.astimezone(workspace.zone).date()
    issue_at = workspace.farm.plan.issue_at
    if service and same_day and daily_due(late, issue_at, workspace.book.mark(ISSUED), workspace.zone):
        out.append(f"This morning's plan is not out, though it was due at {issue_at:%H:%M}.")
    if workspace.book.mark(DRAFT):
        out.append("A plan made after news waits for somebody to issue it.")
    if plan is not None:
        silent = _silent(plan, state, situation, now)
        works = names.works(silent)
        out += [f"Nobody has reported {work}, which should be over by now." for work in works]
    missing = names.works(work for work in unreported_before(situation) if work not in silent)
    out += [f"Nobody has reported {work} done, though work that comes after it is." for work in missing]
    out += refused
    return tuple(out)


def _silent(plan: Plan, state: State, situation: Situation, now: datetime) -> list[tuple[str, str]]:
    """Return the work (field, pass) of blocks that are over for a while, of which nothing was told since the plan."""
    told = worked_on(event for event in state.facts.values() if event.sequence > plan.log_sequence)
    over = [(b.field, b.pass_id) for b in plan.blocks if b.end <= now - SILENCE]
    presumed = [
        one for one in still_presumed(plan.presumed, situation) if one.over and one.end <= now - SILENCE
    ]
    over = list(dict.fromkeys([*((one.field, one.pass_id) for one in presumed), *over]))
    return [work for work in over if work not in told]


def next_duties(workspace: Workspace, now: datetime) -> list[tuple[str, datetime]]:
    """Return the next morning issue and the next reminder."""
    wall = now.astimezone(workspace.zone)
    out = []
    for name, at in (
        ("morning plan", workspace.farm.plan.issue_at),
        ("reminder", workspace.farm.service.remind_at),
    ):
        moment = datetime.combine(wall.date(), at, workspace.zone)
        if moment <= wall:
            moment = datetime.combine(wall.date() + timedelta(days=1), at, workspace.zone)
        out.append((name, moment))
    return sorted(out, key=lambda row: row[1])
