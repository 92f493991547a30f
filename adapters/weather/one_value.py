"""Members out of a forecast that gives one value and a chance of rain, by a stated error model (docs/weather.md).

For each interval of the forecast a member is wet with the given chance; wet intervals follow each other, since one
hidden normal variable with a memory of a day decides them all. A wet interval's rain is log-normal around what the
forecast means by wet, amount over chance, so that the mean over many members is the forecast's amount. Where a chance is
given, wet means at least what a gauge can measure; a large amount with a small chance is likelier than it says, since else
a few members would drown. Temperatures are off by a wandering error that grows with the lead. Spreads are assumptions of
this project.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import erf

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
MEMBERS = 20
MEMORY_H = 24.0
AMOUNT_LOG_SD, AMOUNT_LOG_SD_PER_DAY, AMOUNT_LOG_SD_MOST = 0.4, 0.1, 0.9
TEMP_SD_C, TEMP_SD_PER_DAY_C = 0.8, 0.25
LEAST_WET_MM = 0.254
"""The hundredth of an inch to which the US service's chance of rain refers (its glossary; from memory)."""
MOST_WET_MM_H = 8.0
"""Mean rain of a wet interval at most, where the chance can be raised for it [mm/h]."""
GUESS_FIRST, GUESS_PER_MM, GUESS_MOST = 0.3, 0.2, 0.9
"""Chance of rain where a forecast names an amount and no chance."""


@dataclass(frozen=True)
class Interval:
    """Rain of some hours: from `first` (hour index), `hours` long, amount [mm] and chance of rain [0-1], None where not told."""

    first: int
    hours: int
    rain_mm: float
    chance: float | None

    def wet(self) -> tuple[float, float]:
        """Return the chance that a member is wet [0-1] and the mean rain of one that is [mm]."""
        amount = max(0.0, self.rain_mm)
        if self.chance is None:
            chance = min(GUESS_MOST, GUESS_FIRST + GUESS_PER_MM * amount) if amount > 0 else 0.0
        else:
            chance = min(1.0, max(0.0, self.chance))
            amount = max(amount, LEAST_WET_MM * chance)
        chance = min(1.0, max(chance, amount / (MOST_WET_MM_H * self.hours)))
        return chance, amount / chance if chance > 0 else 0.0


def rain_members(intervals: list[Interval], hours: int, members: int, seed: int) -> Floats:
    """Return rain by hour (members, hours) [mm]; hours in no interval are dry."""
    rng = np.random.default_rng(seed)
    out = np.zeros((members, hours))
    hidden = rng.standard_normal(members)
    last = 0.0
    for one in intervals:
        middle = one.first + one.hours / 2
        keep = float(np.exp(-max(0.0, middle - last) / MEMORY_H))
        hidden = keep * hidden + np.sqrt(1 - keep**2) * rng.standard_normal(members)
        last = middle
        chance, mean_mm = one.wet()
        if chance <= 0:
            continue
        wet = np.array([0.5 * (1 + erf(z / 2**0.5)) for z in hidden]) > 1 - chance
        sd = min(AMOUNT_LOG_SD_MOST, AMOUNT_LOG_SD + AMOUNT_LOG_SD_PER_DAY * middle / 24)
        amount = mean_mm * np.exp(sd * rng.standard_normal(members) - sd**2 / 2)
        a, b = max(0, one.first), min(hours, one.first + one.hours)
        if b > a:
            out[:, a:b] = (np.where(wet, amount, 0.0) / one.hours)[:, None]
    return out


def temperature_members(temp_c: Floats, members: int, seed: int) -> Floats:
    """Return the temperature by hour (members, hours) with a wandering error [degC]."""
    rng = np.random.default_rng(seed)
    hours = len(temp_c)
    keep = float(np.exp(-1 / MEMORY_H))
    error = rng.standard_normal(members)
    out = np.empty((members, hours))
    for h in range(hours):
        error = keep * error + np.sqrt(1 - keep**2) * rng.standard_normal(members)
        out[:, h] = temp_c[h] + error * (TEMP_SD_C + TEMP_SD_PER_DAY_C * h / 24)
    return out
