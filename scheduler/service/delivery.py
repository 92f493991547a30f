"""Handing out: each parcel once by each outlet; an outlet that fails never stops the others, and is tried again later."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from shared.errors import FitgroundError, OutletFailed
from shared.parcel import Parcel
from shared.ports import Outlet, ServiceBook

FIRST_WAIT = timedelta(minutes=1)
LONGEST_WAIT = timedelta(minutes=30)
GIVE_UP = timedelta(hours=12)
"""A day list that did not get out for so long is of no use any more."""
Say = Callable[[str, Mapping[str, object]], None]


@dataclass
class _Waiting:
    outlet: Outlet
    parcel: Parcel
    since: datetime
    next_try: datetime
    tries: int = 0


@dataclass
class Delivery:
    """Parcels on their way.

    Attributes
    ----------
    outlets : sequence of Outlet
    people : mapping of outlet name to people
        Whom an outlet serves; everybody where it is not named.
    """

    outlets: Sequence[Outlet]
    book: ServiceBook
    people: Mapping[str, Sequence[str]] = field(default_factory=dict)
    waiting: list[_Waiting] = field(default_factory=list)
    failures: dict[str, str] = field(default_factory=dict)

    def add(self, parcels: Iterable[Parcel], now: datetime) -> None:
        """Take parcels in; a newer one for the same person and day takes the place of one that still waits."""
        for parcel in parcels:
            kind = _kind(parcel)
            self.waiting = [w for w in self.waiting if _kind(w.parcel) != kind]
            for outlet in self.outlets:
                wanted = self.people.get(outlet.name, ())
                if wanted and parcel.to not in wanted:
                    continue
                if not self.book.delivered(outlet.name, parcel.name):
                    self.waiting.append(_Waiting(outlet, parcel, now, now))

    def send(self, now: datetime, say: Say) -> int:
        """Try what is due; return how many got out."""
        sent, keep = 0, []
        for one in self.waiting:
            if now < one.next_try and one.next_try - now <= LONGEST_WAIT:
                keep.append(one)
                continue
            name = one.outlet.name
            try:
                one.outlet.hand_out(one.parcel)
                self.book.note_delivery(name, one.parcel.name, now)
            except Exception as error:
                again = not isinstance(error, OutletFailed) or error.again
                said = str(error) if isinstance(error, FitgroundError) else f"{name}: {type(error).__name__}"
                self.failures[name] = said
                one.tries += 1
                one.next_try = now + min(LONGEST_WAIT, FIRST_WAIT * 2 ** (one.tries - 1))
                if again and now - one.since < GIVE_UP:
                    keep.append(one)
                say(
                    "hand-out failed",
                    {"outlet": name, "to": one.parcel.to, "why": said, "tries": one.tries, "again": again},
                )
                continue
            self.failures.pop(name, None)
            sent += 1
            say("handed out", {"outlet": name, "to": one.parcel.to, "parcel": one.parcel.name})
        self.waiting = keep
        return sent


def _kind(parcel: Parcel) -> tuple[str, object, str]:
    """Return what makes a newer parcel take the place of an older one."""
    return parcel.to, parcel.day, parcel.kind
