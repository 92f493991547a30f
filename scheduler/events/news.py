"""What a report is about (the work, the things, the field, the ground), so that a change can be told its true cause."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from types import MappingProxyType

from scheduler.events import kinds
from scheduler.events.codec import Event
from scheduler.events.kinds import Part

ALL = "all"
OF_WORK = (
    kinds.PassStarted,
    kinds.PassPaused,
    kinds.PassProgressed,
    kinds.PassFinished,
    kinds.PassCancelled,
    kinds.PassAdded,
    kinds.BlockPinned,
)
NOTHING_TOLD: Mapping[str, Event] = MappingProxyType({})


@dataclass(frozen=True)
class News:
    """A report since the last plan.

    Attributes
    ----------
    id, sentence : str
        The event, and what it says.
    at : datetime or None
        When it happened.
    work : frozenset of (field, pass)
        Work of which it tells how far it is, or when it is to be.
    things : frozenset of str
        Machines, people and products that are missing, or there.
    span : (datetime, datetime or None) or None
        When the things are missing; None where it is about all of their time.
    fields : frozenset of str
        Fields that are not as they were: crop, rates, anything of the farm's files.
    ground : frozenset of str
        Fields whose ground is wetter or drier than was thought; `ALL` for every one.
    everything : bool
        It may change any of the work.
    """

    id: str
    sentence: str
    at: datetime | None = None
    work: frozenset[tuple[str, str]] = frozenset()
    things: frozenset[str] = frozenset()
    span: tuple[datetime, datetime | None] | None = None
    fields: frozenset[str] = frozenset()
    ground: frozenset[str] = frozenset()
    everything: bool = False

    @property
    def names(self) -> frozenset[str]:
        """Ids of everything that it names; `ALL` where it touches every field."""
        of_all = frozenset({ALL}) if self.everything else frozenset()
        return frozenset(f for f, _ in self.work) | self.things | self.fields | self.ground | of_all


def news_of(event: Event, sentence: str, told: Mapping[str, Event] = NOTHING_TOLD) -> News:
    """Return what a report is about.

    Parameters
    ----------
    sentence : str
        What it says, in words.
    told : mapping of event id to Event
        The history: a correction is about what it corrects, a pin taken out about what it held.
    """
    news, body = News(event.id, sentence, event.happened_at), event.body
    if isinstance(body, kinds.EventCorrected) and body.event_id in told:
        event = told[body.event_id]
        news, body = replace(news, at=event.happened_at), event.body
    if isinstance(body, kinds.BlockUnpinned):
        pins = [e.body for e in told.values() if isinstance(e.body, kinds.BlockPinned)]
        body = next((pin for pin in reversed(pins) if pin.pin == body.pin), body)
    return _about(news, event, body)


def _about(news: News, event: Event, body: object) -> News:
    def say(**about: object) -> News:
        return replace(news, **about)  # type: ignore[arg-type]

    if isinstance(body, OF_WORK):
        return say(work=frozenset({(body.field, body.pass_id)}))
    match body:
        case kinds.MachineDown():
            return say(things=frozenset({body.machine}), span=(body.start or event.happened_at, body.until))
        case kinds.OperatorAbsent():
            return say(things=frozenset({body.operator}), span=(body.start or event.happened_at, body.until))
        case kinds.MachineBack():
            return say(things=frozenset({body.machine}))
        case kinds.OperatorBack():
            return say(things=frozenset({body.operator}))
        case kinds.MachineAdded():
            return say(things=frozenset({body.machine.id}))
        case kinds.OperatorAdded():
            return say(things=frozenset({body.operator.id}))
        case kinds.SupplyDelivered() | kinds.SupplyDelayed():
            return say(things=frozenset({body.product}))
        case kinds.RainMeasured() | kinds.GroundCalibrated():
            return say(ground=frozenset({body.field or ALL}))
        case kinds.GroundChecked():
            return say(ground=frozenset({body.field}))
        case kinds.StageScouted() | kinds.TissueSampled():
            return say(fields=frozenset({body.field}))
        case kinds.FarmChanged(part=Part.FIELD):
            return say(fields=frozenset(body.name.split(",")))
        case kinds.FarmChanged(part=Part.MACHINE | Part.OPERATOR):
            return say(things=frozenset(body.name.split(",")))
    return say(everything=True)
