"""Hours that are fit enough, as stretches in which blocks may lie.

Question answered: *when may this pass run here with this rig, at what risk?* Input: the outlook's odds by hour;
output: windows on quarter hours. Neighbouring hours above the least chance are joined, since a block lies inside
one window; the risk of a window is its mean chance of being unfit times what a lost quarter costs.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scheduler.planning.quarters import Quarters
from scheduler.solver.problem import Window
from scheduler.windows.records import FitHours, Outlook, RigKey

PER_HOUR = 4


def fit_of(outlook: Outlook, field_id: str, pass_id: str, key: RigKey) -> FitHours | None:
    """Return the fit hours of a pass in a field for a kind of rig, or None when nobody worked them out."""
    return outlook.fit.get((field_id, pass_id), {}).get(key)


def stretches(fit: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return first and end index of every run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], fit, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def fit_windows(
    hours: FitHours | None, least_chance: float, lost_quarter_cost: float, grid: Quarters, days: list[int]
) -> tuple[Window, ...]:
    """Return the windows of some days of the horizon.

    Parameters
    ----------
    least_chance : float
        Hours below are not planned.
    lost_quarter_cost : float
        Cents lost with a quarter hour that turns out unfit.
    days : list of int
        Indices of the days wanted.
    """
    if hours is None:
        return ()
    out = []
    good = hours.chance >= least_chance
    for k in days:
        start, end = grid.day(k)
        first, last = start // PER_HOUR, min(-(-end // PER_HOUR), len(good))
        for a, b in stretches(good[first:last]):
            chance = float(np.mean(hours.chance[first + a : first + b]))
            risk = (1.0 - chance) * lost_quarter_cost
            out.append(
                Window(
                    (first + a) * PER_HOUR, min((first + b) * PER_HOUR, end), round(chance, 4), round(risk, 3)
                )
            )
    return tuple(out)
