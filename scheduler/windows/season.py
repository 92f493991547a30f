"""The weeks behind the horizon: what share of daytime hours is usually fit for each kind of work.

The same ground is run on under past years; a typical rig of medium weight is judged. No windows here: they are dates
that planning knows already.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from scheduler.farm.farm import Farm
from scheduler.windows.light import HourGrid
from scheduler.workability import SoilTrace, fit_odds, fit_rule
from shared.vocabulary import Cover, LoadClass, Operation
from shared.weather_records import HourlyWeather

WEEKS = 8
DAYTIME_H = (7, 20)
"""Local clock hours that count as daytime."""


def season_fit_share(
    farm: Farm, trace: SoilTrace, weather: HourlyWeather, grid: HourGrid, operations: Sequence[Operation]
) -> dict[str, NDArray[np.float64]]:
    """Return by operation the share (weeks,) of daytime hours that are fit, over fields and members.

    Parameters
    ----------
    trace, weather : SoilTrace, HourlyWeather
        Hours behind the horizon.
    grid : HourGrid
        Their local days, day 0 the first behind the horizon.
    """
    daytime = (grid.clock >= DAYTIME_H[0]) & (grid.clock < DAYTIME_H[1])
    out = {}
    for operation in operations:
        rule = fit_rule(
            operation, LoadClass.MEDIUM, cover=Cover.NONE, overrides=farm.fit_limits.get(operation.value)
        )
        chance = fit_odds(rule, trace, weather, farm.place).mean(axis=(0, 1), dtype=np.float64)
        out[operation.value] = np.array(
            [chance[daytime & (grid.day // 7 == week)].mean() for week in range(WEEKS)], dtype=np.float64
        )
    return out
