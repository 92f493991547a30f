"""How tall the crop is: its own quantity, from typical heights per stage and from what was measured in the
field.

Clearance is never inferred from stage alone: plants of one stage differ from knee to hip between hybrids.
The height of a field is ``h = curve(stage) * exp(ratio + noise)``; the ratio comes from measured heights,
between which it runs straight in heat, and the noise comes back as heat passes since the last measurement.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scheduler.stages.names import CORN_SCALE, RYE_SCALE, SettingRefused
from scheduler.stages.normal_odds import error_nodes, normal_cdf
from scheduler.stages.progress import StageOdds
from scheduler.stages.published import rows

Array = NDArray[np.float64]

#: Log spread of height at one stage. The published ranges (5-7, 10-14, 14-20 in) give 0.13 within one place;
#: more between hybrids (knee to hip at one stage) [assumption].
HEIGHT_LOG_SD = 0.25
#: Log spread of a height measured with a stick, a few plants [assumption].
MEASURED_LOG_SD = 0.06
#: Heat over which the errors come back after a measurement, by unit of heat [assumption].
FORGET_HEAT = {"degF-day": 400.0, "degC-day": 220.0}
ALL_DAYS = slice(None)
#: Crops with a height model.
HEIGHT_CROPS = ("corn", "rye")


@dataclass(frozen=True)
class MeasuredHeight:
    """A crop height that somebody measured: date and height [m] from the ground to the top of the whorl."""

    day: date
    height_m: float


def height_curves() -> tuple[str, ...]:
    """Return the names of the corn height curves that can be selected."""
    return tuple(dict.fromkeys(row["curve"] for row in rows("corn_height.csv")))


def corn_height_m(stage: ArrayLike, curve: str = "trade") -> Array:
    """Return the typical height of corn at a stage number [m]; 0 before emergence. Any shape.

    Straight in the logarithm of height between the table's stages.
    """
    if curve not in height_curves():
        raise SettingRefused(f"height curve {curve!r} is not known; allowed: {', '.join(height_curves())}.")
    return _typical(np.asarray(stage, dtype=np.float64), curve)


def _typical(number: Array, curve: str) -> Array:
    return np.where(number < 0.0, 0.0, np.exp(_log_height(number, curve)))


def rye_height_m(stage: ArrayLike) -> Array:
    """Return the typical height of rye in spring at a stage number [m]. Any shape."""
    return _typical(np.asarray(stage, dtype=np.float64), "rye")


def _log_height(number: Array, curve: str) -> Array:
    """Return the logarithm of typical height [log m]; that of the first table row before emergence."""
    numbers, logs = _log_heights(curve)
    return np.interp(number, numbers, logs)


@cache
def _log_heights(curve: str) -> tuple[Array, Array]:
    """Return stage numbers and log heights [log m] of a curve's table rows."""
    if curve == "rye":
        table = rows("cover_rye.csv")
        return (
            np.array([RYE_SCALE.parse(row["stage"]) for row in table]),
            np.log([float(row["height_m"]) for row in table]),
        )
    chosen = [row for row in rows("corn_height.csv") if row["curve"] == curve]
    numbers = np.array([CORN_SCALE.parse(row["stage"]) for row in chosen])
    return numbers, np.log([float(row["height_in"]) * 0.0254 for row in chosen])


@dataclass(frozen=True)
class HeightOdds:
    """Heights of one field of corn or rye over days and members.

    Attributes
    ----------
    stage : StageOdds
        The stages it rests on.
    curve : str
        Name of the height curve.
    log_ratio : array (members, days)
        Correction of the curve by measurements, in the logarithm.
    share : array (members, days)
        How much of the unmeasured error is back: 0 at a measurement, 1 without any.
    """

    stage: StageOdds
    curve: str
    log_ratio: Array
    share: Array

    def stage_at(self, z: float, columns: slice = ALL_DAYS) -> Array:
        """Return the midday stage number (members, days) if the crop is `z` model errors ahead."""
        odds = self.stage
        heat = odds.heat_midday[:, columns]
        ahead = z * self.share[:, columns] * odds.spread_in_heat(heat)
        return odds.believed.stage_at(np.maximum(heat + ahead, 0.0))

    def median_at(self, z: float, columns: slice = ALL_DAYS) -> Array:
        """Return the midday height (members, days) [m] at that stage."""
        return _typical(self.stage_at(z, columns), self.curve) * np.exp(self.log_ratio[:, columns])

    def log_sd(self) -> Array:
        """Return the log spread of height at given progress (members, days)."""
        return np.asarray(np.hypot(MEASURED_LOG_SD * (1.0 - self.share), HEIGHT_LOG_SD * self.share))

    def below_at(self, clearance_m: float, z: float, columns: slice = ALL_DAYS) -> Array:
        """Return the chance (members, days) that the crop is at most `clearance_m` tall, `z` errors ahead."""
        number = self.stage_at(z, columns)
        lacks = np.log(max(clearance_m, 1e-6)) - self.log_ratio[:, columns] - _log_height(number, self.curve)
        return np.where(number < 0.0, 1.0, normal_cdf(lacks / self.log_sd()[:, columns]))

    def below(self, clearance_m: float) -> Array:
        """Return the chance (days,) that the crop is at most `clearance_m` tall, over everything."""
        return np.mean([self.below_at(clearance_m, z).mean(axis=0) for z in error_nodes(9)], axis=0)

    def quantiles(self, odds: Sequence[float] = (0.1, 0.5, 0.9)) -> Array:
        """Return height quantiles (len(odds), days) [m] over members, model error and spread of height."""
        nodes = error_nodes(9)
        sd = self.log_sd()
        parts = [self.median_at(z) * np.exp(noise * sd) for z in nodes for noise in nodes]
        return np.asarray(np.quantile(np.concatenate(parts, axis=0), list(odds), axis=0))

    def date_at(self, height_m: float, odds: float = 0.5) -> date | None:
        """Return the first day with chance `odds` that the crop is taller than `height_m`; None if never."""
        hit = np.flatnonzero(1.0 - self.below(height_m) >= odds)
        return self.stage.first_day + timedelta(days=int(hit[0])) if hit.size else None


def height_odds(
    stage: StageOdds, measured: Sequence[MeasuredHeight] = (), curve: str = "trade"
) -> HeightOdds:
    """Return the odds of crop height, corrected by what was measured.

    Parameters
    ----------
    stage : StageOdds
        Stages of the field (corn or rye).
    measured : sequence of MeasuredHeight
        Measured heights after emergence, any order.
    curve : str
        One of `height_curves` for corn; rye has one of its own.
    """
    crop = stage.curve.scale.crop
    if crop not in HEIGHT_CROPS:
        raise SettingRefused(f"height is modelled for corn and rye, not for {crop}.")
    if crop == "rye":
        curve = "rye"
    elif curve not in height_curves():
        raise SettingRefused(f"height curve {curve!r} is not known; allowed: {', '.join(height_curves())}.")
    heat = stage.heat_midday
    if not measured:
        return HeightOdds(stage, curve, np.zeros_like(heat), np.ones_like(heat))
    at, ratio = [], []
    for point in sorted(measured, key=lambda m: m.day):
        k = (point.day - stage.first_day).days
        if not 0 <= k < stage.days or not 0.0 < point.height_m < 5.0:
            raise SettingRefused(
                f"height {point.height_m:g} m measured on {point.day} cannot be used; "
                f"allowed: above 0 and below 5 m, within the weather record."
            )
        there = float(heat[:, k].mean())
        usual = float(_typical(stage.believed.stage_at(there), curve))
        if usual <= 0.0:
            raise SettingRefused(f"a height was measured on {point.day}, before the crop is up by the model.")
        at.append(there)
        ratio.append(np.log(point.height_m / usual))
    distance = np.min(np.abs(heat[None, :, :] - np.array(at)[:, None, None]), axis=0)
    share = np.sqrt(1.0 - np.exp(-distance / FORGET_HEAT[stage.curve.rule.unit]))
    return HeightOdds(stage, curve, np.interp(heat, at, ratio), share)
