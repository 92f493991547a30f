"""Soybean: heat to emergence, then days from node to node.

Emergence follows heat; from V1 a new node appears about every 3.7 days whatever the planting date, so time
after emergence is kept in days. Reproductive stages follow day length and are not predicted here.

References
----------
.. [1] University of Wisconsin soybean notes, 21 May 2008: about 145 degF-day of air heat (base 50 degF) to
   emergence.
.. [2] Corn and soybean trade press on work at Nebraska: node every about 3.7 days from V1 to R5, little
   affected by planting date; VC 3 to 5 days after VE.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scheduler.stages.curve import StageCurve
from scheduler.stages.degree_days import GDD_86_50
from scheduler.stages.names import SOYBEAN_NODES_MAX, SOYBEAN_SCALE, SettingRefused
from scheduler.stages.published import rows

#: One day after emergence is booked as this much heat, so that one error model serves both crops. About the
#: heat of a day at the end of May in the central Corn Belt; it cancels out of every date.
DAY_AS_HEAT = 17.0


def _published(factor: str) -> float:
    return next(float(row["value"]) for row in rows("soybean_stages.csv") if row["factor"] == factor)


@dataclass(frozen=True)
class SoybeanSetting:
    """What decides the pace of one soybean field.

    Attributes
    ----------
    emergence_degf_d : float or None
        Heat from planting to emergence [degF-day, 86/50]; None for the table's 145 [1]_.
    days_to_vc, days_vc_to_v1, days_per_node : float or None
        Days from VE to VC, VC to V1 and node to node; None for the table's values [2]_.
    emergence_sd_degf_d, rate_sd : float
        Spread of the model itself [assumption]: 20 degF-day and 12 %.
    """

    emergence_degf_d: float | None = None
    days_to_vc: float | None = None
    days_vc_to_v1: float | None = None
    days_per_node: float | None = None
    emergence_sd_degf_d: float = 20.0
    rate_sd: float = 0.12

    def __post_init__(self) -> None:
        for name in ("emergence_degf_d", "days_to_vc", "days_vc_to_v1", "days_per_node"):
            value = getattr(self, name)
            if value is not None and not 0.0 < value < 1000.0:
                raise SettingRefused(f"{name} {value:g} is not usable; allowed: above 0 and below 1000.")


def soybean_curve(setting: SoybeanSetting | None = None) -> StageCurve:
    """Return the stage curve of a soybean field: planted, VE, VC, V1 ... V20."""
    setting = setting or SoybeanSetting()
    emergence = setting.emergence_degf_d or _published("emergence_degf_d")
    steps = [
        setting.days_to_vc or _published("days VE to VC"),
        setting.days_vc_to_v1 or _published("days VC to V1"),
        *[setting.days_per_node or _published("days per node")] * (SOYBEAN_NODES_MAX - 1),
    ]
    heat = np.concatenate([[0.0, emergence], emergence + DAY_AS_HEAT * np.cumsum(steps)])
    names = ("planted", "VE", "VC", *(f"V{n}" for n in range(1, SOYBEAN_NODES_MAX + 1)))
    return StageCurve(
        SOYBEAN_SCALE,
        GDD_86_50,
        names,
        tuple(float(value) for value in heat),
        setting.emergence_sd_degf_d,
        setting.rate_sd,
        clock_heat_per_day=DAY_AS_HEAT,
        notes=(
            f"soybean: emergence after {emergence:g} degF-day, then a node every {steps[-1]:g} days from V1",
            "soybean R stages follow day length and are not predicted; report them when seen",
        ),
    )


def soybean_stage(setting: SoybeanSetting, heat: ArrayLike) -> NDArray[np.float64]:
    """Return the stage number after `heat` on the curve's own clock (see `StageCurve.accumulate`)."""
    return soybean_curve(setting).stage_at(heat)
