"""A sentence while it is read: what is left of it, and how its words are used up.

Question answered: *is there a word for this, and which?*
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from scheduler.events import phrases as p
from scheduler.events import speech as w
from scheduler.events.planned import Planned, nothing_planned, planned_there
from scheduler.events.situation import Situation
from scheduler.farm.farm import Farm

Strict = tuple[list[str], dict[str, str | None]]
"""Words and options of a report that says the same as a sentence."""


class NotClear(Exception):
    """A sentence that is not wholly understood: why, the words that are not known, and the kind of news that it seems to be."""

    def __init__(self, why: str, *unknown: str) -> None:
        super().__init__(why)
        self.unknown, self.strange, self.verb = (*unknown, "")[0], " ".join(unknown), ""


@dataclass
class Sentence:
    """What is left of a sentence while it is read."""

    left: list[p.Found]
    farm: Farm
    now: datetime
    situation: Situation | None = None
    planned: Planned = nothing_planned

    def take(self, kind: str) -> str | None:
        """Use up the first words that can be of a kind; None where there are none.

        Raises
        ------
        NotClear
            They can be several things of that kind.
        """
        for place, one in enumerate(self.left):
            if kind in one.can_be:
                values = one.can_be[kind]
                if len(values) > 1:
                    raise NotClear(f"{one.words!r} can be {' or '.join(values)}")
                del self.left[place]
                return values[0]
        return None

    def must(self, kind: str) -> str:
        """As `take`, and refuse where there is none."""
        found = self.take(kind)
        if found is None:
            raise NotClear(f"no {kind} is named")
        return found

    def pass_in(self, field: str) -> str:
        """Use up the words for a pass of a field's programme."""
        programme = self.farm.programme_of(self.farm.field_by_id[field])
        there = {spec.id: spec.label for spec in programme.passes}
        for place, one in enumerate(self.left):
            fitting = [name for name in one.can_be.get(w.PASS, ()) if name in there]
            if len(fitting) > 1 and self.situation is not None:
                fitting = [name for name in fitting if self.situation.is_due(field, name)] or fitting
            if len(fitting) > 1:
                raise NotClear(
                    f"{one.words!r} can be {' or '.join(f'{there[name]} ({name})' for name in fitting)} there"
                )
            if fitting:
                del self.left[place]
                return fitting[0]
        raise NotClear(
            f"no pass of {self.farm.field_by_id[field].label} is named (known: {', '.join(there)})"
        )

    def pass_at_hand(self, field: str, person: str | None = None, day: date | None = None) -> str:
        """As `pass_in`; where none is named, the one that somebody is at, else was to be at on that day, else whose turn it is.

        Parameters
        ----------
        person : str, optional
            Who did it.
        day : date, optional
            When; none for today.
        """
        if self.situation is None or any(w.PASS in one.can_be for one in self.left):
            return self.pass_in(field)
        programme = self.farm.programme_of(self.farm.field_by_id[field])
        to_do = [one.id for one in programme.passes if self.situation.left_ha(field, one.id) > 0]
        states = {one.id: self.situation.passes.get((field, one.id)) for one in programme.passes}
        on = day or self.now.date()
        meant = planned_there(self.planned(), field, person, on, self.now)
        # Of a field whose work of that day is over, it may be this work that is told once more.
        over = meant or any(
            state is not None and state.finished_at is not None and state.finished_at.astimezone(self.now.tzinfo).date() == on
            for state in states.values()
        )  # fmt: skip
        for found in (
            [name for name in to_do if (state := states[name]) is not None and state.running],
            [name for name in to_do if name in meant],
            [name for name in to_do if not over and self.situation.is_due(field, name)],
        ):
            if len(found) == 1:
                return found[0]
        return self.pass_in(field)

    def crop_of(self, field: str) -> None:
        """Use up the words for the field's own crop."""
        crop = self.take(w.CROP)
        if crop is not None and crop != self.farm.field_by_id[field].crop.value:
            raise NotClear(f"{self.farm.field_by_id[field].label} does not grow {crop}")
