"""Ports: what the core asks of the outside world. Adapters implement them; `scheduler.wiring` joins the two."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Protocol, runtime_checkable

from shared.event_record import EventRecord
from shared.parcel import Parcel
from shared.weather_records import DailyWeather, HourlyWeather, Place


@runtime_checkable
class WeatherSource(Protocol):
    """Weather for one place: what was observed, and what may come."""

    @property
    def name(self) -> str:
        """What the source is called."""
        ...

    def observed(self, place: Place, first_day: date, until: datetime) -> HourlyWeather:
        """Return observed hours from the start of `first_day` (local) up to `until`, one member.

        Raises
        ------
        WeatherUnavailable
            Nothing usable; the message says why.
        """
        ...

    def forecast(self, place: Place, now: datetime) -> HourlyWeather:
        """Return the latest forecast issued at or before `now`; members as they are.

        Raises
        ------
        WeatherUnavailable
            No forecast; the caller goes on with the last good one, then with climatology.
        """
        ...

    def normals(self, place: Place) -> DailyWeather:
        """Return many years of past days (one member, consecutive) for climatology and spin-up."""
        ...


@runtime_checkable
class EventLog(Protocol):
    """An append-only log. `append` returns only when the event is safe on disk."""

    def append(self, events: Sequence[EventRecord], expected_last: int | None = None) -> list[EventRecord]:
        """Store events in order and return them with their sequence; known ids are returned as first stored.

        Raises
        ------
        EventLogError
            Locked, full or damaged, or `expected_last` is not the last sequence; nothing was stored.
        """
        ...

    def read(self, after: int = 0) -> Iterable[EventRecord]:
        """Yield events with a sequence above `after`, in order."""
        ...

    def last_sequence(self) -> int:
        """Return the sequence of the last event; 0 for an empty log."""
        ...


@runtime_checkable
class PlanShelf(Protocol):
    """Issued plans, kept whole with what they were made from."""

    def put(self, plan_id: str, made_at: datetime, document: str) -> None:
        """Keep a plan document (JSON text); the same id again replaces nothing and is no error."""
        ...

    def get(self, plan_id: str) -> str | None:
        """Return a plan document, or None."""
        ...

    def latest(self) -> str | None:
        """Return the document of the plan made last, or None."""
        ...

    def known_at(self, moment: datetime) -> str | None:
        """Return the document of the plan that was the newest at a moment, or None."""
        ...


@runtime_checkable
class Lease(Protocol):
    """Of several services on one farm, one holds the lease, and only that one issues."""

    def take(self, now: datetime) -> bool:
        """Take or renew it; return whether this holder has it now."""
        ...

    def give_back(self) -> None:
        """Give it back, so that the next one need not wait."""
        ...


@runtime_checkable
class ServiceBook(Protocol):
    """What the service remembers between runs."""

    def delivered(self, outlet: str, parcel: str) -> bool:
        """Return whether an outlet has handed out a parcel already."""
        ...

    def note_delivery(self, outlet: str, parcel: str, sent_at: datetime) -> None:
        """Remember that an outlet has handed out a parcel."""
        ...

    def mark(self, name: str) -> str:
        """Return what was remembered under a name, or an empty text."""
        ...

    def set_mark(self, name: str, value: str) -> None:
        """Remember a text under a name."""
        ...


@runtime_checkable
class ForecastBook(Protocol):
    """Forecasts that were used: for a day without one, and to be held against what fell."""

    def keep(self, forecast: HourlyWeather, fetched_at: datetime) -> bool:
        """Keep a forecast; return whether it is new."""
        ...

    def newest(self, until: datetime) -> HourlyWeather | None:
        """Return the forecast issued last of those fetched up to a moment, or None."""
        ...

    def between(self, first: datetime, last: datetime) -> list[tuple[datetime, HourlyWeather]]:
        """Return the forecasts fetched in a span, oldest first, each with when it was fetched."""
        ...


@runtime_checkable
class Outlet(Protocol):
    """A way out for day lists and plans."""

    name: str

    def hand_out(self, parcel: Parcel) -> None:
        """Hand out one parcel; again is no harm.

        Raises
        ------
        OutletFailed
            It did not get out.
        """
        ...
