"""What is true while facts are being counted."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from zoneinfo import ZoneInfo

from scheduler.events.situation import Calibrated, Check, FieldPass, PassState, Pinned, Rain, Sighting, Span
from scheduler.farm.farm import Farm
from scheduler.farm.learned_pace import Visit
from scheduler.farm.rig import Rig, rigs_of


@dataclass(frozen=True)
class Worked:
    """A visit of a machine to a field, and its day."""

    machine: str
    day: date
    visit: Visit


@dataclass
class Draft:
    """What is being gathered; turned into a frozen `Situation` at the end."""

    farm: Farm
    zone: ZoneInfo
    passes: dict[FieldPass, PassState] = field(default_factory=dict)
    planted: dict[str, date] = field(default_factory=dict)
    down: dict[str, list[Span]] = field(default_factory=dict)
    away: dict[str, list[Span]] = field(default_factory=dict)
    rain: list[Rain] = field(default_factory=list)
    checks: list[Check] = field(default_factory=list)
    calibrated: dict[str, Calibrated] = field(default_factory=dict)
    sightings: list[Sighting] = field(default_factory=list)
    pins: dict[str, Pinned] = field(default_factory=dict)
    factors: dict[str, float] = field(default_factory=dict)
    used: dict[str, float] = field(default_factory=dict)
    received: dict[str, float] = field(default_factory=dict)
    opening: dict[str, float] = field(default_factory=dict)
    arrived: set[tuple[str, str]] = field(default_factory=set)
    new_dates: dict[tuple[str, str], date] = field(default_factory=dict)
    worked: dict[tuple[str, date], float] = field(default_factory=dict)
    visits: list[Worked] = field(default_factory=list)
    last_plan: str | None = None

    @cached_property
    def rigs(self) -> tuple[Rig, ...]:
        """Every rig of the farm, put together once for all facts."""
        return rigs_of(self.farm)
