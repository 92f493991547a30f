"""Pictures as plain numbers: what is drawn, in SI, before anybody decides how it looks."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime


@dataclass(frozen=True)
class Water:
    """Rain by day, and the wetness of a field's surface ahead.

    Attributes
    ----------
    days : tuple of date
    rain_mm, high_mm : tuple of float
        What fell, ahead the middle of what may fall; what nine of ten stay below [mm].
    past : int
        How many of the days lie behind.
    wetness : (low, middle, high)
        10, 50 and 90 % over the members for each hour from today on [fraction of field capacity].
    """

    title: str
    days: tuple[date, ...]
    rain_mm: tuple[float, ...]
    high_mm: tuple[float, ...]
    past: int
    wetness: tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]


@dataclass(frozen=True)
class Progress:
    """Area of a pass by day, summed up [ha].

    Attributes
    ----------
    days : tuple of date
        Of `done`, then of the plan from the day after today on.
    done : tuple of float
        Up to today.
    plan, sure : tuple of float
        From today on: all that is planned, and weighted by its odds.
    total_ha : float
    """

    name: str
    days: tuple[date, ...]
    done: tuple[float, ...]
    plan: tuple[float, ...]
    sure: tuple[float, ...]
    total_ha: float


@dataclass(frozen=True)
class WindowBar:
    """A pass in a field: when it may run, and when it is planned."""

    label: str
    opens: date | None
    closes: date | None
    planned: tuple[tuple[datetime, datetime], ...]


@dataclass(frozen=True)
class Windows:
    """Windows of the passes that are left, what presses most first."""

    title: str
    today: date
    until: date
    bars: tuple[WindowBar, ...]


@dataclass(frozen=True)
class Piece:
    """A block on the board of days."""

    start: datetime
    end: datetime
    text: str
    kind: str
    chance: float


@dataclass(frozen=True)
class Days:
    """Who is where when: a line for each person or rig."""

    title: str
    first: date
    days: int
    rows: tuple[tuple[str, tuple[Piece, ...]], ...]


Picture = Water | Windows | Days | tuple[Progress, ...]
