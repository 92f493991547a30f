"""What is true now: the records that the fold of the log yields, read by windows, planning and crew lists.

`State` (state.py) keeps the facts; `situation(farm, state, now)` (fold.py) derives this picture from them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from scheduler.farm.farm import Farm
from scheduler.farm.learned_pace import LearnedPace
from shared.vocabulary import Fitness

FieldPass = tuple[str, str]
LEAST_HA = 0.05
"""Rests below this are nobody's trip: they count as done."""


@dataclass(frozen=True)
class Running:
    """Somebody is at work on a pass: since when, with what, and who, where that was said."""

    since: datetime
    rig: str | None = None
    operator: str | None = None


@dataclass(frozen=True)
class PassState:
    """How far one pass in one field is.

    Attributes
    ----------
    done_ha : float
        Area done [ha]; the whole area once finished.
    started_at, finished_at : datetime or None
    finished, cancelled : bool
    last_rig, last_operator : str or None
        Who was last on it: work under way stays with them.
    running : Running or None
        Who said today that they began, and neither paused nor finished since.
    paused_at : datetime or None
        When work last stopped.
    """

    done_ha: float = 0.0
    started_at: datetime | None = None
    finished_at: datetime | None = None
    finished: bool = False
    cancelled: bool = False
    last_rig: str | None = None
    last_operator: str | None = None
    last_report_at: datetime | None = None
    running: Running | None = None
    paused_at: datetime | None = None


@dataclass(frozen=True)
class Span:
    """A stretch of time, open-ended when `end` is None, and why."""

    start: datetime
    end: datetime | None = None
    why: str = ""
    event_id: str = ""


@dataclass(frozen=True)
class Rain:
    """A gauge reading: rain between two times, on one field (None: the whole farm)."""

    field_id: str | None
    start: datetime
    end: datetime
    rain_mm: float
    event_id: str = ""


@dataclass(frozen=True)
class Check:
    """A spade test."""

    field_id: str
    at: datetime
    verdict: Fitness
    pass_id: str | None = None
    event_id: str = ""


@dataclass(frozen=True)
class Calibrated:
    """What past records taught about a field's ground, and when that was settled."""

    limit_shift: float
    drying_factor: float
    at: datetime
    event_id: str = ""


@dataclass(frozen=True)
class Sighting:
    """A scouted stage or height."""

    field_id: str
    at: datetime
    stage: str | None = None
    height_m: float | None = None
    event_id: str = ""


@dataclass(frozen=True)
class Pinned:
    """A pin in force."""

    pin: str
    field_id: str
    pass_id: str
    start: datetime
    rig: str | None = None
    operator: str | None = None
    area_ha: float | None = None
    event_id: str = ""


@dataclass(frozen=True)
class Supply:
    """Stock now and deliveries to come of one product, in base units (L, kg, seeds).

    `used` is what the reported area has taken since the log began, at the rates in force then.
    """

    stock: float
    deliveries: tuple[tuple[date, float, str], ...] = ()
    received: float = 0.0
    used: float = 0.0


@dataclass(frozen=True)
class Situation:
    """Everything that planning needs to know of the log, at one moment.

    Attributes
    ----------
    farm : Farm
        The farm with machines, operators and passes added since.
    now : datetime
    passes : mapping of (field, pass) to PassState
        Every pass of every field, in programme order.
    planted : mapping of field to date
    machine_down, operator_away : mapping of id to spans
    rain, checks, sightings, pins : tuples
    calibrated : mapping of field ("" for all others) to Calibrated
    rate_factor : mapping of field to factor
        What tissue results make of the side-dress rate.
    supplies : mapping of product to Supply
    worked_minutes : mapping of (operator, date) to minutes reported
    paces : mapping of machine to LearnedPace
        What reports of earlier days taught about how long its work takes; in `farm` already, unless it is not to learn.
    presumed : frozenset of (field, pass)
        Passes of which something is taken as done that nobody reported (see `events.presumed`).
    on_way : mapping of machine or operator to time
        Since when they are on the road to their next work, by the plan that they know; nothing the log says.
    sequence : int
        Last event counted.
    last_plan_id : str or None
    """

    farm: Farm
    now: datetime
    passes: Mapping[FieldPass, PassState] = field(default_factory=dict)
    planted: Mapping[str, date] = field(default_factory=dict)
    machine_down: Mapping[str, tuple[Span, ...]] = field(default_factory=dict)
    operator_away: Mapping[str, tuple[Span, ...]] = field(default_factory=dict)
    rain: tuple[Rain, ...] = ()
    calibrated: Mapping[str, Calibrated] = field(default_factory=dict)
    checks: tuple[Check, ...] = ()
    sightings: tuple[Sighting, ...] = ()
    pins: tuple[Pinned, ...] = ()
    rate_factor: Mapping[str, float] = field(default_factory=dict)
    supplies: Mapping[str, Supply] = field(default_factory=dict)
    worked_minutes: Mapping[tuple[str, date], float] = field(default_factory=dict)
    paces: Mapping[str, LearnedPace] = field(default_factory=dict)
    presumed: frozenset[FieldPass] = frozenset()
    on_way: Mapping[str, datetime] = field(default_factory=dict)
    sequence: int = 0
    last_plan_id: str | None = None

    def is_due(self, field_id: str, pass_id: str) -> bool:
        """Return whether it is the turn of a pass: not over, and all that it must come after is."""
        spec = self.farm.programme_of(self.farm.field_by_id[field_id]).find(pass_id)
        if spec is None or self.left_ha(field_id, pass_id) <= 0:
            return False
        return not any(self.left_ha(field_id, one.pass_id) for one in spec.after if one.required)

    def left_ha(self, field_id: str, pass_id: str) -> float:
        """Return the area still to do [ha]; 0 when finished or cancelled."""
        state = self.passes.get((field_id, pass_id), PassState())
        if state.finished or state.cancelled:
            return 0.0
        return max(0.0, self.farm.field_by_id[field_id].area_ha - state.done_ha)
