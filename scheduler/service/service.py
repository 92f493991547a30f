"""The service itself: one `look` does everything that is due, in order; nothing that fails stops the rest.

Lease, weather, morning issue, news, hand-outs, reminder. Only the holder of the lease does any of it; the other service
stands by. What was done is in the log's marks, so a service that was killed goes on where it stood.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import partial

from scheduler.service.delivery import Delivery
from scheduler.service.desk import Desk, Made
from scheduler.service.duties import Quiet, Times, daily_due, local_day, poll_due
from scheduler.service.metrics import Metrics
from shared.errors import FitgroundError
from shared.ports import Lease, ServiceBook

Say = Callable[[str, Mapping[str, object]], None]
AGAIN = timedelta(minutes=1)
"""After a failed attempt to plan."""
ISSUED, REMINDED = "issued on", "reminded on"


@dataclass
class Service:
    """The service of one farm.

    Attributes
    ----------
    say : callable
        Takes a short message and its facts (the structured log).
    drafts : bool
        Plans after news wait for a person.
    """

    desk: Desk
    book: ServiceBook
    lease: Lease
    delivery: Delivery
    times: Times
    metrics: Metrics
    say: Say
    drafts: bool = False
    stopping: threading.Event = field(default_factory=threading.Event)
    _busy: threading.Lock = field(default_factory=threading.Lock)
    _quiet: Quiet = field(default_factory=Quiet)
    _polled: datetime | None = None
    _forecasts: int = 0
    _planned_forecasts: int = 0
    _failed: datetime | None = None
    _begun: bool = False

    def look(self, now: datetime) -> list[str]:
        """Do what is due; return what was done. A second call while one is at work returns at once."""
        if not self._busy.acquire(blocking=False):
            return []
        try:
            return self._look(now)
        finally:
            self._busy.release()

    def _look(self, now: datetime) -> list[str]:
        done: list[str] = []
        mine = self._try("lease", lambda: self.lease.take(now))
        self.metrics.holds_lease.set(1 if mine else 0)
        self.metrics.looked.set(now.timestamp())
        if not mine:
            return done
        if not self._begun:
            self._begun = True
            self._try("lists of today", lambda: self.delivery.add(self.desk.parcels_again(now), now))
        for name, duty in (
            ("weather", self._weather), ("issue", self._morning), ("news", self._news), ("hand out", self._hand_out),
            ("remind", self._remind),
        ):  # fmt: skip
            if self.stopping.is_set():
                break
            if self._try(name, partial(duty, now)):
                done.append(name)
        return done

    def _try(self, name: str, duty: Callable[[], object]) -> object:
        """Do one duty; a failure is said and counted, and the others go on."""
        try:
            return duty()
        except FitgroundError as error:
            self.say(f"{name} failed", {"why": str(error)})
        except Exception as error:
            self.say(f"{name} failed", {"why": f"{type(error).__name__}: {error}", "unexpected": True})
        self.metrics.failures.labels(duty=name).inc()
        return None

    def _weather(self, now: datetime) -> bool:
        if not poll_due(now, self._polled, self.times.poll):
            return False
        self._polled = now
        found = self.desk.poll(now)
        self._forecasts += found.new
        self.metrics.polls.labels(result="ok" if found.ok else "failed").inc()
        self.say("weather", {"new": found.new, "ok": found.ok, "told": found.text})
        return found.new

    def _morning(self, now: datetime) -> bool:
        if not daily_due(now, self.times.issue_at, self.book.mark(ISSUED), self.times.zone):
            return False
        return self._plan(now, "morning", whole=True)

    def _news(self, now: datetime) -> bool:
        end, planned = self.desk.news_end(), self.desk.planned_end()
        wall = now.astimezone(self.times.zone).time()
        # At night a forecast alone wakes nobody, and before the first plan there is nothing that news could change.
        by_day = self.times.issue_at <= wall < self.times.remind_at
        forecast = by_day and self._forecasts > self._planned_forecasts
        self._quiet.look(now, (end, self._forecasts), planned > 0 and (end > planned or forecast))
        if not self._quiet.due(now, self.times.quiet, self.times.wait_most):
            return False
        return self._plan(now, "news", whole=False)

    def _plan(self, now: datetime, why: str, whole: bool) -> bool:
        if self._failed is not None and timedelta(0) <= now - self._failed < AGAIN:
            return False
        try:
            made = self.desk.make(now, whole)
        except Exception:
            self._failed = now
            raise
        if self.stopping.is_set():
            # A stop in the middle of a search: nothing goes out half; the next start issues it.
            return False
        self._failed = None
        self._planned_forecasts = self._forecasts
        if self.drafts and not whole:
            self.desk.keep_draft(made)
        else:
            self.desk.issue(made, now)
            self.delivery.add(made.parcels, now)
        if whole:
            self.book.set_mark(ISSUED, local_day(now, self.times.zone).isoformat())
        self._count(made, why)
        return True

    def _count(self, made: Made, why: str) -> None:
        plan = made.plan
        self.metrics.plans.labels(why=why, method=plan.method).inc()
        self.metrics.plan_seconds.observe(made.all_s)
        self.metrics.plan_made.set(plan.made_at.timestamp())
        self.metrics.plan_gap.set(plan.value.gap)
        if made.trouble:
            self.metrics.failures.labels(duty="search").inc()
        self.say(
            "plan",
            {
                "why": why, "id": plan.id, "method": plan.method, "blocks": len(plan.blocks), "value": round(plan.value.total),
                "gap": round(plan.value.gap, 3), "seconds": round(made.all_s, 2), "search": round(made.search_s, 2), "lists": len(made.parcels), "trouble": made.trouble,
            },
        )  # fmt: skip

    def _hand_out(self, now: datetime) -> bool:
        sent = self.delivery.send(now, self.say)
        self.metrics.handed_out.inc(sent)
        self.metrics.waiting.set(len(self.delivery.waiting))
        return sent > 0

    def _remind(self, now: datetime) -> bool:
        if not daily_due(now, self.times.remind_at, self.book.mark(REMINDED), self.times.zone):
            return False
        parcels = self.desk.reminders(now)
        self.book.set_mark(REMINDED, local_day(now, self.times.zone).isoformat())
        self.delivery.add(parcels, now)
        self._hand_out(now)
        self.say("reminder", {"people": [parcel.to for parcel in parcels]})
        return bool(parcels)

    def stop(self) -> None:
        """Ask for an end: what is at work stops at the next safe point."""
        self.stopping.set()

    def close(self) -> None:
        """Give the lease back, once nothing is at work any more."""
        with self._busy:
            self._try("lease", self.lease.give_back)
