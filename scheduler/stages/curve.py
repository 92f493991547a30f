"""The law of one crop in one field: how much heat to which stage, and back.

A curve is a broken line through named knots (heat since planting, stage number). Corn, soybean and rye each
build theirs from their own setting; everything after that (dates, odds, windows) needs only the curve.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scheduler.stages.degree_days import HeatRule
from scheduler.stages.names import StageScale

Array = NDArray[np.float64]


@dataclass(frozen=True)
class StageCurve:
    """Heat against stage, and how sure we are of it.

    Attributes
    ----------
    scale : StageScale
        Names and order of the stages.
    rule : HeatRule
        How heat is counted.
    names : tuple of str
        Stage of every knot, earliest first; the first needs no heat.
    heat : tuple of float
        Heat since planting (or green-up) at which the stage of the knot begins [unit of `rule`]; strictly
        increasing.
    start_sd : float
        Standard deviation of the heat to the second knot (emergence) [unit of `rule`].
    rate_sd : float
        Standard deviation of the relative rate after it (0.06 = 6 %).
    clock_heat_per_day : float or None
        Where set, a day after the second knot counts this much whatever its temperature: the crop then keeps
        time by days, as soybean nearly does between V1 and R5.
    notes : tuple of str
        What a person should know about this curve (assumptions, adjustments).
    """

    scale: StageScale
    rule: HeatRule
    names: tuple[str, ...]
    heat: tuple[float, ...]
    start_sd: float
    rate_sd: float
    clock_heat_per_day: float | None = None
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if len(self.names) != len(self.heat) or len(self.heat) < 2 or self.heat[0] != 0.0:
            raise ValueError("a stage curve needs a name per knot and starts at no heat")
        if any(b <= a for a, b in zip(self.heat, self.heat[1:], strict=False)):
            raise ValueError("the heat of a stage curve must grow from knot to knot")
        if self.start_sd < 0 or not 0 <= self.rate_sd < 0.5:
            raise ValueError("spreads must be non-negative, the rate's below 0.5")

    @cached_property
    def numbers(self) -> Array:
        """Stage number of every knot."""
        return np.array([self.scale.parse(name) for name in self.names])

    @property
    def start_heat(self) -> float:
        """Heat to the second knot (emergence) [unit of `rule`]."""
        return self.heat[1]

    def stage_at(self, heat: ArrayLike) -> Array:
        """Return the stage number after `heat` since planting; flat after the last knot. Any shape."""
        return np.interp(np.asarray(heat, dtype=np.float64), self.heat, self.numbers)

    def heat_at(self, stage: float) -> float:
        """Return the heat at which a stage number is reached; inf beyond the last knot (not modelled)."""
        numbers = self.numbers
        if stage > numbers[-1] + 1e-9:
            return float("inf")
        return float(np.interp(stage, numbers, self.heat))

    def name_at(self, stage: float) -> str:
        """Return the last knot that a stage number has reached."""
        reached = int(np.searchsorted(self.numbers, stage + 1e-9, side="right")) - 1
        return self.names[max(reached, 0)]

    def accumulate(self, heat_per_day: Array, first: int) -> Array:
        """Return heat since planting at the end of each day (members, days).

        Parameters
        ----------
        heat_per_day : array (members, days)
            Heat of each day [unit of `rule`], no missing values.
        first : int
            Index of the planting day, whose heat counts in full; negative when planted before the record
            begins (the heat before it is then missing, so this is refused), beyond the last day for a crop
            still to plant.
        """
        if first < 0:
            raise ValueError("the heat record must begin on or before the planting day")
        counted = np.array(heat_per_day, dtype=np.float64)
        if np.isnan(counted[:, first:]).any():
            raise ValueError("heat is missing on some day after planting; fill it first")
        counted[:, :first] = 0.0
        total = np.cumsum(counted, axis=1)
        if self.clock_heat_per_day is None:
            return total
        return _by_days_after(total, self.start_heat, self.clock_heat_per_day)


def _by_days_after(total: Array, start_heat: float, per_day: float) -> Array:
    """Replace heat beyond `start_heat` by elapsed days times `per_day`, crossing days counted in part."""
    before = np.concatenate([np.zeros((total.shape[0], 1)), total[:, :-1]], axis=1)
    gained = np.maximum(total - before, 1e-12)
    share_after = np.clip((total - start_heat) / gained, 0.0, 1.0)
    days_after = np.cumsum(share_after, axis=1)
    return np.minimum(total, start_heat) + per_day * days_after
