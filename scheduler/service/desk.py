"""Ports of the service: what it asks of the farm. `scheduler.wiring.desk` answers."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from scheduler.planning.plan import Plan
from shared.parcel import Parcel


@dataclass(frozen=True)
class Polled:
    """What a look at the weather brought.

    Attributes
    ----------
    new : bool
        A forecast that was not known before.
    text : str
        One sentence: whose, how old, or why there is none.
    ok : bool
    """

    new: bool
    text: str
    ok: bool = True


@dataclass(frozen=True)
class Made:
    """A plan and what it cost to make.

    Attributes
    ----------
    plan : Plan
    parcels : tuple of Parcel
        For everybody whose day it changes; for all on a morning.
    search_s, all_s : float
        Seconds of the search, and of everything from the first look to the plan.
    trouble : str
        Why the simple rule had to do; empty when the search did its work.
    """

    plan: Plan
    parcels: tuple[Parcel, ...]
    search_s: float
    all_s: float
    trouble: str = ""


class Desk(Protocol):
    """The farm, as the service sees it."""

    def poll(self, now: datetime) -> Polled:
        """Look at the weather; keep a new forecast."""
        ...

    def news_end(self) -> int:
        """Return where the log ends, plans that were issued left aside."""
        ...

    def planned_end(self) -> int:
        """Return up to where the plan that people know was made; 0 when there is none."""
        ...

    def make(self, now: datetime, whole: bool) -> Made:
        """Make a checked plan, by the simple rule when the search fails; `whole`: lists for everybody, changed or not.

        Raises
        ------
        FitgroundError
            Nothing can be planned (no weather, no log); one sentence.
        """
        ...

    def issue(self, made: Made, now: datetime) -> None:
        """Make the plan the one that people work by."""
        ...

    def keep_draft(self, made: Made) -> None:
        """Keep the plan for a person to look at and to issue."""
        ...

    def parcels_again(self, now: datetime) -> tuple[Parcel, ...]:
        """Return the lists of the plan that was issued today: for a service that starts after a stop."""
        ...

    def reminders(self, now: datetime) -> tuple[Parcel, ...]:
        """Return who should be asked for a report this evening."""
        ...
