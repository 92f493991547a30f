"""What a pass needs of the ground and the air: one rule per operation, wheel load, tracks and cover.

In: the tables `fit_limits.csv` and `load_shifts.csv` of `shared/tables`, and overrides of a farm. Out:
`FitRule`. The wetness limits are labelled assumptions there; a farm may set its own, and spade tests
move them by field.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import cache
from typing import Any

from scheduler.workability.published import rows
from scheduler.workability.spray_weather import BandRule, SprayRule
from shared.vocabulary import Cover, LoadClass, Operation


@dataclass(frozen=True)
class FitRule:
    """Needs of one kind of pass with one kind of rig.

    Attributes
    ----------
    wet_limit : float
        Surface wetness up to which ground is fit [fraction of field capacity of a silty clay loam; other soils
        are read on its scale by how full their pores are].
    marginal_band : float
        Above the limit, how much wetter is still marginal [fraction of field capacity].
    limit_sd : float
        How uncertain the limit is, one standard deviation [fraction of field capacity].
    subsoil_limit : float
        Subsoil wetness above which wheels sink [fraction of field capacity].
    rain_now_mm_h : float
        Rain in the hour from which the work stops [mm/h].
    sticky_after_mm, sticky_h : float, int
        Rain within so many hours from which the skin of the soil sticks [mm], [h].
    soil_min_c, soil_marginal_c : float or None
        Mean soil temperature of the last 24 hours at 5 cm for fit, and for marginal [degC].
    frozen_carries : bool
        Hard-frozen ground without much snow counts as fit.
    dew_matters : bool
        Wet leaves stop the work.
    spray, band : SprayRule, BandRule or None
        Needs of the air for sprays; what weather does to a surface band (cautions).
    """

    operation: Operation
    wet_limit: float
    marginal_band: float = 0.05
    limit_sd: float = 0.08
    subsoil_limit: float = 1.25
    rain_now_mm_h: float = 0.3
    sticky_after_mm: float = 2.5
    sticky_h: int = 6
    soil_min_c: float | None = None
    soil_marginal_c: float | None = None
    frozen_carries: bool = False
    dew_matters: bool = False
    spray: SprayRule | None = None
    band: BandRule | None = None

    def __post_init__(self) -> None:
        for name, least, most in (
            ("wet_limit", 0.3, 2.0), ("marginal_band", 0.0, 0.5), ("limit_sd", 0.0, 0.5),
            ("subsoil_limit", 0.5, 3.0), ("rain_now_mm_h", 0.0, 50.0), ("sticky_after_mm", 0.0, 200.0),
            ("sticky_h", 0, 72),
        ):  # fmt: skip
            value = getattr(self, name)
            if not least <= value <= most:
                raise ValueError(f"{name} must lie between {least:g} and {most:g}, got {value!r}")
        low, high = self.soil_marginal_c, self.soil_min_c
        if low is not None and high is not None and low > high:
            raise ValueError("soil_marginal_c must not exceed soil_min_c")


@cache
def _shifts() -> dict[str, float]:
    return {row["thing"]: float(row["shift"]) for row in rows("load_shifts")}


@cache
def _defaults() -> dict[Operation, FitRule]:
    def optional(text: str) -> float | None:
        return float(text) if text else None

    table = {}
    for row in rows("fit_limits"):
        operation = Operation(row["operation"])
        table[operation] = FitRule(
            operation=operation,
            wet_limit=float(row["wet_limit"]),
            marginal_band=float(row["marginal_band"]),
            limit_sd=float(row["limit_sd"]),
            subsoil_limit=float(row["subsoil_limit"]),
            rain_now_mm_h=float(row["rain_now_mm_h"]),
            sticky_after_mm=float(row["sticky_after_mm"]),
            sticky_h=int(row["sticky_h"]),
            soil_min_c=optional(row["soil_min_c"]),
            soil_marginal_c=optional(row["soil_marginal_c"]),
            frozen_carries=row["frozen_carries"] == "yes",
            dew_matters=row["dew_matters"] == "yes",
            spray=SprayRule() if row["spray_weather"] == "yes" else None,
            band=BandRule() if row["band_weather"] == "yes" else None,
        )
    return table


def fit_rule(
    operation: Operation,
    load: LoadClass = LoadClass.MEDIUM,
    tracks: bool = False,
    cover: Cover = Cover.NONE,
    overrides: Mapping[str, Any] | None = None,
) -> FitRule:
    """Return the rule of a pass, its wetness limit shifted by rig and cover, then the farm's own values.

    Parameters
    ----------
    operation, load, tracks, cover
        The pass and what presses on the ground; `cover` is the living cover at the time.
    overrides : mapping
        Attributes of `FitRule` to replace; a `wet_limit` given here is taken as it is, without shifts.
    """
    rule = _defaults()[operation]
    shift = _shifts()[load.value]
    shift += _shifts()["tracks"] if tracks else 0.0
    shift += _shifts()["living cover"] if cover is not Cover.NONE else 0.0
    # round() keeps 0.95 + 0.03 at 0.98 in files and goldens
    rule = replace(rule, wet_limit=round(rule.wet_limit + shift, 6))
    if not overrides:
        return rule
    known = {field.name for field in fields(FitRule)} - {"operation"}
    unknown = sorted(set(overrides) - known)
    if unknown:
        raise ValueError(f"unknown fit rule key {unknown[0]!r}; allowed: {', '.join(sorted(known))}")
    return replace(rule, **overrides)
