"""The clock of plans: quarter hours since the horizon's first local midnight.

Question answered: *which quarter hour is this moment, and back?* Every start and stop of a plan lies on one, so
the engine counts quarters and nothing has to be rounded afterwards. A day with a clock change has 92 or 100.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import cached_property
from math import ceil

from shared.clock import Horizon

MINUTES = 15
_STEP = timedelta(minutes=MINUTES)


def quarters_up(minutes: float) -> int:
    """Return how many quarter hours hold so many minutes."""
    return ceil(minutes / MINUTES - 1e-9)


@dataclass(frozen=True)
class Quarters:
    """Quarter hours of a horizon."""

    horizon: Horizon

    @cached_property
    def _days(self) -> dict[int, tuple[int, int]]:
        """Days worked out so far."""
        return {}

    def up(self, moment: datetime) -> int:
        """Return the first quarter hour at or after a moment."""
        return -((self.horizon.origin_utc - moment) // _STEP)

    def down(self, moment: datetime) -> int:
        """Return the last quarter hour at or before a moment."""
        return (moment - self.horizon.origin_utc) // _STEP

    def moment(self, quarter: int) -> datetime:
        """Return the farm-local time of a quarter hour."""
        return self.horizon.moment(quarter * MINUTES)

    def day(self, index: int) -> tuple[int, int]:
        """Return first and end quarter of a day of the horizon (may lie outside it)."""
        found = self._days.get(index)
        if found is None:
            start, end = self.horizon.day_interval(index)
            found = self._days[index] = (start // MINUTES, end // MINUTES)
        return found

    def end_of(self, day: date) -> int:
        """Return the quarter at which a local day ends."""
        return self.day(self.horizon.day_index(day))[1]

    def start_of(self, day: date) -> int:
        """Return the quarter at which a local day begins."""
        return self.day(self.horizon.day_index(day))[0]

    def shift(self, day: date, start: time, end: time) -> tuple[int, int]:
        """Return a shift of a day, rounded inwards; one that ends past midnight is cut there."""
        first = quarters_up(self.horizon.minute_at(day, start))
        last = self.horizon.minute_at(day, end) // MINUTES
        return first, (self.end_of(day) if last <= first else last)

    @property
    def days(self) -> tuple[tuple[int, int], ...]:
        """Every day of the horizon."""
        return tuple(self.day(k) for k in range(self.horizon.days))


Interval = tuple[int, int]
