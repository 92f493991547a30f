"""What a report is about (the work, the things, the field, the ground), so that a change can be told its true cause."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime

from scheduler.events import kinds
from scheduler.events.codec import Event
from scheduler.events.kinds import Part
from scheduler.events.state import State
from shared.vocabulary import Fitness

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
NOTHING_TOLD = State()


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
    finished : bool
        It tells that this work is finished.
    things : frozenset of str
        Machines, people and products that are missing, or there.
    span : (datetime, datetime or None) or None
        When the things are missing; None where it is about all of their time.
    fields : frozenset of str
        Fields that are not as they were: crop, rates, anything of the farm's files.
    rates : bool
        Of these fields it is about the rates that go by a tissue result, and about nothing else.
    ground : frozenset of str
        Fields whose ground is wetter or drier than was thought; `ALL` for every one.
    fitter, less_fit : bool
        Whether that can have made the ground fitter, and less fit (no rain: not the latter).
    everything : bool
        It may change any of the work.
    """

    id: str
    sentence: str
    at: datetime | None = None
    work: frozenset[tuple[str, str]] = frozenset()
    finished: bool = False
    things: frozenset[str] = frozenset()
    span: tuple[datetime, datetime | None] | None = None
    fields: frozenset[str] = frozenset()
    rates: bool = False
    ground: frozenset[str] = frozenset()
    fitter: bool = True
    less_fit: bool = True
    everything: bool = False

    @property
    def names(self) -> frozenset[str]:
        """Ids of everything that it names; `ALL` where it touches every field."""
        of_all = frozenset({ALL}) if self.everything else frozenset()
        return frozenset(f for f, _ in self.work) | self.things | self.fields | self.ground | of_all


def news_of(event: Event, sentence: str, state: State = NOTHING_TOLD) -> News:
    """Return what a report is about.

    Parameters
    ----------
    sentence : str
        What it says, in words.
    state : State
        What the log says: a correction is about what was told wrongly and what is told now, a pin taken out about what it
        held.
    """
    body = event.body
    if isinstance(body, kinds.EventCorrected) and body.event_id in state.told:
        before = state.told[body.event_id]
        now = state.facts.get(body.event_id, before)
        wrong, right = (_about(News(event.id, sentence, e.happened_at), e, e.body) for e in (before, now))
        both = {
            name: getattr(wrong, name) | getattr(right, name)
            for name in ("work", "things", "fields", "ground")
        }
        # What was wrong may have been in the way of either.
        return replace(right, **both, fitter=True, less_fit=True)
    pin = pin_of(body.pin, state) if isinstance(body, kinds.BlockUnpinned) else None
    return _about(News(event.id, sentence, event.happened_at), event, body if pin is None else pin.body)


def pin_of(name: str, state: State) -> Event | None:
    """Return the report of a pin, also of one that was taken out since."""
    pins = [e for e in state.told.values() if isinstance(e.body, kinds.BlockPinned) and e.body.pin == name]
    return pins[-1] if pins else None


def worked_on(events: Iterable[Event]) -> set[tuple[str, str]]:
    """Return the work (field, pass) of which reports say how much was done, or that it is called off."""
    return {
        (event.body.field, event.body.pass_id)
        for event in events
        if isinstance(event.body, kinds.PassProgressed | kinds.PassFinished | kinds.PassCancelled)
    }


def _about(news: News, event: Event, body: object) -> News:
    def say(**about: object) -> News:
        return replace(news, **about)  # type: ignore[arg-type]

    if isinstance(body, OF_WORK):
        finished = isinstance(body, kinds.PassFinished)
        return say(work=frozenset({(body.field, body.pass_id)}), finished=finished)
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
        case kinds.SupplyDelivered() | kinds.SupplyDelayed() | kinds.SupplyCounted():
            return say(things=frozenset({body.product}))
        case kinds.RainMeasured():
            return say(ground=frozenset({body.field or ALL}), less_fit=body.rain_mm > 0)
        case kinds.GroundCalibrated():
            return say(ground=frozenset({body.field or ALL}))
        case kinds.GroundChecked():
            fit, unfit = body.verdict is Fitness.FIT, body.verdict is Fitness.UNFIT
            return say(ground=frozenset({body.field}), fitter=not unfit, less_fit=not fit)
        case kinds.StageScouted() | kinds.TissueSampled():
            return say(fields=frozenset({body.field}), rates=isinstance(body, kinds.TissueSampled))
        case kinds.FarmChanged(part=Part.FIELD):
            return say(fields=frozenset(body.name.split(",")))
        case kinds.FarmChanged(part=Part.MACHINE | Part.OPERATOR | Part.PRODUCT):
            return say(things=frozenset(body.name.split(",")))
    return say(everything=True)
