"""Work of the plan that people know, so that a report may leave out which pass it is: `ilse is done with east eighty`.

Question answered: *which pass of a field was somebody to be at?*
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

EARLY = timedelta(hours=2)
"""Work may be reported that was to begin this much later (assumption)."""


@dataclass(frozen=True)
class PlannedWork:
    """A block of the plan that people knew; `people` are its operator and who supports."""

    field: str
    pass_id: str
    people: tuple[str, ...]
    start: datetime


Planned = Callable[[], Sequence[PlannedWork]]
"""What people were to do; asked for only where a report does not say of which pass it is, since many plans may have to be read."""


def nothing_planned() -> Sequence[PlannedWork]:
    """Return that no plan is known."""
    return ()


def planned_there(
    works: Iterable[PlannedWork], field: str, person: str | None, day: date, now: datetime
) -> set[str]:
    """Return the passes that were to be worked in a field on a day, up to now; of a person who was to be there only those."""
    there = [
        one
        for one in works
        if one.field == field and one.start.astimezone(now.tzinfo).date() == day and one.start <= now + EARLY
    ]
    own = [one for one in there if person in one.people]
    return {one.pass_id for one in own or there}
