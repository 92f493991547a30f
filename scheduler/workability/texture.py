"""Soil water limits from sand, clay and organic matter, for ground of which a particle analysis is known.

The regression equations of Saxton & Rawls (2006), Soil Science Society of America Journal 70:1569-1578. In:
fractions. Out: volumetric water contents [m3/m3] and saturated conductivity [mm/h].
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from shared.vocabulary import Texture


@dataclass(frozen=True)
class WaterLimits:
    """Water contents [m3/m3] at 1500 kPa, 33 kPa and saturation, and conductivity [mm/h]."""

    wilting_point: float
    field_capacity: float
    saturation: float
    ksat_mm_h: float


def limits_from_particles(sand: float, clay: float, organic_matter_pct: float = 2.5) -> WaterLimits:
    """Return the water limits of a soil.

    Parameters
    ----------
    sand, clay : float
        Fractions of the fine earth [0-1].
    organic_matter_pct : float
        Organic matter [% by weight]; enters in percent while sand and clay enter as fractions. The equations
        were fitted up to 8 % organic matter and 60 % clay; outside that a ValueError is raised.
    """
    if not (0 <= sand <= 1 and 0 <= clay <= 0.6 and sand + clay <= 1 and 0 <= organic_matter_pct <= 8):
        raise ValueError("outside the range of the equations: clay up to 0.6, organic matter up to 8 %")
    s, c, om = sand, clay, organic_matter_pct
    at_1500 = -0.024 * s + 0.487 * c + 0.006 * om + 0.005 * s * om - 0.013 * c * om + 0.068 * s * c + 0.031
    wilting = 1.14 * at_1500 - 0.02
    at_33 = -0.251 * s + 0.195 * c + 0.011 * om + 0.006 * s * om - 0.027 * c * om + 0.452 * s * c + 0.299
    capacity = at_33 + 1.283 * at_33**2 - 0.374 * at_33 - 0.015
    drained = 0.278 * s + 0.034 * c + 0.022 * om - 0.018 * s * om - 0.027 * c * om - 0.584 * s * c + 0.078
    saturation = capacity + 1.636 * drained - 0.107 - 0.097 * s + 0.043
    slope = math.log(capacity / wilting) / math.log(1500 / 33)
    return WaterLimits(wilting, capacity, saturation, 1930 * (saturation - capacity) ** (3 - slope))


def texture_of_particles(sand: float, clay: float) -> Texture:
    """Return the USDA texture class of sand and clay fractions [0-1].

    References
    ----------
    Soil Science Division Staff (2017), Soil survey manual, USDA Handbook 18, chapter 3, definitions of the twelve classes (from
    memory; checked against the class means of Saxton & Rawls 2006, Table 3).
    """
    if not (0 <= sand <= 1 and 0 <= clay <= 1 and sand + clay <= 1 + 1e-9):
        raise ValueError("sand and clay are fractions of one soil")
    s, c, si = sand * 100, clay * 100, max(0.0, 100 - sand * 100 - clay * 100)
    rules = (
        (Texture.SAND, si + 1.5 * c < 15), (Texture.LOAMY_SAND, si + 2 * c < 30),
        (Texture.SANDY_LOAM, (7 <= c < 20 and s > 52) or (c < 7 and si < 50)),
        (Texture.LOAM, 7 <= c < 27 and 28 <= si < 50 and s <= 52), (Texture.SILT, si >= 80 and c < 12),
        (Texture.SILT_LOAM, si >= 50 and c < 27), (Texture.SANDY_CLAY_LOAM, 20 <= c < 35 and si < 28 and s > 45),
        (Texture.CLAY_LOAM, 27 <= c < 40 and 20 < s <= 45), (Texture.SILTY_CLAY_LOAM, 27 <= c < 40 and s <= 20),
        (Texture.SANDY_CLAY, c >= 35 and s > 45), (Texture.SILTY_CLAY, c >= 40 and si >= 40),
    )  # fmt: skip
    return next((name for name, holds in rules if holds), Texture.CLAY)
