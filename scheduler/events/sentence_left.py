"""A sentence while it is read: what is left of it, and how its words are used up.

Question answered: *is there a word for this, and which?*
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from scheduler.events import phrases as p
from scheduler.farm.farm import Farm


class NotClear(Exception):
    """A sentence that is not wholly understood: why, the word that is not known, and the kind of news that it seems to be."""

    def __init__(self, why: str, unknown: str = "") -> None:
        super().__init__(why)
        self.unknown, self.verb = unknown, ""


@dataclass
class Sentence:
    """What is left of a sentence while it is read."""

    left: list[p.Found]
    farm: Farm
    now: datetime

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
            fitting = [name for name in one.can_be.get(p.PASS, ()) if name in there]
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

    def crop_of(self, field: str) -> None:
        """Use up the words for the field's own crop."""
        crop = self.take(p.CROP)
        if crop is not None and crop != self.farm.field_by_id[field].crop.value:
            raise NotClear(f"{self.farm.field_by_id[field].label} does not grow {crop}")

    def time_after(self, kind: str) -> tuple[str | None, str | None]:
        """Use up a word such as until or from, and the day and hour behind it."""
        for place, one in enumerate(self.left):
            if kind in one.can_be:
                day = clock = None
                rest = self.left[place + 1 : place + 3]
                for found in rest:
                    if p.DAY in found.can_be and day is None and clock is None:
                        day = found.can_be[p.DAY][0]
                    elif p.CLOCK in found.can_be and clock is None:
                        clock = found.can_be[p.CLOCK][0]
                    else:
                        break
                if day is None and clock is None:
                    continue
                del self.left[place : place + 1 + (day is not None) + (clock is not None)]
                return day, clock
        return None, None

    def when(self) -> tuple[str | None, str | None]:
        """Use up a day and an hour, with or without a word such as on or at before them."""
        day, clock = self.time_after(p.FROM)
        more, hour = self.time_after(p.FROM) if clock is None or day is None else (None, None)
        return day or more or self.take(p.DAY), clock or hour or self.take(p.CLOCK)
