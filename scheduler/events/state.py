"""The fold: stored records -> facts in order. Pure; folding in two parts equals folding at once.

The state keeps facts, not sums: a correction puts another body in the place of the fact that it names (or takes
it out), and everything else is derived from the facts (`derive.situation`). That is what makes a correction exact.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from scheduler.events.codec import Event, PoisonEvent, decode, encode
from scheduler.events.kinds import EventCorrected
from shared.event_record import EventRecord


@dataclass(frozen=True)
class State:
    """Everything the log says.

    Attributes
    ----------
    facts : mapping of event id to Event
        In log order, corrections applied; corrected-away facts are not here.
    told : mapping of event id to Event
        Every sound event as first told, corrections included: the history.
    corrected : mapping of event id to the id of its correction
    refused : tuple of str
        Sentences about poison events and corrections of unknown events.
    sequence : int
        Last sequence seen.
    """

    facts: Mapping[str, Event] = field(default_factory=lambda: MappingProxyType({}))
    told: Mapping[str, Event] = field(default_factory=lambda: MappingProxyType({}))
    corrected: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    refused: tuple[str, ...] = ()
    sequence: int = 0


def fold(state: State, records: Iterable[EventRecord]) -> State:
    """Return the state after more records; records already counted change nothing."""
    facts, told, corrected = dict(state.facts), dict(state.told), dict(state.corrected)
    refused, sequence = list(state.refused), state.sequence
    for record in records:
        sequence = max(sequence, record.sequence)
        if record.id in told:
            continue
        try:
            event = decode(record)
        except PoisonEvent as error:
            if str(error) not in refused:
                refused.append(str(error))
            continue
        told[event.id] = event
        if isinstance(event.body, EventCorrected):
            reason = _correct(event, event.body, facts, told, corrected)
            if reason:
                refused.append(reason)
        else:
            facts[event.id] = event
    return State(
        MappingProxyType(facts), MappingProxyType(told), MappingProxyType(corrected), tuple(refused), sequence
    )


def _correct(
    event: Event,
    body: EventCorrected,
    facts: dict[str, Event],
    told: dict[str, Event],
    corrected: dict[str, str],
) -> str:
    """Apply a correction to the facts; return why not, or an empty text."""
    old = told.get(body.event_id)
    if old is None or isinstance(old.body, EventCorrected):
        return f"event {event.id}: corrects {body.event_id}, which is no event of this log"
    if body.body is None:
        facts.pop(body.event_id, None)
        corrected[body.event_id] = event.id
        return ""
    try:
        new = decode(replace(encode(old), body=body.body))
    except PoisonEvent as error:
        return f"event {event.id}: the corrected body does not fit: {error}"
    # The corrected fact keeps the place of the one it replaces, so the order of facts stays the order of the log.
    if body.event_id in facts:
        facts[body.event_id] = replace(new, sequence=old.sequence)
    else:
        restored = dict(facts) | {body.event_id: replace(new, sequence=old.sequence)}
        facts.clear()
        facts.update(sorted(restored.items(), key=lambda item: item[1].sequence))
    corrected[body.event_id] = event.id
    return ""
