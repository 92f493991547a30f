"""One hour of water and heat in the ground, and the loop over fields, members and hours.

Everything is in mm, degC and hours. Order within an hour: snow, runoff, soaking in, evaporation,
plants, drainage, heat. Of two fields that differ only in water the wetter stays the wetter within a day
(a storm takes less into wet ground, but by less than it is wetter, while the surface drains slower than a
storm is forgotten), which is what makes "more rain never adds a fit hour that day" hold.
`docs/workability.md` has the equations.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from scheduler.workability import layout as at
from scheduler.workability.compiled import compiled
from scheduler.workability.evaporation import (
    dead_cover_tew,
    growing_residue_factor,
    reduction,
    shaded_fraction,
    soil_coefficient,
)
from scheduler.workability.runoff import soaked_mm

Floats = NDArray[np.float64]

COVER_BASE_C = 4.4
COVER_FULL_GDD = 400.0
STRESS_DEPLETION = 0.55
SURFACE_ROOT_SHARE = 0.5
CROP_HEIGHT_M = 0.5
SNOW_BLANKET_MM = 10.0
FREEZING_BAND_C = 0.6
FREEZING_DRAG = 4.0
FROZEN_AT_C = -0.3
GREEN_SHADE_OF_HEAT = 0.6
RESIDUE_SHADE_OF_HEAT = 0.35


@compiled
def antecedent_retention(surface_mm: float, p: Floats) -> float:
    """Retention S [mm] for the coming day, from the depletion of the surface (ASCE Manual 70, section 14)."""
    depletion = max(p[at.FC1] - surface_mm, 0.0)
    wet, dry = 0.5 * p[at.REW], 0.7 * p[at.REW] + 0.3 * p[at.TEW]
    share = min(max((dry - depletion) / (dry - wet), 0.0), 1.0)
    number = p[at.CN_DRY] + share * (p[at.CN_WET] - p[at.CN_DRY])
    return 25400.0 / number - 254.0


@compiled
def stress(water_mm: float, wilting_mm: float, capacity_mm: float) -> float:
    """Ks [0-1] (FAO-56 Eq. 84): plants slow down when the readily available water is gone."""
    total = capacity_mm - wilting_mm
    left = (water_mm - wilting_mm) / ((1.0 - STRESS_DEPLETION) * total)
    return min(max(left, 0.0), 1.0)


@compiled
def snow_step(rain: float, temp: float, s: Floats, p: Floats) -> float:
    """Let precipitation lie or melt; return liquid water at the ground [mm]."""
    liquid = rain
    if temp < p[at.SNOW_BELOW_C]:
        s[at.SNOW] += rain
        liquid = 0.0
    if s[at.SNOW] > 0.0 and temp > 0.0:
        melt = min(s[at.SNOW], p[at.MELT_MM_C_H] * temp)
        s[at.SNOW] -= melt
        liquid += melt
    return liquid


@compiled
def soak_step(liquid: float, frozen: bool, s: Floats, p: Floats, totals: Floats) -> None:
    """Split liquid water into runoff, soaking in and standing water."""
    s[at.STORM] *= p[at.STORM_KEEP]
    retention = min(s[at.RETENTION], p[at.S_WET]) if frozen else s[at.RETENTION]
    lost = 0.0
    if liquid > 0.0:
        soaked = min(soaked_mm(s[at.STORM], liquid, retention), liquid)
        lost = liquid - soaked
        s[at.STORM] += soaked
    waiting = s[at.POND] + liquid - lost
    entering = min(waiting, p[at.SAT1] - s[at.SURFACE])
    s[at.SURFACE] += entering
    waiting -= entering
    s[at.POND] = min(waiting, p[at.POND_MAX])
    shed = waiting - s[at.POND]
    s[at.STORM] = max(s[at.STORM] - shed, 0.0)
    totals[at.RUNOFF] += lost + shed


@compiled
def dry_step(
    et0: float, kcb: float, shade: float, residue: float, growing: bool, s: Floats, p: Floats, totals: Floats
) -> None:
    """Evaporate standing water, then the surface layer; let living plants drink from both layers."""
    if et0 <= 0.0 or s[at.SNOW] > 0.0:
        return
    factor, tew, rew = 1.0, p[at.TEW], p[at.REW]
    if growing:
        factor = growing_residue_factor(residue, p[at.RESIDUE_STRENGTH])
    else:
        tew = dead_cover_tew(tew, residue, p[at.RESIDUE_STRENGTH])
        rew = min(rew, 0.9 * tew)
    demand = soil_coefficient(1.0, p[at.KC_MAX], kcb, 1.0 - shade) * et0 * factor
    from_pond = min(s[at.POND], demand)
    s[at.POND] -= from_pond
    kr = reduction(max(p[at.FC1] - s[at.SURFACE], 0.0), rew, tew)
    ke = soil_coefficient(kr, p[at.KC_MAX], kcb, 1.0 - shade)
    floor = p[at.FC1] - tew
    taken = min(max(ke * et0 * factor - from_pond, 0.0), max(s[at.SURFACE] - floor, 0.0))
    s[at.SURFACE] -= taken
    totals[at.EVAPORATION] += taken + from_pond
    if kcb > 0.0:
        upper = SURFACE_ROOT_SHARE * kcb * et0 * stress(s[at.SURFACE], p[at.WP1], p[at.FC1])
        lower = (1.0 - SURFACE_ROOT_SHARE) * kcb * et0 * stress(s[at.SUBSOIL], p[at.WP2], p[at.FC2])
        upper = min(upper, max(s[at.SURFACE] - p[at.WP1], 0.0))
        lower = min(lower, max(s[at.SUBSOIL] - p[at.WP2], 0.0))
        s[at.SURFACE] -= upper
        s[at.SUBSOIL] -= lower
        totals[at.TRANSPIRATION] += upper + lower


@compiled
def drain_step(frozen: bool, s: Floats, p: Floats, totals: Floats) -> None:
    """Move water between the layers towards the drained level, and out of the subsoil."""
    excess = s[at.SUBSOIL] - p[at.FC2]
    if not frozen:
        level = p[at.FC1] * (1.0 + p[at.COUPLING] * excess / p[at.FC2])
        level = min(max(level, p[at.WP1]), p[at.SAT1])
        above = s[at.SURFACE] - level
        if above > 0.0:
            fullness = min(max(excess, 0.0) / (p[at.SAT2] - p[at.FC2]), 1.0)
            moved = above * p[at.DRAIN_SHARE] / (1.0 + p[at.SLOW] * fullness)
            moved = min(moved, p[at.SAT2] - s[at.SUBSOIL])
        else:
            moved = p[at.RISE] * above
            moved = -min(-moved, max(s[at.SUBSOIL] - p[at.WP2], 0.0))
        s[at.SURFACE] -= moved
        s[at.SUBSOIL] += moved
    gone = max(s[at.SUBSOIL] - p[at.FC2], 0.0) * p[at.SUB_DRAIN_SHARE]
    s[at.SUBSOIL] -= gone
    totals[at.DRAINAGE] += gone


@compiled
def heat_step(temp: float, solar: float, shade: float, residue: float, s: Floats, p: Floats) -> None:
    """Relax the 5 cm temperature to the heated air above it and the slower ground below it."""
    dim = (1.0 - GREEN_SHADE_OF_HEAT * shade) * (1.0 - RESIDUE_SHADE_OF_HEAT * residue)
    drive = temp + p[at.HEAT_PER_MJ] * solar * dim + p[at.HEAT_OFFSET]
    blanket = 1.0 + s[at.SNOW] / SNOW_BLANKET_MM
    freezing = 1.0 + (FREEZING_DRAG if abs(s[at.SOIL_C]) < FREEZING_BAND_C else 0.0)
    from_air = (drive - s[at.SOIL_C]) / (p[at.WARMING_H] * blanket)
    from_below = p[at.DEEP_PULL] * (s[at.DEEP_C] - s[at.SOIL_C]) / p[at.WARMING_H]
    s[at.SOIL_C] += (from_air + from_below) / freezing
    s[at.DEEP_C] += (s[at.SOIL_C] - s[at.DEEP_C]) / p[at.DEEP_H]


@compiled
def march(
    parameters: Floats,
    rain: Floats,
    temp: Floats,
    et0: Floats,
    solar: Floats,
    new_day: NDArray[np.bool_],
    growing: NDArray[np.bool_],
    cover_counts: NDArray[np.int8],
    cover_lives: NDArray[np.bool_],
    crop_kcb: Floats,
    state: Floats,
    totals: Floats,
    out: tuple[Any, ...],
) -> None:
    """Run every field and member through every hour, in place.

    Parameters
    ----------
    parameters : array (fields, layout.PARAMETERS)
    rain : array (fields or 1, members or 1, hours)
        [mm]
    temp, et0, solar : array (members, hours)
        [degC], [mm], [MJ/m2]
    new_day, growing, cover_counts : array (hours,)
    cover_lives, crop_kcb : array (fields, hours)
    state, totals : array (fields, members, layout.STATES or TOTALS)
        Changed in place.
    out : six arrays (fields, members, hours)
        Filled with surface and subsoil wetness [fraction of field capacity], snow, standing water [mm],
        soil temperature [degC], frozen.
    """
    surface, subsoil, snow, pond, soil_c, frozen_out = out
    fields, members, hours = surface.shape
    for f in range(fields):
        p = parameters[f]
        for m in range(members):
            s, total = state[f, m], totals[f, m]
            wet = rain[f if rain.shape[0] > 1 else 0, m if rain.shape[1] > 1 else 0]
            for h in range(hours):
                frozen = s[at.SOIL_C] < FROZEN_AT_C or s[at.DEEP_C] < FROZEN_AT_C
                if new_day[h]:
                    s[at.RETENTION] = antecedent_retention(s[at.SURFACE], p)
                if cover_counts[h] == 0:
                    s[at.COVER_GDD] = 0.0
                elif cover_lives[f, h]:
                    s[at.COVER_GDD] += max(temp[m, h] - COVER_BASE_C, 0.0) / 24.0
                grown = min(s[at.COVER_GDD] / COVER_FULL_GDD, 1.0)
                cover_kcb, cover_shade = p[at.COVER_KCB] * grown, p[at.COVER_SHADE] * grown
                residue, kcb, shade = p[at.RESIDUE], crop_kcb[f, h], 0.0
                if cover_lives[f, h]:
                    kcb, shade = max(kcb, cover_kcb), cover_shade
                else:
                    residue = 1.0 - (1.0 - residue) * (1.0 - cover_shade)
                shade = max(shade, shaded_fraction(crop_kcb[f, h], p[at.KC_MAX], CROP_HEIGHT_M))
                total[at.RAIN] += wet[h]
                liquid = snow_step(wet[h], temp[m, h], s, p)
                soak_step(liquid, frozen, s, p, total)
                dry_step(et0[m, h], kcb, shade, residue, growing[h], s, p, total)
                drain_step(frozen, s, p, total)
                heat_step(temp[m, h], solar[m, h], shade, residue, s, p)
                surface[f, m, h] = s[at.SURFACE] / p[at.FC1]
                subsoil[f, m, h] = s[at.SUBSOIL] / p[at.FC2]
                snow[f, m, h], pond[f, m, h], soil_c[f, m, h] = s[at.SNOW], s[at.POND], s[at.SOIL_C]
                frozen_out[f, m, h] = s[at.SOIL_C] < FROZEN_AT_C or s[at.DEEP_C] < FROZEN_AT_C
