"""What a field's ground is like, and the numbers the soil-water loop needs for it.

In: `Ground` (what a person knows of a field) and `SoilOptions` (how the model is set). Out: one row of
parameters per field, as the loop reads it. Defaults are handbook values; what is assumption says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scheduler.workability import layout as at
from scheduler.workability.published import curve_number_table, readily_evaporable_mm, soil_limits
from scheduler.workability.runoff import dry_curve_number, retention_mm, slope_adjusted, wet_curve_number
from shared.vocabulary import Cover, Crop, Texture

Floats = NDArray[np.float64]

# Days for the surface layer to lose 63 % of its water above the drained level. Assumption: field capacity
# is by custom reached in about one day on sands, two on loams, three on clays.
SURFACE_DRAINAGE_D = {
    Texture.SAND: 0.4, Texture.LOAMY_SAND: 0.6, Texture.SANDY_LOAM: 1.0, Texture.LOAM: 1.5,
    Texture.SILT_LOAM: 1.8, Texture.SILT: 1.8, Texture.SANDY_CLAY_LOAM: 1.6, Texture.CLAY_LOAM: 2.0,
    Texture.SILTY_CLAY_LOAM: 2.0, Texture.SILTY_CLAY: 2.6, Texture.SANDY_CLAY: 2.4, Texture.CLAY: 3.0,
}  # fmt: skip
# Days for the subsoil to lose 63 % of its excess, by hydrologic group, and with working tiles (assumption; the
# weekly reports of 1988-2004 and the moisture of reference stations agree with about a month on tiled ground).
SUBSOIL_DRAINAGE_D = {"A": 3.0, "B": 12.0, "C": 50.0, "D": 80.0}
TILED_SHARE = 0.6
# Hydrologic group by texture where nobody has named it (TR-55 appendix A, from memory, with the loams rich in clay
# one group better, as farmed land with structure: assumption). Tiles do not change it: they act on the subsoil.
GROUP_BY_TEXTURE = {
    Texture.SAND: "A", Texture.LOAMY_SAND: "A", Texture.SANDY_LOAM: "A", Texture.LOAM: "B",
    Texture.SILT_LOAM: "B", Texture.SILT: "B", Texture.SANDY_CLAY_LOAM: "C", Texture.CLAY_LOAM: "C",
    Texture.SILTY_CLAY_LOAM: "C", Texture.SILTY_CLAY: "D", Texture.SANDY_CLAY: "D", Texture.CLAY: "D",
}  # fmt: skip
# The texture on whose scale all wetness limits are written.
REFERENCE_TEXTURE = Texture.SILTY_CLAY_LOAM
# Peak basal crop coefficient and ground cover of a living cover in spring (FAO-56 Table 17 grass hay and
# clover cover crops, about 0.9 to 1.1, from memory).
COVER_PEAK = {Cover.NONE: (0.0, 0.0), Cover.RYE: (1.0, 0.9), Cover.CLOVER: (0.9, 0.8), Cover.MIX: (1.0, 0.9)}
RESIDUE_FOR_GOOD_CONDITION_PCT = 20.0
# A field that drains slowly tends to lie low, shaded and dense, and evaporates a little less (assumption). It also
# keeps the order of fields: without it, fast drainage wets a subsoil that later wets the surface again.
EVAPORATION_SHARES_DRYING = 0.25


@dataclass(frozen=True)
class Ground:
    """The ground of one field.

    Attributes
    ----------
    texture : Texture
        USDA class of the plough layer.
    field_capacity, wilting_point, saturation : float or None
        Measured water contents [m3/m3]; None takes the texture's row.
    tiled : bool
        Subsurface drains work.
    hydrologic_group : str or None
        A to D; None takes the texture's group.
    slope_pct, residue_pct : float
        Mean slope [%]; share of ground under dead residue [%].
    cover : Cover
        Living cover in spring.
    cover_until : datetime or None
        End of the living cover (aware); None while nobody has ended it.
    crop : Crop or None
        Cash crop that draws water, if any.
    planted : date or None
        Its planting date.
    depression_share : float
        Share of the ground in closed hollows [0-1].
    drying_factor : float
        Learned or set: how much longer this field takes to drain than its texture says [-]; it also
        evaporates a little less.
    limit_shift : float
        Learned or set: added to the wetness limits of this field [fraction of field capacity].
    """

    texture: Texture = Texture.SILTY_CLAY_LOAM
    field_capacity: float | None = None
    wilting_point: float | None = None
    saturation: float | None = None
    tiled: bool = True
    hydrologic_group: str | None = None
    slope_pct: float = 2.0
    residue_pct: float = 60.0
    cover: Cover = Cover.NONE
    cover_until: datetime | None = None
    crop: Crop | None = None
    planted: date | None = None
    depression_share: float = 0.02
    drying_factor: float = 1.0
    limit_shift: float = 0.0

    def __post_init__(self) -> None:
        if self.hydrologic_group is not None and self.hydrologic_group not in SUBSOIL_DRAINAGE_D:
            raise ValueError(f"hydrologic_group must be A, B, C or D, got {self.hydrologic_group!r}")
        for name, low, high in (
            ("residue_pct", 0, 100), ("slope_pct", 0, 100),
            ("depression_share", 0, 1), ("drying_factor", 0.1, 10),
        ):  # fmt: skip
            if not low <= getattr(self, name) <= high:
                raise ValueError(f"{name} must lie between {low} and {high}, got {getattr(self, name)}")
        wilting, capacity, saturation = self.limits()
        if not 0 < wilting < capacity < saturation < 1:
            raise ValueError(
                "wilting point, field capacity and saturation must rise between 0 and 1, "
                f"got {wilting:g}, {capacity:g}, {saturation:g}"
            )

    def group(self) -> str:
        """Hydrologic group A to D."""
        if self.hydrologic_group is not None:
            return self.hydrologic_group
        return GROUP_BY_TEXTURE[self.texture]

    def limits(self) -> tuple[float, float, float]:
        """Wilting point, field capacity, saturation [m3/m3]: measured where known, else by texture."""
        wilting, capacity, saturation = soil_limits(self.texture)
        measured_capacity = self.field_capacity if self.field_capacity is not None else capacity
        # Without a measured saturation, keep the texture's large pores above the measured field capacity.
        full = self.saturation if self.saturation is not None else measured_capacity + saturation - capacity
        return (self.wilting_point if self.wilting_point is not None else wilting), measured_capacity, full


@dataclass(frozen=True)
class SoilOptions:
    """Settings of the soil-water loop that are the same for every field; all may be overridden.

    Attributes
    ----------
    surface_depth_m, subsoil_depth_m : float
        Thickness of the two layers [m]. The evaporation layer of FAO-56 is the surface layer (0.10-0.15 m).
    drainage_time_factor, subsoil_time_factor : float
        Multiply the drainage times of the tables above [-].
    coupling : float
        How far the drained level of the surface follows the subsoil's departure from its field capacity [-].
    rise_share : float
        Pace of upward movement into a dry surface over that of drainage [-].
    slow_when_wet : float
        How much longer the surface drains while the subsoil is saturated [-].
    kc_max : float
        Largest coefficient of evaporation from wet ground; FAO-56 gives 1.05 to 1.30 [-].
    residue_strength : float
        Share of evaporation that a full residue cover prevents (FAO-56: 0.5) [-].
    melt_mm_c_day : float
        Snow melted per degree-day [mm/degC/day] (degree-day method, usual 2-5, from memory).
    snow_below_c : float
        Air temperature below which precipitation is snow [degC].
    storm_memory_h : float
        Hours over which a storm is forgotten by the curve number [h] (assumption).
    curve_number : float or None
        Overrides the table's curve number.
    growing_from, growing_to : (month, day)
        Season in which the growing-season residue rule of FAO-56 holds; outside, the dead-cover rule.
    time_zone : str or None
        Whose midnight starts the day for which the curve number is read from the wetness of the ground (IANA
        name); None: the sun's.
    heat_per_mj_c, heat_offset_c : float
        Warming of the surface above the air by sun [degC per MJ/m2/h], and a constant [degC].
    warming_h, deep_h : float
        Hours in which 5 cm follows the surface, and the ground below follows 5 cm [h].
    deep_pull : float
        Hold of the ground below on 5 cm over that of the surface [-]. The five heat settings were fitted to the
        5 cm temperatures of 12 reference stations in 2020.
    """

    surface_depth_m: float = 0.15
    subsoil_depth_m: float = 0.25
    drainage_time_factor: float = 1.0
    subsoil_time_factor: float = 1.0
    coupling: float = 2.0
    rise_share: float = 0.1
    slow_when_wet: float = 1.0
    kc_max: float = 1.05
    residue_strength: float = 0.5
    melt_mm_c_day: float = 3.0
    snow_below_c: float = 1.0
    storm_memory_h: float = 12.0
    curve_number: float | None = None
    growing_from: tuple[int, int] = (4, 1)
    growing_to: tuple[int, int] = (10, 31)
    time_zone: str | None = None
    heat_per_mj_c: float = 0.33
    heat_offset_c: float = 0.0
    warming_h: float = 4.5
    deep_h: float = 45.0
    deep_pull: float = 2.9


def curve_number(ground: Ground) -> float:
    """CN2 of a field: straight rows, in good condition above 20 % residue; living cover as small grain."""
    condition = "good" if ground.residue_pct >= RESIDUE_FOR_GOOD_CONDITION_PCT else "poor"
    if ground.cover is not Cover.NONE:
        table = curve_number_table("small grain", "straight residue", condition, ground.group())
    elif ground.residue_pct >= RESIDUE_FOR_GOOD_CONDITION_PCT:
        table = curve_number_table("row crop", "straight residue", condition, ground.group())
    else:
        table = curve_number_table("row crop", "straight", "poor", ground.group())
    return slope_adjusted(table, ground.slope_pct)


def ground_parameters(grounds: Sequence[Ground], options: SoilOptions | None = None) -> Floats:
    """Return the parameter rows (fields, layout.PARAMETERS) of the soil-water loop."""
    options = options or SoilOptions()
    return np.array([_row(ground, options) for ground in grounds], dtype=np.float64)


def pore_scales(grounds: Sequence[Ground]) -> Floats:
    """Large pores of each field, (saturation / field capacity - 1), over those of the reference texture (fields,).

    A sand at 1.5 of its field capacity has filled as few of its large pores as a silty clay loam at 1.05.
    """
    _, capacity, saturation = soil_limits(REFERENCE_TEXTURE)
    reference = saturation / capacity - 1
    own = [ground.limits() for ground in grounds]
    return np.array([(full / held - 1) / reference for _, held, full in own], dtype=np.float64)


def on_reference_scale(wetness: NDArray[Any], scales: NDArray[Any]) -> NDArray[Any]:
    """Wetness above field capacity as the reference texture would show it with equally full large pores.

    `scales` as of `pore_scales`, shaped to match `wetness`; up to field capacity nothing changes.
    """
    return np.where(wetness > 1, 1 + (wetness - 1) / scales, wetness)


def off_reference_scale(wetness: NDArray[Any], scales: NDArray[Any]) -> NDArray[Any]:
    """Undo `on_reference_scale`."""
    return np.where(wetness > 1, 1 + (wetness - 1) * scales, wetness)


def _row(ground: Ground, options: SoilOptions) -> Floats:
    row = np.zeros(at.PARAMETERS)
    wilting, capacity, saturation = ground.limits()
    top, sub = 1000 * options.surface_depth_m, 1000 * options.subsoil_depth_m
    row[at.WP1], row[at.FC1], row[at.SAT1] = wilting * top, capacity * top, saturation * top
    row[at.WP2], row[at.FC2], row[at.SAT2] = wilting * sub, capacity * sub, saturation * sub
    row[at.TEW] = (capacity - 0.5 * wilting) * top
    row[at.REW] = min(readily_evaporable_mm(ground.texture), 0.9 * row[at.TEW])
    cn2 = options.curve_number if options.curve_number is not None else curve_number(ground)
    row[at.CN_DRY], row[at.CN_WET] = dry_curve_number(cn2), wet_curve_number(cn2)
    row[at.S_DRY], row[at.S_WET] = retention_mm(row[at.CN_DRY]), retention_mm(row[at.CN_WET])
    row[at.POND_MAX] = 25.0 * ground.depression_share
    days = SURFACE_DRAINAGE_D[ground.texture] * options.drainage_time_factor
    row[at.DRAIN_SHARE] = 1 - np.exp(-1 / (24 * days * ground.drying_factor))
    # Upward movement belongs to the texture alone: a field that drains slowly is not a field that rises slowly.
    row[at.RISE] = options.rise_share * (1 - np.exp(-1 / (24 * days)))
    sub_days = SUBSOIL_DRAINAGE_D[ground.group()]
    if ground.tiled:
        sub_days *= TILED_SHARE
    sub_days *= options.subsoil_time_factor * ground.drying_factor
    row[at.SUB_DRAIN_SHARE] = 1 - np.exp(-1 / (24 * sub_days))
    row[at.COUPLING], row[at.SLOW] = options.coupling, options.slow_when_wet
    row[at.KC_MAX] = options.kc_max * ground.drying_factor**-EVAPORATION_SHARES_DRYING
    row[at.RESIDUE], row[at.RESIDUE_STRENGTH] = ground.residue_pct / 100, options.residue_strength
    row[at.COVER_KCB], row[at.COVER_SHADE] = COVER_PEAK[ground.cover]
    row[at.MELT_MM_C_H] = options.melt_mm_c_day / 24
    row[at.SNOW_BELOW_C] = options.snow_below_c
    row[at.STORM_KEEP] = np.exp(-1 / options.storm_memory_h)
    row[at.HEAT_PER_MJ], row[at.HEAT_OFFSET] = options.heat_per_mj_c, options.heat_offset_c
    row[at.WARMING_H], row[at.DEEP_H], row[at.DEEP_PULL] = (
        options.warming_h,
        options.deep_h,
        options.deep_pull,
    )
    return row
