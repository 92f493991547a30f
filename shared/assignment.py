"""A dated piece of work of one person or machine, as calendars take it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Assignment:
    """One assignment.

    Attributes
    ----------
    name : str
        Stable as long as it is the same work of the same person or machine.
    start, end : datetime
        Aware.
    latitude_deg, longitude_deg : float
        WGS 84.
    number : int
        Rises with every change.
    changed_at : datetime
        When it last changed.
    cancelled : bool
        It was called off before it began.
    """

    name: str
    start: datetime
    end: datetime
    title: str
    place: str
    notes: str
    latitude_deg: float
    longitude_deg: float
    number: int
    changed_at: datetime
    cancelled: bool = False
