"""Crop stages: heat units to stage dates with odds, crop height, pass windows and the cost of coming late.

Reads downwards: `names`, `degree_days`, `normals` -> `curve` <- `corn`, `soybean`, `cover` -> `progress`
(dates with odds, sightings) -> `height` -> `timing`, `window` (when a pass is allowed) and `response`,
`timeliness` (what delay costs) -> `report` (the command's answer). Equations and sources: docs/stages.md.
"""

from scheduler.stages.corn import (
    CornSetting,
    corn_curve,
    corn_heat,
    corn_stage,
    emergence_heat,
)
from scheduler.stages.cover import RyeSetting, rye_curve
from scheduler.stages.curve import StageCurve
from scheduler.stages.degree_days import (
    GDD_86_50,
    RYE_BASE_0,
    RYE_BASE_4_4,
    HeatRule,
    daily_extremes,
    daily_heat,
    degree_days_c,
    degree_days_f,
)
from scheduler.stages.height import HeightOdds, MeasuredHeight, corn_height_m, height_odds, rye_height_m
from scheduler.stages.names import SettingRefused, StageNameUnknown, StageScale, scale_for
from scheduler.stages.normals import HeatNormals, extend_heat, heat_normals
from scheduler.stages.progress import Scouted, StageOdds, learn_stage, stage_dates
from scheduler.stages.report import StageOptions, curve_for, fill_heat, stages_report
from scheduler.stages.response import ResponseTable, relative_yield, response_table, response_tables
from scheduler.stages.soybean import SoybeanSetting, soybean_curve, soybean_stage
from scheduler.stages.timeliness import DelayCurve, closed_form_loss, delay_cost_curve, make_convex
from scheduler.stages.timing import (
    PassTiming,
    default_timing,
    over_the_top_n_limit_lb_per_ac,
    timing_variants,
)
from scheduler.stages.window import WindowOdds, open_window

__all__ = [
    "GDD_86_50",
    "RYE_BASE_0",
    "RYE_BASE_4_4",
    "CornSetting",
    "DelayCurve",
    "HeatNormals",
    "HeatRule",
    "HeightOdds",
    "MeasuredHeight",
    "PassTiming",
    "ResponseTable",
    "RyeSetting",
    "Scouted",
    "SettingRefused",
    "SoybeanSetting",
    "StageCurve",
    "StageNameUnknown",
    "StageOdds",
    "StageOptions",
    "StageScale",
    "WindowOdds",
    "closed_form_loss",
    "corn_curve",
    "corn_heat",
    "corn_height_m",
    "corn_stage",
    "curve_for",
    "daily_extremes",
    "daily_heat",
    "default_timing",
    "degree_days_c",
    "degree_days_f",
    "delay_cost_curve",
    "emergence_heat",
    "extend_heat",
    "fill_heat",
    "heat_normals",
    "height_odds",
    "learn_stage",
    "make_convex",
    "open_window",
    "over_the_top_n_limit_lb_per_ac",
    "relative_yield",
    "response_table",
    "response_tables",
    "rye_curve",
    "rye_height_m",
    "scale_for",
    "soybean_curve",
    "soybean_stage",
    "stage_dates",
    "stages_report",
    "timing_variants",
]
