"""A way through the spring that did not happen: today's log with invented events behind it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from scheduler.events.decide import decide
from scheduler.events.derive import situation as derive_situation
from scheduler.events.situation import Situation
from scheduler.events.state import State, fold
from scheduler.farm.farm import Farm
from scheduler.planning.demands import Demand
from scheduler.whatif.invent import invent
from scheduler.whatif.invented import Invented
from scheduler.whatif.tilt import Tilt
from scheduler.whatif.wish import read_wish
from shared.errors import ReportRefused


@dataclass(frozen=True)
class Imagined:
    """What would be true.

    Attributes
    ----------
    state : State
        The copied log with the invented events.
    situation : Situation
    tilt : Tilt
        Over the forecast.
    invented : tuple of Invented
        By line, for money owed anyway and fields given up.
    """

    state: State
    situation: Situation
    tilt: Tilt
    invented: tuple[Invented, ...]

    @property
    def demands(self) -> tuple[Demand, ...]:
        """What is to be done by a time."""
        return tuple(demand for one in self.invented for demand in one.demands)


def imagine(farm: Farm, state: State, now: datetime, lines: Sequence[str]) -> Imagined:
    """Return what would be true at `now` if the lines had happened; `state` itself is not changed.

    Parameters
    ----------
    farm : Farm
        As its files say.
    state : State
        Everything the log says.
    lines : sequence of str
        Changes, one a line (see `whatif.wish`); later ones see what earlier ones did.

    Raises
    ------
    ReportRefused
        A line makes no sense; the sentence quotes it.
    """
    tilt, made = Tilt(), []
    current = derive_situation(farm, state, now)
    for number, line in enumerate(lines):
        found = invent(read_wish(line), current, now)
        for place, report in enumerate(found.reports):
            named = replace(report, id=f"what-if-{number}-{place}", by="what if", source="what if")
            try:
                decision = decide(named, state, current)
            except ReportRefused as error:
                raise ReportRefused(f"what-if {line!r}: {error}") from error
            state = fold(state, [replace(decision.record, sequence=state.sequence + 1)])
            current = derive_situation(farm, state, now)
        tilt = tilt.joined(found.tilt)
        made.append(found)
    return Imagined(state, current, tilt, tuple(made))
