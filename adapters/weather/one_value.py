"""Members out of a forecast that gives one value and a chance of rain, by a stated error model (docs/weather.md).

For each interval of the forecast a member is wet with the given chance; wet intervals follow each other, since one
hidden normal variable with a memory of a day decides them all. A wet interval's rain is log-normal around what the
forecast means by wet, amount over chance, so that the mean over many members is the forecast's amount. Temperatures are off
by a wandering error that grows with the lead. Spreads are assumptions of this project.
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
LEAST_CHANCE = 0.05
"""A forecast amount without a chance is still not sure."""


@dataclass(frozen=True)
class Interval:
    """Rain of some hours: from `first` (hour index), `hours` long, amount [mm] and chance of rain [0-1]."""

    first: int
    hours: int
    rain_mm: float
    chance: float


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
        chance = min(1.0, max(one.chance, LEAST_CHANCE if one.rain_mm > 0 else 0.0))
        if chance <= 0 or one.rain_mm <= 0:
            continue
        wet = np.array([0.5 * (1 + erf(z / 2**0.5)) for z in hidden]) > 1 - chance
        sd = min(AMOUNT_LOG_SD_MOST, AMOUNT_LOG_SD + AMOUNT_LOG_SD_PER_DAY * middle / 24)
        amount = one.rain_mm / chance * np.exp(sd * rng.standard_normal(members) - sd**2 / 2)
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
