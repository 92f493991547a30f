"""Runoff by the curve number of the US soil conservation handbook, moved by the wetness of the ground.

In: rain [mm], what is stored of the storm [mm], retention. Out: what soaks in [mm]; the rest runs off.
Sources: TR-55 (1986) chapter 2 for the equation; ASCE Manual 70 (2016) Eqs. 14-14 and 14-15 for dry and wet
condition; Sharpley & Williams (1990) for slope (from memory).
"""

from __future__ import annotations

import math

from scheduler.workability.compiled import compiled

ABSTRACTION_SHARE = 0.2


def retention_mm(curve_number: float) -> float:
    """Potential retention S [mm]."""
    return 25400 / curve_number - 254


@compiled
def soaked_mm(stored_mm: float, rain_mm: float, retention: float) -> float:
    """Water [mm] that soaks in of more rain, when `stored_mm` of the storm is already in the ground.

    Runoff of a storm P on ground with retention S [mm] is Q = x^2 / (x + S), x = P - Ia, with initial abstraction
    Ia = 0.2 S. Read by what is stored: F = P - Q = Ia + x S / (x + S), so x = S (F - Ia) / (S - (F - Ia)). Written
    so, a storm can be forgotten by letting what is stored drain away, and with the same S more rain in one hour never
    leaves less of F at a later one.
    """
    abstraction = ABSTRACTION_SHARE * retention
    held = stored_mm - abstraction
    if held >= retention:
        return 0.0
    beyond = (held if held <= 0.0 else retention * held / (retention - held)) + rain_mm
    after = beyond if beyond <= 0.0 else retention * beyond / (beyond + retention)
    return after - held


def dry_curve_number(cn2: float) -> float:
    """CN1, dry antecedent condition."""
    return cn2 / (2.281 - 0.01281 * cn2)


def wet_curve_number(cn2: float) -> float:
    """CN3, wet antecedent condition."""
    return cn2 / (0.427 + 0.00573 * cn2)


def slope_adjusted(cn2: float, slope_pct: float) -> float:
    """CN2 for a slope other than the 5 % of the handbook."""
    steep = 1 - 2 * math.exp(-13.86 * slope_pct / 100)
    return cn2 + (wet_curve_number(cn2) - cn2) / 3 * steep
