"""What wakes the service: APScheduler, every few seconds and at the farm's hours; and an orderly end.

A job that was missed, because the computer slept or a search took long, runs once, however late. What is due is decided in
`duties`, so a wake-up too many does no harm.
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable
from datetime import datetime, timedelta
from types import FrameType

from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.schedulers.base import BaseScheduler
from apscheduler.triggers.cron import CronTrigger
from apscheduler.triggers.interval import IntervalTrigger

from scheduler.service.service import Service

LOOK_S = 5
LEASE_S = 30
"""The lease is renewed so often, also while a search goes on."""
LEASE_LASTS = timedelta(minutes=2)
Clock = Callable[[], datetime]


def wound_up(service: Service, clock: Clock, scheduler: BaseScheduler | None = None) -> BaseScheduler:
    """Return a scheduler that wakes the service; it is not started yet."""
    times = service.times
    found = scheduler or BackgroundScheduler(
        timezone=times.zone, executors={"default": ThreadPoolExecutor(3)},
        job_defaults={"coalesce": True, "misfire_grace_time": None, "max_instances": 1},
    )  # fmt: skip

    def look() -> None:
        service.look(clock())

    def hold_on() -> None:
        # Only whoever issues holds on; the other one tries with each look.
        if service.metrics.holds_lease._value.get() == 1:
            service.lease.take(clock())

    # Once at the start, by the scheduler's own clock: the one that is handed in may be a pretended one.
    found.add_job(look, id="first")
    found.add_job(look, IntervalTrigger(seconds=LOOK_S, timezone=times.zone), id="look")
    found.add_job(hold_on, IntervalTrigger(seconds=LEASE_S, timezone=times.zone), id="lease")
    for name, at in (("issue", times.issue_at), ("remind", times.remind_at)):
        trigger = CronTrigger(hour=at.hour, minute=at.minute, second=at.second, timezone=times.zone)
        found.add_job(look, trigger, id=name)
    return found


def run_until_stopped(service: Service, clock: Clock) -> None:
    """Run until the process is asked to end (SIGTERM, SIGINT); what is at work ends at the next safe point."""
    scheduler, end = wound_up(service, clock), threading.Event()

    def ask(_signal: int, _frame: FrameType | None) -> None:
        service.stop()
        end.set()

    for name in (signal.SIGTERM, signal.SIGINT):
        signal.signal(name, ask)
    scheduler.start()
    service.say(
        "service started", {"issue at": times_text(service), "lease": getattr(service.lease, "holder", "")}
    )
    try:
        # A wait without an end would not hear signals on some systems.
        while not end.wait(1.0):
            pass
    finally:
        service.stop()
        scheduler.shutdown(wait=True)
        service.close()
        service.say("service ended", {})


def times_text(service: Service) -> str:
    """Return the hours of the daily duties."""
    return f"{service.times.issue_at:%H:%M}, reminder at {service.times.remind_at:%H:%M}"
