"""Living rye in spring: stage from heat since green-up, to time its termination.

Heat is counted above 4.4 degC (40 degF) from 1 March [assumption: the usual base for rye; the start date
makes the count comparable between years, winter heat before it is small in the Corn Belt]. The heat to each
stage is an assumption set so that a normal central Iowa spring heads in the third week of May and flowers
around 1 June (from memory). Height (see `height.rye_height_m`) is tied to one published point: rye of less
than 1000 lb/ac dry matter stands 5 to 8 in (Iowa State University field agronomist, trade press, 22 April
2015).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from scheduler.stages.curve import StageCurve
from scheduler.stages.degree_days import RYE_BASE_4_4, HeatRule
from scheduler.stages.names import RYE_SCALE
from scheduler.stages.published import rows


@dataclass(frozen=True)
class RyeSetting:
    """What decides the pace of rye.

    Attributes
    ----------
    green_up_month, green_up_day : int
        Date from which spring heat counts.
    start_sd_degc_d, rate_sd : float
        Spread of the model itself [assumption].
    """

    green_up_month: int = 3
    green_up_day: int = 1
    start_sd_degc_d: float = 15.0
    rate_sd: float = 0.12
    rule: HeatRule = RYE_BASE_4_4

    def green_up(self, year: int) -> date:
        """Return the date from which heat counts in `year`; use it as the planting date of `stage_dates`."""
        return date(year, self.green_up_month, self.green_up_day)


def rye_curve(setting: RyeSetting | None = None) -> StageCurve:
    """Return the stage curve of rye in spring, heat since green-up [degC-day above the rule's base]."""
    setting = setting or RyeSetting()
    table = rows("cover_rye.csv")
    return StageCurve(
        RYE_SCALE,
        setting.rule,
        tuple(row["stage"] for row in table),
        tuple(float(row["heat_degc_d"]) for row in table),
        setting.start_sd_degc_d,
        setting.rate_sd,
        notes=("rye: heat to each stage is an assumption; look at the field before deciding",),
    )
