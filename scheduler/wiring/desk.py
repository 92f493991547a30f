"""The farm as the service sees it (port `scheduler.service.desk.Desk`): a folder, its log, its weather and a planner apart."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from scheduler.events.state import State
from scheduler.planning.plan import Plan
from scheduler.planning.still_there import still_there
from scheduler.service.desk import Made, Polled
from scheduler.service.duties import local_day
from scheduler.service.handouts import hand_outs
from scheduler.service.reminders import planned_today, reminder_parcels, unreported
from scheduler.wiring.issued import DRAFT, issue_plan
from scheduler.wiring.mornings import forecast_now, look_ahead
from scheduler.wiring.news import read_state, settings_now, situation_now
from scheduler.wiring.news_or_not import asks_for_a_plan
from scheduler.wiring.plan_apart import START_S, Apart, plan_apart, plan_by_rule
from scheduler.wiring.plans_known import latest_plan
from scheduler.wiring.workspace import Workspace, open_with_weather
from shared.errors import FarmFileError, FitgroundError
from shared.parcel import Parcel

PLANS_A_DAY = 60
Planner = Callable[[Path, datetime, float, float, threading.Event], tuple[Apart | None, str]]


class FarmDesk:
    """A farm folder at work.

    Attributes
    ----------
    workspace : Workspace
        Opened anew when a farm file was changed; a file with faults is said once, and the old one stays in force.
    """

    def __init__(
        self, folder: Path, seconds: float | None = None, stopping: threading.Event | None = None,
        planner: Planner = plan_apart, clock: Callable[[], float] = time.perf_counter,
    ) -> None:  # fmt: skip
        self.workspace = open_with_weather(folder)
        self.trouble = ""
        self._seconds, self._planner, self._clock = seconds, planner, clock
        self._stopping = stopping or threading.Event()
        self._stamp = self._files()

    def poll(self, now: datetime) -> Polled:
        """Look at the weather; keep a new forecast."""
        workspace = self.fresh()
        before = workspace.forecasts.newest(now)
        found = forecast_now(workspace, now)
        if found is None:
            return Polled(False, "no forecast: the usual weather of the season stands in for it", ok=False)
        after = workspace.forecasts.newest(now)
        new = after is not None and (
            before is None or (before.source, before.issued_at) != (after.source, after.issued_at)
        )
        kept = next((note for note in found.notes if note.startswith("no new forecast")), "")
        issued = (
            "" if found.issued_at is None else f" of {found.issued_at.astimezone(workspace.zone):%a %H:%M}"
        )
        return Polled(new, kept or f"{found.source}{issued}", ok=not kept)

    def news_end(self) -> int:
        """Return the sequence of the last piece of news."""
        plan, zone = self.draft() or latest_plan(self.workspace), self.workspace.farm.time_zone
        told = self._state().told.values()
        return max((event.sequence for event in told if asks_for_a_plan(event, plan, zone)), default=0)

    def planned_end(self) -> int:
        """Return up to where the plan that people know, or the draft that waits, was made."""
        plans = [plan for plan in (latest_plan(self.workspace), self.draft()) if plan is not None]
        # A plan made of an empty log knows everything up to there: it is not the same as no plan.
        return max((max(1, plan.log_sequence) for plan in plans), default=0)

    def make(self, now: datetime, whole: bool) -> Made:
        """Make a checked plan apart, by the simple rule when that fails."""
        begun = self._clock()
        workspace = self.fresh()
        seconds = settings_now(workspace, now).seconds if self._seconds is None else self._seconds
        deadline_s = START_S + seconds * workspace.farm.service.deadline_factor
        previous = latest_plan(workspace)
        apart, trouble = self._planner(workspace.folder, now, seconds, deadline_s, self._stopping)
        searched = self._clock() - begun
        if apart is None:
            if self._stopping.is_set():
                raise FitgroundError("the service is stopping; no plan was made.")
            morning = plan_by_rule(workspace, now)
            said = f"The search failed ({trouble}), so this is the plan of the simple rule."
            plan = morning.plan.model_copy(update={"notes": (*morning.plan.notes, said)})
            apart = Apart(plan, morning.changes, morning.news)
        situation, outlook = look_ahead(workspace, now)
        parcels = hand_outs(apart.plan, previous, situation, outlook, apart.changes, apart.news, whole)
        return Made(apart.plan, parcels, searched, self._clock() - begun, trouble)

    def issue(self, made: Made, now: datetime) -> None:
        """Make the plan the one that people work by."""
        issue_plan(self.workspace, made.plan)
        self.workspace.book.set_mark(DRAFT, "")

    def keep_draft(self, made: Made) -> None:
        """Keep the plan for a person to issue."""
        self.workspace.book.set_mark(DRAFT, made.plan.model_dump_json())

    def draft(self) -> Plan | None:
        """Return the plan that waits for a person."""
        text = self.workspace.book.mark(DRAFT)
        return Plan.model_validate_json(text) if text else None

    def parcels_again(self, now: datetime) -> tuple[Parcel, ...]:
        """Return the lists of the plan that was issued today."""
        plan = latest_plan(self.workspace)
        if plan is None or local_day(plan.made_at, self.workspace.zone) != local_day(
            now, self.workspace.zone
        ):
            return ()
        situation, outlook = look_ahead(self.workspace, plan.made_at)
        plan = still_there(plan, situation.farm, plan.made_at)
        return hand_outs(plan, None, situation, outlook, None, (), whole=True)

    def reminders(self, now: datetime) -> tuple[Parcel, ...]:
        """Return who should be asked for a report this evening."""
        workspace, day = self.workspace, local_day(now, self.workspace.zone)
        plans = [Plan.model_validate_json(text) for text in reversed(workspace.shelf.last(PLANS_A_DAY))]
        begun = [plan for plan in plans if local_day(plan.made_at, workspace.zone) == day]
        blocks = planned_today(begun, now, day)
        state, situation = situation_now(workspace, now)
        return reminder_parcels(unreported(blocks, state, day, workspace.zone), situation.farm, day)

    def _state(self) -> State:
        return read_state(self.workspace)

    def _files(self) -> tuple[tuple[str, int], ...]:
        """Return a mark of the farm's files."""
        names = [
            path
            for path in sorted(self.workspace.folder.iterdir())
            if path.suffix in (".toml", ".csv", ".geojson")
        ]
        return tuple((path.name, path.stat().st_mtime_ns) for path in names)

    def fresh(self) -> Workspace:
        """Return the workspace, opened anew when a farm file was changed."""
        stamp = self._files()
        if stamp != self._stamp:
            self._stamp = stamp
            try:
                opened = open_with_weather(self.workspace.folder)
            except FarmFileError as error:
                self.trouble = f"the farm files have faults, so what was read before stays in force: {error.faults[0].sentence()}"
            else:
                # The open database stays: others hold it too.
                opened.database.close()
                old = self.workspace
                self.workspace = replace(
                    old, farm=opened.farm, warnings=opened.warnings, weather=opened.weather
                )
                self.trouble = ""
        return self.workspace
