"""The standard normal distribution for whole arrays, without SciPy and without sampling."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_GRID = np.linspace(-8.0, 8.0, 16001)
_CDF = np.array([0.5 * math.erfc(-z / math.sqrt(2.0)) for z in _GRID])


def normal_cdf(z: Array) -> Array:
    """Return the standard normal distribution function, to 4e-8. Any shape.

    Read straight from a table in steps of 0.001: fast for whole arrays, and never falling.
    """
    return np.interp(z, _GRID, _CDF)


def normal_quantile(share: float) -> float:
    """Return the standard normal quantile of `share` (0 < share < 1)."""
    return NormalDist().inv_cdf(share)


def error_nodes(count: int) -> list[float]:
    """Return `count` equally likely standard normal values, rescaled to unit variance."""
    raw = np.array([normal_quantile((k + 0.5) / count) for k in range(count)])
    return [float(value) for value in (raw / raw.std() if count > 1 else raw)]
