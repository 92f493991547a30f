"""The body of every event kind: past-tense facts, frozen, in SI. An event is never changed, only corrected.

Bodies name fields, passes, machines, operators and products by id. `KINDS` joins kind and body.
"""

from __future__ import annotations

from datetime import date
from typing import Any

from pydantic import AwareDatetime, BaseModel, ConfigDict
from pydantic import Field as Key

from scheduler.farm.altered import Part
from scheduler.farm.machine import Machine
from scheduler.farm.operator import Operator
from shared.vocabulary import EventKind, Fitness


class Body(BaseModel):
    """Base of event bodies: frozen, unknown keys refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class RainMeasured(Body):
    """Rain in a gauge since `since` (default: the local day of `happened_at`); on one field, or the whole farm."""

    field: str | None = None
    rain_mm: float = Key(ge=0, le=400)
    since: AwareDatetime | None = None
    until: AwareDatetime | None = None


class ForecastReceived(Body):
    """A forecast arrived; `key` finds it again at its source."""

    source: str
    issued_at: AwareDatetime
    key: str = ""
    members: int = 0


class PassStarted(Body):
    """Somebody went to work on the pass: it goes on until it is paused, finished, or the day is over."""

    field: str
    pass_id: str
    operator: str | None = None
    rig: str | None = None


class PassPaused(Body):
    """Work on the pass stopped; what was done of it is told by itself."""

    field: str
    pass_id: str
    operator: str | None = None
    why: str = ""


class PassProgressed(Body):
    """Area done since the last report of this pass (not the total)."""

    field: str
    pass_id: str
    area_ha: float = Key(ge=0)
    operator: str | None = None
    rig: str | None = None
    started_at: AwareDatetime | None = None
    ended_at: AwareDatetime | None = None


class PassFinished(Body):
    """The pass is done in this field, whatever the area sums say."""

    field: str
    pass_id: str
    operator: str | None = None


class PassCancelled(Body):
    """The pass will not be done in this field this season."""

    field: str
    pass_id: str
    why: str = ""


class PassAdded(Body):
    """One more pass of the field's programme kind; a copy of `like` with its own id."""

    field: str
    pass_id: str
    like: str
    first_date: date | None = None
    last_date: date | None = None


class MachineDown(Body):
    """A machine cannot run from `start` (default: then) until `until` (unknown: until it is reported back)."""

    machine: str
    start: AwareDatetime | None = None
    until: AwareDatetime | None = None
    why: str = ""


class MachineBack(Body):
    """A machine runs again."""

    machine: str


class MachineAdded(Body):
    """A machine was hired or bought: there from `start` (default: then) until `until` (default: for good).

    What goes with the machine `like` (implements that it pulls, tenders, people who handle it) goes with it too.
    """

    machine: Machine
    like: str | None = None
    start: AwareDatetime | None = None
    until: AwareDatetime | None = None


class OperatorAbsent(Body):
    """A person is away from `start` (default: then) until `until` (unknown: until reported back)."""

    operator: str
    start: AwareDatetime | None = None
    until: AwareDatetime | None = None
    why: str = ""


class OperatorBack(Body):
    """A person is back."""

    operator: str


class OperatorAdded(Body):
    """A person joined: there from `start` (default: then) until `until` (default: for good)."""

    operator: Operator
    start: AwareDatetime | None = None
    until: AwareDatetime | None = None


class SupplyDelivered(Body):
    """Product arrived: `amount` in the product's base unit (L, kg, seeds); `delivery` names an expected one."""

    product: str
    amount: float = Key(ge=0)
    delivery: str | None = None


class SupplyDelayed(Body):
    """An expected delivery moved to a new day."""

    product: str
    delivery: str
    new_date: date


class SupplyCounted(Body):
    """Somebody counted what is there: `amount` in the product's base unit, whatever the books say."""

    product: str
    amount: float = Key(ge=0)
    why: str = ""


class StageScouted(Body):
    """Somebody looked: the crop's stage, and its height if measured [m]."""

    field: str
    stage: str | None = None
    height_m: float | None = Key(default=None, ge=0, le=5)


class GroundChecked(Body):
    """Somebody put a spade in it: what the ground would carry, for which pass if named."""

    field: str
    verdict: Fitness
    pass_id: str | None = None


class TissueSampled(Body):
    """A laboratory result [% of dry matter]; moves the rate by the farm's tissue rule."""

    field: str
    nutrient: str = "N"
    value_pct: float = Key(gt=0, le=15)


class BlockPinned(Body):
    """The word of the person in charge: this pass in this field by these people at this time."""

    pin: str
    field: str
    pass_id: str
    start: AwareDatetime
    rig: str | None = None
    operator: str | None = None
    area_ha: float | None = Key(default=None, gt=0)


class BlockUnpinned(Body):
    """A pin was taken out."""

    pin: str


class GroundCalibrated(Body):
    """What past records taught about one field, or (no field) about all: where its limits lie, how slowly it drains.

    `limit_shift` [fraction of field capacity] is added to every wetness limit, `drying_factor` multiplies the drainage times;
    `*_sd` say how sure; `learned_from` is for people, `error_before` and `error_after` [days per week] where weeks taught it.
    """

    field: str | None = None
    limit_shift: float = Key(ge=-0.5, le=0.5)
    drying_factor: float = Key(default=1.0, ge=0.1, le=10)
    limit_sd: float = Key(default=0.05, gt=0, le=0.5)
    drying_log_sd: float = Key(default=0.35, gt=0, le=2)
    learned_from: str = ""
    error_before: float | None = None
    error_after: float | None = None


class FarmChanged(Body):
    """Something of the farm reads otherwise from now on: `values` by file key, written as in the farm files.

    `name` is the id of the thing, ``PROGRAMME/PASS`` for a pass, empty for the plan settings.
    """

    part: Part
    name: str = ""
    values: dict[str, Any] = Key(min_length=1)
    why: str = ""


class PlanIssued(Body):
    """A plan went out; the document lies on the plan shelf."""

    plan_id: str
    made_at: AwareDatetime
    log_sequence: int


class EventCorrected(Body):
    """An earlier event was wrong: replaced by a new body of the same kind, or taken out (`body` None)."""

    event_id: str
    body: dict[str, Any] | None = None
    why: str = ""


KINDS: dict[EventKind, type[Body]] = {
    EventKind.RAIN_MEASURED: RainMeasured,
    EventKind.FORECAST_RECEIVED: ForecastReceived,
    EventKind.PASS_STARTED: PassStarted,
    EventKind.PASS_PAUSED: PassPaused,
    EventKind.PASS_PROGRESSED: PassProgressed,
    EventKind.PASS_FINISHED: PassFinished,
    EventKind.PASS_CANCELLED: PassCancelled,
    EventKind.PASS_ADDED: PassAdded,
    EventKind.MACHINE_DOWN: MachineDown,
    EventKind.MACHINE_BACK: MachineBack,
    EventKind.MACHINE_ADDED: MachineAdded,
    EventKind.OPERATOR_ABSENT: OperatorAbsent,
    EventKind.OPERATOR_BACK: OperatorBack,
    EventKind.OPERATOR_ADDED: OperatorAdded,
    EventKind.SUPPLY_DELIVERED: SupplyDelivered,
    EventKind.SUPPLY_DELAYED: SupplyDelayed,
    EventKind.SUPPLY_COUNTED: SupplyCounted,
    EventKind.STAGE_SCOUTED: StageScouted,
    EventKind.GROUND_CHECKED: GroundChecked,
    EventKind.TISSUE_SAMPLED: TissueSampled,
    EventKind.BLOCK_PINNED: BlockPinned,
    EventKind.BLOCK_UNPINNED: BlockUnpinned,
    EventKind.GROUND_CALIBRATED: GroundCalibrated,
    EventKind.FARM_CHANGED: FarmChanged,
    EventKind.PLAN_ISSUED: PlanIssued,
    EventKind.EVENT_CORRECTED: EventCorrected,
}

QUIET_KINDS = frozenset(
    {EventKind.PLAN_ISSUED, EventKind.FORECAST_RECEIVED, EventKind.PASS_STARTED, EventKind.PASS_PAUSED}
)
"""What alone makes no new plan; work begun does where the plan does not have it (`wiring.news_or_not`)."""
