"""Corn: heat to emergence and from leaf to leaf.

Two published schools give the heat per leaf collar; they are selected by author and never mixed. Emergence
starts from a published base and is moved by seed depth, dry seed zone, residue and texture.

References
----------
.. [1] Nielsen R.L. (2019), Purdue University: emergence after 100-120 degF-day, use 115; one collar per 82
   degF-day to V10, then per 50 (after Wuethrich 1997). The two rates were read in articles that quote the
   page.
.. [2] Abendroth L.J. et al. (2011), Iowa State University PMR 1009: 84 degF-day VE-V10, 56 V11-VT (read
   quoted).
.. [3] Lauer J. (2003), University of Wisconsin, Wis. Crop Manager 10(8):63-64: base about 125 degF-day; +15
   per inch deeper than 2 in; +30 in a dry seed zone; +30 to +60 above 75 % residue; +30 to +60 in fine soil,
   -30 to -60 in coarse soil.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scheduler.stages.curve import StageCurve
from scheduler.stages.degree_days import GDD_86_50
from scheduler.stages.names import CORN_LEAVES_MAX, CORN_SCALE, SettingRefused
from scheduler.stages.published import rows
from shared.vocabulary import Texture

_INCH_M = 0.0254
#: USDA texture classes called fine and coarse here; all others get no texture adjustment. The grouping is the
#: Soil Survey's "fine" and "coarse to moderately coarse"; the Wisconsin note names no classes [assumption].
FINE = frozenset({Texture.CLAY, Texture.SILTY_CLAY, Texture.SANDY_CLAY})
COARSE = frozenset({Texture.SAND, Texture.LOAMY_SAND, Texture.SANDY_LOAM})


@dataclass(frozen=True)
class LeafRate:
    """Heat per leaf collar by one school.

    Attributes
    ----------
    school : str
        Author, the name by which it is selected.
    early_degf_d, late_degf_d : float
        Heat per collar up to and after V10 [degF-day].
    """

    school: str
    early_degf_d: float
    late_degf_d: float


def leaf_rates() -> dict[str, LeafRate]:
    """Return the published leaf rates by author."""
    return {
        row["school"]: LeafRate(row["school"], float(row["early_degf_d"]), float(row["late_degf_d"]))
        for row in rows("corn_leaf_rates.csv")
    }


@dataclass(frozen=True)
class CornSetting:
    """What decides the pace of one corn field.

    Attributes
    ----------
    school : str
        ``nielsen`` (82/50) or ``abendroth`` (84/56) [1]_ [2]_.
    emergence : str
        ``nielsen`` (base 115) or ``lauer`` (base 125) degF-day, before adjustments [1]_ [3]_.
    seed_depth_m : float
        Seed depth [m].
    residue_pct : float
        Ground covered by residue [%].
    texture : Texture or None
        Texture class of the surface; None for no adjustment.
    dry_seed_zone : bool
        Seed lies in dry soil.
    adjustment_share : float
        Place in the published range of an adjustment: 0 its low end, 0.5 its middle, 1 its high end.
    leaf_count : int
        Collars of a full plant; VT begins with the last one. 20 by default [from memory: 18-21 is usual].
    emergence_sd_degf_d, rate_sd : float
        Spread of the model itself: 15 degF-day at emergence (half the width of the published ranges) and 6 %
        of the leaf rate (the schools differ by 2 and 12 %) [assumption].
    """

    school: str = "nielsen"
    emergence: str = "nielsen"
    seed_depth_m: float = 2.0 * _INCH_M
    residue_pct: float = 0.0
    texture: Texture | None = None
    dry_seed_zone: bool = False
    adjustment_share: float = 0.5
    leaf_count: int = 20
    emergence_sd_degf_d: float = 15.0
    rate_sd: float = 0.06

    def __post_init__(self) -> None:
        _allow("school", self.school, leaf_rates())
        _allow("emergence", self.emergence, emergence_bases())
        if not 0.01 <= self.seed_depth_m <= 0.15:
            raise SettingRefused(
                f"seed_depth_m {self.seed_depth_m:g} is not usable; allowed: 0.01 to 0.15 m."
            )
        if not 0.0 <= self.residue_pct <= 100.0:
            raise SettingRefused(f"residue_pct {self.residue_pct:g} is not usable; allowed: 0 to 100 %.")
        if not 0.0 <= self.adjustment_share <= 1.0:
            raise SettingRefused(
                f"adjustment_share {self.adjustment_share:g} is not usable; allowed: 0 to 1."
            )
        if not 12 <= self.leaf_count <= CORN_LEAVES_MAX:
            raise SettingRefused(
                f"leaf_count {self.leaf_count} is not usable; allowed: 12 to {CORN_LEAVES_MAX}."
            )


def emergence_bases() -> dict[str, float]:
    """Return the published heat to emergence before adjustments, by author [degF-day]."""
    return {
        row["author"]: float(row["low_degf_d"])
        for row in rows("corn_emergence.csv")
        if row["factor"] == "base"
    }


def emergence_parts(setting: CornSetting) -> dict[str, float]:
    """Return the heat to emergence part by part [degF-day]; their sum is the heat needed."""
    ranges = {
        r["factor"]: (float(r["low_degf_d"]), float(r["high_degf_d"])) for r in rows("corn_emergence.csv")
    }

    def placed(factor: str) -> float:
        low, high = ranges[factor]
        return low + (high - low) * setting.adjustment_share

    parts = {"base": emergence_bases()[setting.emergence]}
    extra_in = max(setting.seed_depth_m / _INCH_M - 2.0, 0.0)
    if extra_in > 1e-9:
        parts["depth"] = extra_in * placed("depth per inch beyond 2")
    if setting.dry_seed_zone:
        parts["dry seed zone"] = placed("dry seed zone")
    if setting.residue_pct > 75.0:
        parts["residue above 75 %"] = placed("residue above 75 %")
    if setting.texture in FINE:
        parts["fine texture"] = placed("fine texture")
    if setting.texture in COARSE:
        parts["coarse texture"] = placed("coarse texture")
    return parts


def emergence_heat(setting: CornSetting) -> float:
    """Return the heat from planting to emergence [degF-day]."""
    return sum(emergence_parts(setting).values())


def corn_curve(setting: CornSetting | None = None) -> StageCurve:
    """Return the stage curve of a corn field: planted, VE, V1 ... VT, R1.

    R1 is set one late leaf interval after VT (2 to 3 days) [assumption]; later stages are not modelled.
    """
    setting = setting or CornSetting()
    rate = leaf_rates()[setting.school]
    names = ["planted", "VE"]
    heat = [0.0, emergence_heat(setting)]
    for leaf in range(1, setting.leaf_count + 1):
        names.append(f"V{leaf}" if leaf < setting.leaf_count else "VT")
        heat.append(heat[-1] + (rate.early_degf_d if leaf <= 10 else rate.late_degf_d))
    names.append("R1")
    heat.append(heat[-1] + rate.late_degf_d)
    notes = [
        f"corn: {rate.early_degf_d:g} degF-day a collar to V10, then {rate.late_degf_d:g} ({rate.school})"
    ]
    parts = emergence_parts(setting)
    notes.append(
        "emergence: " + " + ".join(f"{value:g} {name}" for name, value in parts.items()) + " degF-day"
    )
    return StageCurve(
        CORN_SCALE,
        GDD_86_50,
        tuple(names),
        tuple(heat),
        setting.emergence_sd_degf_d,
        setting.rate_sd,
        notes=tuple(notes),
    )


def corn_stage(setting: CornSetting, gdd_degf_d: ArrayLike) -> NDArray[np.float64]:
    """Return the stage number (planted -1, VE 0, Vn n) after `gdd_degf_d` since planting [degF-day]."""
    return corn_curve(setting).stage_at(gdd_degf_d)


def corn_heat(setting: CornSetting, stage: str) -> float:
    """Return the heat since planting at which a named stage begins [degF-day]; inf where not modelled."""
    return corn_curve(setting).heat_at(CORN_SCALE.parse(stage))


def _allow(key: str, value: str, allowed: dict[str, object] | dict[str, float] | dict[str, LeafRate]) -> None:
    if value not in allowed:
        raise SettingRefused(f"{key} {value!r} is not known; allowed: {', '.join(sorted(allowed))}.")
