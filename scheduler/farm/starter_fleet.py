"""Stand-in machines and stocks for a farm of which only the fields are known: as many and as wide as its area wants.

Planting is what must be done in few days, so the planter decides: rows are added until all can be planted in `DAYS` days of
`HOURS` hours, then a second tractor with its crew. Rates and days are common practice, no source; every number is shown in the
farm file and is there to be changed.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

DAYS, HOURS = 10.0, 9.0
SPEED_MPH, EFFICIENCY, ROW_FT = 5.0, 0.68, 2.5
ROWS = (8, 12, 16, 24)
HECTARE_AC = 2.471053814671653
NITROGEN_GAL_AC, CORN_SEEDS_AC, BEAN_SEEDS_AC, SPRAY_GAL_AC = 39.0, 34_000.0, 140_000.0, 0.25
CORN_BAG, BEAN_BAG = 80_000.0, 140_000.0
COVER_LB_AC, COVER_BAG_LB = 15.0, 50.0
ORDINALS = (
    "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh", "twelfth",
)  # fmt: skip
SPARE = 1.08
"""Bought beyond the need: overlap, what stays in tanks."""


@dataclass(frozen=True)
class Number:
    """How the machines of one set are told apart: nothing for the first, ``-2`` and `` 2`` for the second.

    Its two people are counted on from those of the sets before it: first and second, third and fourth operator.
    """

    count: int

    @property
    def id(self) -> str:
        """What follows a machine's id."""
        return "" if self.count == 1 else f"-{self.count}"

    @property
    def name(self) -> str:
        """What follows a machine's name."""
        return "" if self.count == 1 else f" {self.count}"

    @property
    def sprays(self) -> str:
        """Which of all people holds the licence."""
        return _ordinal(2 * self.count - 1)

    @property
    def other(self) -> str:
        """Which of all people is the other one."""
        return _ordinal(2 * self.count)


@dataclass(frozen=True)
class Fleet:
    """Sets of tractor, planter, nitrogen bar, sprayer, truck and two people."""

    sets: tuple[Number, ...]
    rows: int

    @property
    def width_ft(self) -> int:
        """Width of planter and bar."""
        return int(self.rows * ROW_FT)

    @property
    def boom_ft(self) -> int:
        """Width of the sprayer: three planters, as far as booms go."""
        return min(120, 3 * self.width_ft)

    @property
    def spray_tank_gal(self) -> int:
        """Tank of the sprayer."""
        return 10 * self.boom_ft

    @property
    def nitrogen_tank_gal(self) -> int:
        """Tank that goes with the nitrogen bar."""
        return 50 * self.width_ft


@dataclass(frozen=True)
class Stocks:
    """What lies in store on the first day."""

    nitrogen_gal: int
    corn_bags: int
    bean_bags: int
    burndown_gal: int
    post_gal: int
    cover_bags: int


def fleet_for(area_ha: float) -> Fleet:
    """Return the fleet for an area [ha]."""
    acres = area_ha * HECTARE_AC
    reach = {rows: rows * ROW_FT * SPEED_MPH * EFFICIENCY / 8.25 * DAYS * HOURS for rows in ROWS}
    rows = next((rows for rows in ROWS if reach[rows] >= acres), ROWS[-1])
    count = max(1, ceil(acres / reach[ROWS[-1]]))
    return Fleet(tuple(Number(k) for k in range(1, count + 1)), rows)


def stocks_for(corn_ha: float, bean_ha: float) -> Stocks:
    """Return stocks for an area of each crop [ha]: nitrogen for half (the rest is a delivery), all of the others."""
    corn, beans = corn_ha * HECTARE_AC * SPARE, bean_ha * HECTARE_AC * SPARE
    return Stocks(
        nitrogen_gal=up(corn * NITROGEN_GAL_AC / 2, 500), corn_bags=up(corn * CORN_SEEDS_AC / CORN_BAG, 10),
        bean_bags=up(beans * BEAN_SEEDS_AC / BEAN_BAG, 10), burndown_gal=up((corn + beans) * SPRAY_GAL_AC, 10),
        post_gal=up(corn * SPRAY_GAL_AC, 10), cover_bags=up(corn * COVER_LB_AC / COVER_BAG_LB, 10),
    )  # fmt: skip


def _ordinal(count: int) -> str:
    if count <= len(ORDINALS):
        return ORDINALS[count - 1]
    ending = {1: "st", 2: "nd", 3: "rd"}.get(count % 10, "th") if count % 100 not in (11, 12, 13) else "th"
    return f"{count}{ending}"


def up(value: float, step: int) -> int:
    """Return a number rounded up to whole steps, one at least."""
    return max(step, ceil(value / step) * step)
