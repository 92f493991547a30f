"""Which fields are fit, when, and with what odds: soil water, frost, soil heat, fit rules, spray weather."""

from scheduler.workability.calibrate import Calibration, Score, WeekReport, calibrate
from scheduler.workability.district import FITTED, HANDBOOK, DistrictRule, DistrictSettings, typical_ground
from scheduler.workability.fit_rules import FitRule, fit_rule
from scheduler.workability.gauges import GaugeReading, rain_by_field
from scheduler.workability.ground import Ground, SoilOptions, ground_parameters
from scheduler.workability.learning import GroundCheck, Learned, LearningPrior, learn_field
from scheduler.workability.soil_temperature import SoilDays, soil_days
from scheduler.workability.soil_water import SoilState, SoilTrace, run_soil_water, stored_mm
from scheduler.workability.solar import day_length_h, sun_times
from scheduler.workability.spray_weather import BandRule, SprayRule, band_outlook, heat_index_c, heat_index_f
from scheduler.workability.verdicts import FITNESS_CODES, REASON_CODES, Verdicts, fit_odds, judge
from scheduler.workability.workdays import (
    JudgedDays,
    Workday,
    Workdays,
    judge_district,
    weekly_sums,
    workdays,
    workdays_report,
)

__all__ = [
    "FITNESS_CODES",
    "FITTED",
    "HANDBOOK",
    "REASON_CODES",
    "BandRule",
    "Calibration",
    "DistrictRule",
    "DistrictSettings",
    "FitRule",
    "GaugeReading",
    "Ground",
    "GroundCheck",
    "JudgedDays",
    "Learned",
    "LearningPrior",
    "Score",
    "SoilDays",
    "SoilOptions",
    "SoilState",
    "SoilTrace",
    "SprayRule",
    "Verdicts",
    "WeekReport",
    "Workday",
    "Workdays",
    "band_outlook",
    "calibrate",
    "day_length_h",
    "fit_odds",
    "fit_rule",
    "ground_parameters",
    "heat_index_c",
    "heat_index_f",
    "judge",
    "judge_district",
    "learn_field",
    "rain_by_field",
    "run_soil_water",
    "soil_days",
    "stored_mm",
    "sun_times",
    "typical_ground",
    "weekly_sums",
    "workdays",
    "workdays_report",
]
