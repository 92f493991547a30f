"""The compiled pass over every field, member and hour that turns wetness into verdict and causes."""

from __future__ import annotations

import math
from typing import Any

from scheduler.workability.compiled import compiled
from shared.vocabulary import Reason

Array = Any  # NumPy arrays of several kinds; the compiler checks them

# Bits of the cause mask, in the order in which the first one is named.
CAUSES = (
    Reason.UNKNOWN_WEATHER, Reason.FROZEN, Reason.RAINING, Reason.SUBSOIL_WET, Reason.TOO_WET, Reason.STICKY,
    Reason.SOIL_COLD, Reason.DEW, Reason.WIND_HIGH, Reason.WIND_LOW, Reason.AIR_COLD, Reason.AIR_HOT,
    Reason.RAIN_SOON,
)  # fmt: skip
UNKNOWN_BIT, FROZEN_BIT, RAINING_BIT, SUBSOIL_BIT, TOO_WET_BIT, STICKY_BIT, COLD_BIT = range(7)
TOO_WET_MASK = 1 << TOO_WET_BIT
FIT, MARGINAL, UNFIT = 0, 1, 2
SNOW_STOPS_MM = 2.0
SNOW_STOPS_ON_FROZEN_MM = 10.0
HARD_FROZEN_C = -1.0
POND_STOPS_MM = 2.0

(
    BAND, SD, SUBSOIL_LIMIT, RAIN_NOW, STICKY_AFTER, STICKY_H, SOIL_MIN, SOIL_MARGINAL, FROZEN_CARRIES,
) = range(9)  # fmt: skip


@compiled
def normal_share(z: float) -> float:
    """Standard normal distribution function."""
    return 0.5 * math.erfc(-z / 1.4142135623730951)


@compiled
def limit_odds(excess: float, sd: float) -> float:
    """Chance that ground which is wetter than the limit by `excess` is fit, where the limit is known to `sd`."""
    if sd <= 0.0:
        return 0.0 if excess > 0.0 else 1.0
    # Behind six deviations the chance is 1 to more digits than are kept.
    return 1.0 if excess < -6.0 * sd else normal_share(-excess / sd)


@compiled
def judge_ground(
    rule: Array, limits: Array, surface: Array, subsoil: Array, snow: Array, pond: Array, soil_c: Array,
    frozen: Array, rain: Array, air_fitness: Array, air_causes: Array, fitness: Array, causes: Array,
    odds: Array,
) -> None:  # fmt: skip
    """Judge every hour, in place.

    Parameters
    ----------
    rule : array (9,)
        As named above.
    limits : array (fields,)
        Wetness limit of each field [fraction of field capacity].
    surface, subsoil, snow, pond, soil_c, frozen : array (fields, members, hours)
        The trace.
    rain : array (fields or 1, members or 1, hours)
        [mm]
    air_fitness, air_causes : array (members, hours)
        Verdict of the air; causes already as bits of `CAUSES`.
    fitness, causes, odds : array (fields, members, hours)
        Results; `odds` is the chance over the uncertainty of the limit that the hour is fit.
    """
    fields, members, hours = surface.shape
    window = int(rule[STICKY_H])
    for f in range(fields):
        for m in range(members):
            wet = rain[f if rain.shape[0] > 1 else 0, m if rain.shape[1] > 1 else 0]
            warmth = soil_c[f, m, 0]
            dry_since = -1
            for h in range(hours):
                warmth += (soil_c[f, m, h] - warmth) / min(h + 1.0, 24.0)
                if wet[h] != 0.0:
                    dry_since = h + 1
                recent = 0.0
                for back in range(max(h - window, 0), dry_since):
                    recent += wet[back]
                level, bits = air_fitness[m, h], air_causes[m, h]
                unknown = math.isnan(surface[f, m, h]) or math.isnan(wet[h])
                if unknown:
                    level, bits = UNFIT, bits | (1 << UNKNOWN_BIT)
                carried = (
                    rule[FROZEN_CARRIES] > 0 and soil_c[f, m, h] <= HARD_FROZEN_C
                    and snow[f, m, h] <= SNOW_STOPS_ON_FROZEN_MM
                )  # fmt: skip
                if not carried and (frozen[f, m, h] or snow[f, m, h] > SNOW_STOPS_MM):
                    level, bits = UNFIT, bits | (1 << FROZEN_BIT)
                if wet[h] >= rule[RAIN_NOW] and wet[h] > 0.0:
                    level, bits = UNFIT, bits | (1 << RAINING_BIT)
                hard = level == UNFIT
                excess = surface[f, m, h] - limits[f]
                if not carried:
                    if subsoil[f, m, h] > rule[SUBSOIL_LIMIT] or pond[f, m, h] > POND_STOPS_MM:
                        level, bits, hard = UNFIT, bits | (1 << SUBSOIL_BIT), True
                    if excess > 0.0:
                        level = max(level, MARGINAL if excess <= rule[BAND] else UNFIT)
                        bits |= TOO_WET_MASK
                    if recent >= rule[STICKY_AFTER]:
                        level, bits, hard = UNFIT, bits | (1 << STICKY_BIT), True
                if warmth < rule[SOIL_MIN]:
                    cold = MARGINAL if warmth >= rule[SOIL_MARGINAL] else UNFIT
                    level, bits = max(level, cold), bits | (1 << COLD_BIT)
                    hard = hard or cold == UNFIT
                fitness[f, m, h], causes[f, m, h] = level, bits
                odds[f, m, h] = 0.0 if hard else 1.0 if carried else limit_odds(excess, rule[SD])
