"""A desk, a book, a lease and outlets in memory, and a clock that tests move."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from scheduler.planning.plan import Plan, Value
from scheduler.service.delivery import Delivery
from scheduler.service.desk import Made, Polled
from scheduler.service.duties import Times
from scheduler.service.metrics import Metrics
from scheduler.service.service import Service
from shared.errors import FitgroundError, OutletFailed
from shared.parcel import Parcel

ZONE = ZoneInfo("America/Chicago")
START = datetime(2027, 5, 10, 4, 0, tzinfo=ZONE)
VALUE = Value(total=100.0, bound=80.0, gap=0.2, dispatch_total=150.0, parts={}, status="FEASIBLE")


def parcel(name: str = "p1/ann", to: str = "ann", day: date = date(2027, 5, 10), **more: Any) -> Parcel:
    """Return a day list."""
    return Parcel(name, to, f"List of {to}", "text", "<p>text</p>", day, **more)


def plan(made_at: datetime, sequence: int, method: str = "engine") -> Plan:
    """Return an empty plan."""
    return Plan(
        id=f"p{made_at:%d%H%M}", farm="f", made_at=made_at, first_day=made_at.date(), days=14, time_zone=str(ZONE), blocks=(),
        value=VALUE, log_sequence=sequence, method=method,
    )  # fmt: skip


@dataclass
class MemoryBook:
    """A service book in memory."""

    marks: dict[str, str] = field(default_factory=dict)
    sent: set[tuple[str, str]] = field(default_factory=set)

    def delivered(self, outlet: str, parcel: str) -> bool:
        return (outlet, parcel) in self.sent

    def note_delivery(self, outlet: str, parcel: str, sent_at: datetime) -> None:
        self.sent.add((outlet, parcel))

    def mark(self, name: str) -> str:
        return self.marks.get(name, "")

    def set_mark(self, name: str, value: str) -> None:
        self.marks[name] = value


@dataclass
class FakeLease:
    """A lease that is there or not."""

    free: bool = True
    given_back: int = 0

    def take(self, now: datetime) -> bool:
        return self.free

    def give_back(self) -> None:
        self.given_back += 1


@dataclass
class FakeDesk:
    """A farm that plans at once, and fails when told to."""

    end: int = 0
    made: list[tuple[datetime, bool]] = field(default_factory=list)
    issued: list[Plan] = field(default_factory=list)
    drafts: list[Plan] = field(default_factory=list)
    forecast: int = 0
    polled: int = 0
    fail: str = ""

    def poll(self, now: datetime) -> Polled:
        self.polled += 1
        new, self.forecast = self.forecast > 0, max(0, self.forecast - 1)
        return Polled(new, "one")

    def news_end(self) -> int:
        return self.end

    def planned_end(self) -> int:
        return max((max(1, one.log_sequence) for one in (*self.issued, *self.drafts)), default=0)

    def make(self, now: datetime, whole: bool) -> Made:
        self.made.append((now, whole))
        if self.fail:
            raise FitgroundError(self.fail)
        one = plan(now, self.end)
        return Made(one, (parcel(f"{one.id}/ann"),), 0.1, 0.2)

    def issue(self, made: Made, now: datetime) -> None:
        self.issued.append(made.plan)

    def keep_draft(self, made: Made) -> None:
        self.drafts.append(made.plan)

    def parcels_again(self, now: datetime) -> tuple[Parcel, ...]:
        return ()

    def reminders(self, now: datetime) -> tuple[Parcel, ...]:
        return (parcel(f"remind-{now.date()}/ann", kind="reminder"),)


@dataclass
class FakeOutlet:
    """An outlet that remembers, and fails as often as told."""

    name: str = "tray"
    got: list[str] = field(default_factory=list)
    fails: int = 0
    error: Exception = field(default_factory=lambda: OutletFailed("tray: jammed."))

    def hand_out(self, parcel: Parcel) -> None:
        if self.fails > 0:
            self.fails -= 1
            raise self.error
        self.got.append(parcel.name)


@dataclass
class House:
    """A service with everything faked, and what it said."""

    desk: FakeDesk = field(default_factory=FakeDesk)
    book: MemoryBook = field(default_factory=MemoryBook)
    lease: FakeLease = field(default_factory=FakeLease)
    outlets: list[FakeOutlet] = field(default_factory=lambda: [FakeOutlet()])
    drafts: bool = False
    said: list[tuple[str, dict[str, object]]] = field(default_factory=list)

    def service(self) -> Service:
        """Return a service, as a process that starts has it."""
        times = Times(
            ZONE, time(5), time(19, 30), timedelta(hours=1), timedelta(minutes=3), timedelta(minutes=15)
        )
        delivery = Delivery(self.outlets, self.book)
        return Service(
            self.desk, self.book, self.lease, delivery, times, Metrics(), lambda text, facts: self.said.append((text, dict(facts))),
            drafts=self.drafts,
        )  # fmt: skip


def at(minutes: float, start: datetime = START) -> datetime:
    """Return a moment so many minutes of real time after the start."""
    return (start.astimezone(UTC) + timedelta(minutes=minutes)).astimezone(ZONE)
