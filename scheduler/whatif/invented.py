"""What one wish comes to: reports that were never made, a tilt of the weather, a price.

Question answered: *what would have to be reported for this wish to be true, and what does it cost apart from that?*
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from scheduler.events.report import Report
from scheduler.events.situation import FieldPass
from scheduler.planning.demands import Demand
from scheduler.whatif.costs import Price
from scheduler.whatif.tilt import Tilt
from shared.vocabulary import EventKind


@dataclass(frozen=True)
class Invented:
    """What one wish comes to.

    Attributes
    ----------
    reports : tuple of Report
    tilt : Tilt
    price : Price
        Of the hire; by the hour and hectare it is in the reports already.
    start, until : datetime or None
        Of the hire, to count days.
    dropped : tuple of (field, pass)
        Passes wished away, whose loss counts all the same.
    demands : tuple of Demand
        What is to be done by a time.
    """

    reports: tuple[Report, ...] = ()
    tilt: Tilt = field(default_factory=Tilt)
    price: Price = field(default_factory=Price)
    start: datetime | None = None
    until: datetime | None = None
    dropped: tuple[FieldPass, ...] = ()
    demands: tuple[Demand, ...] = ()


def changed(name: str, part: str, values: dict[str, Any], now: datetime) -> Report:
    """Return the report that a machine, person or field of the farm reads otherwise from now on."""
    body = {"part": part, "name": name, "values": values, "why": "what if"}
    return Report(EventKind.FARM_CHANGED, body, now, source="what if")


def days_of(invented: Invented, now: datetime, season_end: datetime) -> float:
    """Return the days for which something is hired; open-ended: until the last day that is planned."""
    if invented.start is None:
        return 0.0
    end = invented.until or season_end
    return max(0.0, (end - max(invented.start, now)) / timedelta(days=1))
