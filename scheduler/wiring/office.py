"""The farm as pages see it: today's picture kept until something changes, plans made in the background, pins priced.

One `View` is made when the log, the forecast or the farm files changed, or when it is ten minutes old; all pages share it. Long
work (a plan, a price, a what-if) is one `Job` at a time with its progress, so a page never waits.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

from scheduler.events.codec import decode
from scheduler.events.decide import Decision, decide
from scheduler.events.derive import situation as derive_situation
from scheduler.events.news import news_of
from scheduler.events.report import Report
from scheduler.events.situation import Situation
from scheduler.events.state import State, fold
from scheduler.planning.diff import compare
from scheduler.planning.plan import Plan
from scheduler.planning.schedule import make_plan
from scheduler.planning.still_there import still_there
from scheduler.service.handouts import hand_outs
from scheduler.solver.result import Limits, Progress
from scheduler.whatif.can import can
from scheduler.whatif.outcome import Outcome
from scheduler.whatif.study import Way
from scheduler.whatif.tell import ranked
from scheduler.whatif.tell_can import Told, can_json, told
from scheduler.windows.build import build_outlook
from scheduler.windows.records import Outlook
from scheduler.wiring.desk import FarmDesk
from scheduler.wiring.issued import DRAFT, changes_between, issue_plan, plan_shown
from scheduler.wiring.mornings import horizon_at, known_weather, plan_morning
from scheduler.wiring.news import read_state, take
from scheduler.wiring.plans_known import latest_plan
from scheduler.wiring.status import Status, status
from scheduler.wiring.whatif import effort_s, run_ways, what_if_morning
from scheduler.wiring.workspace import Workspace
from shared.clock import Horizon, local_midnight
from shared.errors import FitgroundError
from shared.parcel import Parcel
from shared.weather_records import HourlyWeather

OLD = timedelta(minutes=10)
PRICE_SECONDS = 2.0
Clock = Callable[[], datetime]


@dataclass(frozen=True)
class View:
    """Today's picture."""

    made_at: datetime
    state: State
    situation: Situation
    outlook: Outlook
    observed: HourlyWeather
    plan: Plan | None
    draft: Plan | None


@dataclass
class Job:
    """Work in the background: `result` for the pages, `facts` the same for programs."""

    id: str
    kind: str
    title: str
    lines: list[Progress] = field(default_factory=list)
    note: str = ""
    result: Any = None
    facts: Any = None
    error: str = ""
    done: bool = False


@dataclass(frozen=True)
class Price:
    """What a pin costs: both plans made with the same effort, and what would change."""

    report: Report
    before: float
    after: float
    changes: tuple[str, ...]
    refused: str = ""


class Office:
    """A farm folder with a desk, a clock and one worker for long jobs."""

    def __init__(
        self, folder: Path, clock: Clock, seconds: float | None = None,
        hand_out: Callable[[tuple[Parcel, ...], datetime], None] | None = None, desk: FarmDesk | None = None,
    ) -> None:  # fmt: skip
        self.desk = desk or FarmDesk(folder, seconds)
        self.clock, self.hand_out, self._seconds = clock, hand_out, seconds
        self._view: View | None = None
        self._key: object = None
        self._back: tuple[object, Outlook | None] | None = None
        self._lock, self._jobs_lock = threading.Lock(), threading.Lock()
        self.jobs: dict[str, Job] = {}
        self._running: Job | None = None

    @property
    def workspace(self) -> Workspace:
        """The farm as its files say now."""
        return self.desk.fresh()

    def view(self) -> View:
        """Return today's picture, made anew when something changed."""
        workspace, now = self.workspace, self.clock()
        forecast = workspace.forecasts.newest(now)
        issued = None if forecast is None else (forecast.source, forecast.issued_at)
        key = (workspace.log.last_sequence(), issued, id(workspace.farm), workspace.book.mark(DRAFT) != "")
        with self._lock:
            old = self._view
            if old is None or key != self._key or not timedelta(0) <= now - old.made_at < OLD:
                self._view, self._key = self._look(workspace, now), key
            assert self._view is not None
            return self._view

    def _look(self, workspace: Workspace, now: datetime) -> View:
        state = read_state(workspace)
        situation = derive_situation(workspace.farm, state, now)
        observed, forecast, normals = known_weather(workspace, now)
        outlook = build_outlook(situation, horizon_at(situation.farm, now), observed, forecast, normals)
        plan, draft = plan_shown(workspace, situation.farm, now), self.desk.draft()
        if draft is not None:
            draft = still_there(draft, situation.farm, now)
        return View(now, state, situation, outlook, observed, plan, draft)

    def looking_back(self, days: int) -> Outlook | None:
        """Return what the ground would have allowed on the days behind, in the weather that came; None when not known.

        The passes are those that were left then; one member, since what fell is known.
        """
        view, workspace = self.view(), self.workspace
        key = (self._key, view.outlook.first_day, days)
        if self._back is not None and self._back[0] == key:
            return self._back[1]
        first = view.outlook.first_day - timedelta(days=days)
        then = local_midnight(first, workspace.zone)
        seen = view.observed
        found = None
        if seen.start_utc <= then - timedelta(days=days) and seen.end_utc > then:
            situation = derive_situation(workspace.farm, view.state, then)
            came = replace(seen.between(then, seen.end_utc), issued_at=then)
            horizon = Horizon(first, days, workspace.farm.time_zone)
            normals = workspace.weather.normals(workspace.farm.place)
            found = build_outlook(
                situation, horizon, seen.between(seen.start_utc, then), came, normals, weeks=0
            )
        self._back = (key, found)
        return found

    def status(self) -> Status:
        """Return how things stand."""
        return status(self.workspace, self.clock())

    def take(self, report: Report) -> Decision:
        """Take a report; raises `ReportRefused` with a sentence."""
        return take(self.workspace, report, self.clock())

    # ---- long work -----------------------------------------------------------------------------------------

    def start(self, kind: str, title: str, work: Callable[[Job], Any]) -> Job:
        """Begin a job; while one runs, another is refused with a sentence."""
        with self._jobs_lock:
            if self._running is not None and not self._running.done:
                raise FitgroundError(f"{self._running.title} is still being worked on; please wait.")
            job = Job(uuid4().hex[:12], kind, title)
            self._running = self.jobs[job.id] = job
            for old in list(self.jobs)[:-20]:
                del self.jobs[old]
        threading.Thread(target=self._work, args=(job, work), daemon=True).start()
        return job

    def _work(self, job: Job, work: Callable[[Job], Any]) -> None:
        try:
            job.result = work(job)
        except FitgroundError as error:
            job.error = str(error)
        except Exception as error:
            job.error = f"That did not work ({type(error).__name__}); the log of the pages says more."
        finally:
            job.done = True

    def start_plan(self) -> Job:
        """Make a plan in the background; it waits as a draft for a person to issue it."""

        def work(job: Job) -> Plan:
            morning = plan_morning(self.workspace, self.clock(), self._seconds, job.lines.append)
            self.workspace.book.set_mark(DRAFT, morning.plan.model_dump_json())
            job.facts = morning.plan.model_dump(mode="json")
            return morning.plan

        return self.start("plan", "A new plan", work)

    def start_price(self, report: Report) -> Job:
        """Find out in the background what a pin costs."""
        return self.start("price", "The price of that change", lambda job: self._price(report, job))

    def _price(self, report: Report, job: Job) -> Price:
        workspace, view = self.workspace, self.view()
        decision = decide(report, view.state, view.situation)
        pinned = fold(view.state, [_numbered(decision, view.state)])
        situation = derive_situation(workspace.farm, pinned, view.situation.now)
        horizon, settings = horizon_at(situation.farm, view.situation.now), situation.farm.plan
        limits = Limits(PRICE_SECONDS, settings.workers, settings.seed)
        # Both plans keep still as an issued one does: the price is of what would be issued with the pin and without.
        free = view.plan.model_copy(update={"fingerprint": ""}) if view.plan is not None else None
        best = make_plan(view.situation, view.outlook, horizon, limits, free, job.lines.append)
        plan = make_plan(situation, view.outlook, horizon, limits, free, job.lines.append)
        refused = next((note for note in plan.notes if note.startswith("The pin on")), "")
        news = [news_of(decode(decision.record), "the pin")]
        changes = tuple(compare(best, plan, news, situation.farm).lines())
        before, after = (one.value.total - one.value.parts.get("change", 0.0) for one in (best, plan))
        # A pin cannot make the best plan better: what looks so is the search's own noise.
        return Price(report, before, max(before, after), changes, refused)

    def start_ways(self, ways: list[Way], seconds: float) -> Job:
        """Work ways of a what-if in the background."""

        def work(job: Job) -> list[Outcome]:
            morning = what_if_morning(self.workspace, self.clock(), self._effort_s(seconds))

            def tell(name: str, done: int, of: int) -> None:
                job.note = f"{done} of {of} searches: {name}"

            found = run_ways(morning, ways, 1, tell)
            job.facts = [one.model_dump(mode="json") for one in ranked(found)]
            return found

        return self.start("ways", "That what-if", work)

    def _effort_s(self, seconds: float) -> float:
        return effort_s(len(self.workspace.farm.fields), seconds)

    def start_can(self, demands: list[str], seconds: float) -> Job:
        """Work out in the background whether work can be done by a time."""

        def work(job: Job) -> Told:
            morning = what_if_morning(self.workspace, self.clock(), self._effort_s(seconds))

            def tell(step: str) -> None:
                job.note = step

            answer = can(morning, demands, tell=tell)
            job.facts = can_json(answer)
            return told(answer)

        return self.start("can", "That question", work)

    # ---- issuing -------------------------------------------------------------------------------------------

    def issue_draft(self) -> Plan:
        """Issue the plan that waits; lists go out where a service runs beside the pages.

        Raises
        ------
        FitgroundError
            None waits, or news came since it was made: plan again first.
        """
        workspace, now, draft = self.workspace, self.clock(), self.desk.draft()
        if draft is None:
            raise FitgroundError("no plan waits to be issued; make one first.")
        if draft.log_sequence < self.desk.news_end():
            raise FitgroundError("news came after this plan was made; plan again before you issue it.")
        previous, view = latest_plan(workspace), self.view()
        issue_plan(workspace, draft)
        workspace.book.set_mark(DRAFT, "")
        if self.hand_out is not None:
            changes = None if previous is None else changes_between(workspace, previous, draft)
            self.hand_out(
                hand_outs(draft, previous, view.situation, view.outlook, changes, (), whole=previous is None),
                now,
            )
        return draft

    def drop_draft(self) -> None:
        """Let the plan that waits go."""
        self.workspace.book.set_mark(DRAFT, "")


def _numbered(decision: Decision, state: State) -> Any:
    return replace(decision.record, sequence=state.sequence + 1)


__all__ = ["Job", "Office", "Price", "View"]
