"""Evaporation from bare and residue-covered ground, in the two stages of FAO-56 chapter 7.

In: depletion of the evaporation layer [mm], residue and shade. Out: coefficients to multiply ET0 with.
Equation numbers are those of FAO Irrigation and Drainage Paper 56 (Allen et al. 1998). Small compiled
functions; the loop in `soil_loop` calls them.
"""

from __future__ import annotations

from scheduler.workability.compiled import compiled


def kc_max(wind_m_s: float, rh_min_pct: float, height_m: float, kcb: float = 0.15) -> float:
    """Largest crop coefficient after wetting (Eq. 72)."""
    standard = 1.2 + (0.04 * (wind_m_s - 2) - 0.004 * (rh_min_pct - 45)) * (height_m / 3) ** 0.3
    return max(standard, kcb + 0.05)


def total_evaporable_mm(field_capacity: float, wilting_point: float, depth_m: float) -> float:
    """TEW [mm] (Eq. 73)."""
    return 1000 * (field_capacity - 0.5 * wilting_point) * depth_m


@compiled
def reduction(depletion_mm: float, rew_mm: float, tew_mm: float) -> float:
    """Kr [0-1] (Eq. 74): 1 while energy limits, then falling to 0 when the layer is spent."""
    if depletion_mm <= rew_mm:
        return 1.0
    if depletion_mm >= tew_mm:
        return 0.0
    return (tew_mm - depletion_mm) / (tew_mm - rew_mm)


@compiled
def soil_coefficient(kr: float, kc_top: float, kcb: float, exposed: float) -> float:
    """Ke [-] (Eq. 71); `exposed` is the fraction few of ground both wetted and unshaded (Eq. 75)."""
    return min(kr * (kc_top - kcb), exposed * kc_top)


@compiled
def shaded_fraction(kcb: float, kc_top: float, height_m: float, kc_min: float = 0.15) -> float:
    """Ground cover fc [0-0.99] of a crop from its basal coefficient (Eq. 76)."""
    if kcb <= kc_min:
        return 0.0
    share = min((kcb - kc_min) / (kc_top - kc_min), 1.0)
    return min(share ** (1 + 0.5 * height_m), 0.99)


@compiled
def growing_residue_factor(residue: float, strength: float) -> float:
    """Evaporation left under residue in the growing season: 5 % less per 10 % cover (pp. 197-198)."""
    return 1.0 - strength * residue


@compiled
def dead_cover_tew(tew_mm: float, residue: float, strength: float) -> float:
    """TEW [mm] outside the growing season: 5 % less per 10 % cover (chapter 11, pp. 207-208)."""
    return tew_mm * (1.0 - strength * residue)
