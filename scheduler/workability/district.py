"""How much of a district's ground is fit for fieldwork in general: a soft limit on the wetness of a typical field.

A district is many fields with many limits; the chance that a day is suitable is read as the share of its ground
that is fit. In: wetness, soil temperature, frost and rain of the day. Out: that share. Two settings: handbook
values, and values fitted to the weekly reports of central Iowa 1988-2004 (`tests/benchmarks/fit_workdays.py`). The
fitted soil numbers compensate for one another and are not properties of a soil; they serve this chance alone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from scheduler.workability.ground import Ground, SoilOptions
from shared.vocabulary import Texture

Floats = NDArray[np.float64]

# What is done changes over the year and with it the wetness that is tolerated: tillage in April, planting in May,
# side-dressing in June, spraying later; the steps are those of the default limits of the passes.
SEASON_DAY = (1, 121, 135, 166, 196, 365)
SEASON_SHIFT = (-0.05, -0.05, 0.0, 0.03, 0.05, 0.05)
# From September on it is harvest, which stands wetter ground than a seedbed does.
HARVEST_DAY = (244, 274)


@dataclass(frozen=True)
class DistrictRule:
    """The soft limit.

    Attributes
    ----------
    limit : float
        Surface wetness at which half of the ground is fit, mid-May [fraction of field capacity].
    spread : float
        Scale of the logistic over fields [fraction of field capacity].
    rain_scale_mm : float
        Rain of the day that leaves 37 % of the ground workable [mm].
    season_weight : float
        Weight of the season's steps [-].
    harvest_shift : float
        Added to the limit from October on [fraction of field capacity].
    cold_c, cold_spread_c : float
        Daily soil temperature at which half of the work rests, and its scale [degC].
    snow_stops_mm : float
        Snow water above which nothing goes [mm].
    work_from_h, work_to_h : int
        Hours of the day whose wetness counts [h].
    """

    limit: float
    spread: float
    rain_scale_mm: float
    season_weight: float = 1.0
    harvest_shift: float = 0.15
    cold_c: float = -10.0
    cold_spread_c: float = 4.0
    snow_stops_mm: float = 2.0
    work_from_h: int = 8
    work_to_h: int = 18


@dataclass(frozen=True)
class DistrictSettings:
    """A soft limit with the soil settings it belongs to."""

    rule: DistrictRule
    soil: SoilOptions
    name: str


TYPICAL_GROUND = Ground(texture=Texture.SILTY_CLAY_LOAM, tiled=True, residue_pct=40.0, slope_pct=2.0)


def typical_ground(
    texture: Texture | None = None, tiled: bool | None = None, residue_pct: float | None = None
) -> Ground:
    """The typical field of a Corn Belt district, with whatever is known of another one put in its place."""
    ground = TYPICAL_GROUND
    if texture is not None:
        ground = replace(ground, texture=texture)
    if tiled is not None:
        ground = replace(ground, tiled=tiled)
    return ground if residue_pct is None else replace(ground, residue_pct=residue_pct)


HANDBOOK = DistrictSettings(DistrictRule(1.05, 0.12, 7.0), SoilOptions(), "handbook values")
FITTED = DistrictSettings(
    DistrictRule(
        limit=0.835, spread=0.1233, rain_scale_mm=17.5, season_weight=0.299, harvest_shift=0.136, cold_c=-3.9
    ),
    SoilOptions(
        drainage_time_factor=0.2594, subsoil_time_factor=0.3943, coupling=1.089, rise_share=0.0235,
        curve_number=92.0, subsoil_depth_m=0.2968, kc_max=1.1967,
    ),
    "a soft limit fitted to the weekly reports of central Iowa 1988-2004",
)  # fmt: skip


def suitable_share(
    rule: DistrictRule, day_of_year: NDArray[np.int64], wetness: Floats, rain_mm: Floats, soil_c: Floats,
    frozen_share: Floats, snow_mm: Floats,
) -> Floats:  # fmt: skip
    """Share of the ground (days,) that is fit on each day [0-1].

    Parameters
    ----------
    rule : DistrictRule
        The soft limit.
    day_of_year : array (days,)
        1 to 366.
    wetness, soil_c : array (days,)
        Mean of the working hours [fraction of field capacity]; mean of the day [degC].
    rain_mm, frozen_share, snow_mm : array (days,)
        Rain of the day [mm], share of the working hours with frozen ground, snow at noon [mm].
    """
    limit = (
        rule.limit
        + rule.season_weight * np.interp(day_of_year, SEASON_DAY, SEASON_SHIFT)
        + rule.harvest_shift * np.interp(day_of_year, HARVEST_DAY, (0.0, 1.0))
    )
    carried = _logistic((limit - wetness) / rule.spread)
    warm = _logistic((soil_c - rule.cold_c) / rule.cold_spread_c)
    blocked = (frozen_share > 0.5) | (snow_mm > rule.snow_stops_mm)
    return np.where(blocked, 0.0, carried * warm * np.exp(-rain_mm / rule.rain_scale_mm))


def _logistic(x: Floats) -> Floats:
    return 1 / (1 + np.exp(-np.clip(x, -50, 50)))
