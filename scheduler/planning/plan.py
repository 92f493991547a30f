"""The plan: dated blocks of work, what is left for later or left out and why, what must be ready, and its value.

Pydantic records, so that the same document is stored, shown as JSON, and read back to be compared.
"""

from __future__ import annotations

from datetime import date, datetime

from pydantic import BaseModel, ConfigDict
from pydantic import Field as Key

from scheduler.events.presumed import Presumed

LOOK_FIRST = 0.75
"""Below these odds of fit ground people look before they drive in (common practice, no source)."""


class PlanRecord(BaseModel):
    """Base of plan records."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class PlanBlock(PlanRecord):
    """One dated piece of work.

    Attributes
    ----------
    id : str
        Stable across plans as long as field, pass and part stay the same.
    start, end : datetime
        Farm-local, to the quarter hour outside of work under way.
    rig : str or None
        Rig id (machine ids joined by ``+``); None for work on foot.
    operator, support : str
        Operator ids; support None where none is needed.
    area_ha : float
    chance : float
        Odds that the block can run as planned.
    pinned, under_way : bool
    why_then, why_not_sooner : str
        Plain sentences.
    waits_for : tuple of str
        Block ids that must end first (same field), for the crew.
    loss : float
        Timeliness loss of this block [money].
    """

    id: str
    field: str
    pass_id: str
    start: datetime
    end: datetime
    rig: str | None
    machines: tuple[str, ...] = ()
    operator: str
    support: str | None = None
    area_ha: float
    chance: float = 1.0
    pinned: bool = False
    under_way: bool = False
    why_then: str = ""
    why_not_sooner: str = ""
    waits_for: tuple[str, ...] = ()
    loss: float = 0.0


class Instead(PlanRecord):
    """What somebody does where a doubtful block turns out unfit as it begins; see `planning.instead`.

    Attributes
    ----------
    block : str
        Id of the block.
    operator : str
        Who of its people.
    then : PlanBlock or None
        Their next work that day: the same field later, what they do next anyway, or something else; None: nothing.
    """

    block: str
    operator: str
    then: PlanBlock | None = None


class LaterWork(PlanRecord):
    """Area of a pass left to a week behind the horizon.

    Attributes
    ----------
    rig : str or None
        The rig (machine ids joined by ``+``) in whose hours of that week room was found; None for work on foot.
    way : int
        Which of the ways to do it with that rig (people differ), as the engine counts them.
    """

    field: str
    pass_id: str
    week_from: date
    week_to: date
    area_ha: float
    loss: float = 0.0
    rig: str | None = None
    way: int = 0


class LeftOut(PlanRecord):
    """Area of a pass that is in neither, with the reason (a `Reason` value) and a true sentence; empty where nobody asked.

    Attributes
    ----------
    after : str
        The earlier pass that it waits for, where that is the reason.
    """

    field: str
    pass_id: str
    area_ha: float
    reason: str
    text: str
    loss: float = 0.0
    after: str = ""


class ReadyItem(PlanRecord):
    """Something that must be ready: product, rig, licence or person, by when, and whether it is."""

    kind: str
    what: str
    by: datetime
    text: str
    ok: bool = True


class Worry(PlanRecord):
    """A thing to watch: a window closing, stock short, stale weather, hours over.

    Attributes
    ----------
    line : str
        Of a worry about a pass in a field: the sentence with places for `values`, as translations know it.
    values : dict
        Dates and times in ISO 8601; `left_ha` an area [ha], `chance` a share.
    """

    severity: int = Key(ge=1, le=3)
    text: str
    field: str | None = None
    pass_id: str | None = None
    line: str = ""
    values: dict[str, str] = {}


class Value(PlanRecord):
    """Expected money of the plan by part, against the baseline and the proven bound.

    Attributes
    ----------
    total, bound, gap : float
        Recomputed value, proven lower bound, unproven share.
    dispatch_total : float
        Value of the dispatch rule on the same morning.
    parts : dict
        late, undone, later, wages, overtime, road, running, risk, handover, change.
    """

    total: float
    bound: float
    gap: float
    dispatch_total: float
    parts: dict[str, float]
    status: str


class Spread(PlanRecord):
    """The loss over the members of the forecast when people work by this plan [money]; see `planning.odds`."""

    expected: float
    p10: float
    p90: float
    members: int


class Plan(PlanRecord):
    """A checked plan.

    Attributes
    ----------
    method : str
        ``engine``, ``kept`` (the earlier plan is as good), ``mended`` (the earlier plan, what broke filled in by the
        rule, is as good), or ``rule`` (the dispatch rule).
    spread : Spread or None
        What the loss may come to over the possible weathers.
    presumed : tuple of Presumed
        What of today's work is taken as done though nobody has reported it (see `planning.presumed`).
    on_way : dict
        By machine and person: since when they are on the road to their next block (see `planning.on_way`).
    instead : tuple of Instead
        Second choices for the doubtful blocks of today and tomorrow.
    finish_chance : dict
        By pass of which all that is left is planned: the odds that all of it is done within these days.
    fingerprint : str
        Of everything the plan was made from; the same again needs no new plan.
    before : str
        Id of the plan that people knew when this one was made.
    chance_before : dict
        By id of a block of that plan: the odds, as they are now, that it could run in the hours it had.
    paces : dict
        By machine: what its work is counted to take over the time of the farm file, where reports taught it.
    """

    id: str
    farm: str
    made_at: datetime
    first_day: date
    days: int
    time_zone: str
    blocks: tuple[PlanBlock, ...]
    later: tuple[LaterWork, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    presumed: tuple[Presumed, ...] = ()
    on_way: dict[str, datetime] = Key(default_factory=dict)
    instead: tuple[Instead, ...] = ()
    ready: tuple[ReadyItem, ...] = ()
    worries: tuple[Worry, ...] = ()
    binds: tuple[str, ...] = ()
    value: Value
    spread: Spread | None = None
    finish_chance: dict[str, float] = Key(default_factory=dict)
    method: str = "engine"
    log_sequence: int = 0
    forecast_issued_at: datetime | None = None
    notes: tuple[str, ...] = ()
    seed: int = 0
    fingerprint: str = ""
    before: str = ""
    chance_before: dict[str, float] = Key(default_factory=dict)
    paces: dict[str, float] = Key(default_factory=dict)

    def of_day(self, day: date) -> tuple[PlanBlock, ...]:
        """Return the blocks that start on a local day, in order of start."""
        return tuple(block for block in self.blocks if block.start.date() == day)

    def of_operator(self, operator: str) -> tuple[PlanBlock, ...]:
        """Return the blocks that a person drives or supports, in order of start."""
        return tuple(block for block in self.blocks if operator in (block.operator, block.support))
