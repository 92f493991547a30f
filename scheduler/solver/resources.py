"""What a problem is worked with: roads and set-ups, people's hours, machines and pools, stocks, weekly capacity.

Question answered: *what does the work need, and what does each thing allow?* Part of the vocabulary of `problem`, which
says how all of it hangs together; all times are whole numbers there and here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Interval = tuple[int, int]
FAR = 2**31 - 1


@dataclass(frozen=True)
class Moves:
    """Set-ups and travel of one unary resource.

    Attributes
    ----------
    minutes : int array (sites, sites)
        From site to site, in the same family.
    depot : int or None
        Site where families are changed; with it, a change goes over the depot, except those of `on_the_way`.
    change : int array (families, families) or None
        Minutes for a change of family, on top of travel.
    home_daily : bool
        Every day starts and ends at the depot.
    initial : int array (sites,) or None
        Minutes before the very first block, by its site (no depot needed).
    all_pairs : bool
        The gap holds between any two blocks, not only neighbours.
    final : int array (sites,) or None
        Minutes after the very last block, by its site; it has to be over at `final_latest`.
    cost_per_minute : float
        Cost of moving.
    on_the_way : bool array (families, families) or None
        Changes for which nobody has to go to the depot (to clean a machine out).
    """

    minutes: NDArray[np.int64]
    depot: int | None = None
    change: NDArray[np.int64] | None = None
    home_daily: bool = False
    initial: NDArray[np.int64] | None = None
    all_pairs: bool = False
    cost_per_minute: float = 0.0
    final: NDArray[np.int64] | None = None
    final_latest: int = FAR
    on_the_way: NDArray[np.bool_] | None = None

    def gap(self, site_a: int, family_a: int, site_b: int, family_b: int) -> int:
        """Return the minutes needed between a block at `site_a` and the next at `site_b`."""
        if site_a < 0 or site_b < 0:
            return 0
        direct = int(self.minutes[site_a, site_b])
        if family_a == family_b or self.change is None:
            return direct
        extra = int(self.change[family_a, family_b])
        if self.depot is None or (self.on_the_way is not None and self.on_the_way[family_a, family_b]):
            return direct + extra
        return int(self.minutes[site_a, self.depot]) + int(self.minutes[self.depot, site_b]) + extra


@dataclass(frozen=True)
class HoursLimit:
    """Working time of a person: minutes from leaving to coming home, moves and gaps included.

    Attributes
    ----------
    normal_per_day, most_per_day : int
        Paid at the normal rate up to the first, never above the second.
    most_per_week : int
        Sum over the days of each group of `weeks`.
    cost_per_minute, overtime_per_minute : float
        Normal cost, and the cost of a minute above `normal_per_day` (whole, not the surcharge).
    weeks : tuple of tuple of int
        Day indices that share a weekly limit.
    used_before : tuple of int
        Minutes already worked in each of `weeks`.
    """

    normal_per_day: int
    most_per_day: int
    most_per_week: int = FAR
    cost_per_minute: float = 0.0
    overtime_per_minute: float = 0.0
    weeks: tuple[tuple[int, ...], ...] = ()
    used_before: tuple[int, ...] = ()


@dataclass(frozen=True)
class Resource:
    """Something that works: unary (a machine, a person) or cumulative (a pool of `capacity`).

    `handover` is what it costs when it leads, or is led by, another one in the next block of a day (`Mode.lead`): somebody else
    drives the machine, or the driver takes another machine.
    """

    name: str
    capacity: int = 1
    cumulative: bool = False
    open: tuple[Interval, ...] | None = None
    moves: Moves | None = None
    hours: HoursLimit | None = None
    handover: int = 0


@dataclass(frozen=True)
class Stock:
    """A consumable: what is there at time 0, and dated deliveries (time, amount)."""

    name: str
    initial: int
    deliveries: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True)
class Bucket:
    """A coarse stretch behind the exact horizon: minutes of each resource, no order inside.

    `share` scales the minutes of a mode that are fit in this stretch; capacity already counts only fit time.
    """

    start: int
    end: int
    capacity: Mapping[int, int]
