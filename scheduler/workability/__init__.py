"""Which fields are fit, when, and with what odds: soil water, frost, soil heat, fit rules, spray weather."""

from scheduler.workability.fit_rules import FitRule, fit_rule
from scheduler.workability.ground import Ground, SoilOptions, ground_parameters
from scheduler.workability.soil_water import SoilState, SoilTrace, run_soil_water, stored_mm
from scheduler.workability.solar import day_length_h, sun_times
from scheduler.workability.spray_weather import BandRule, SprayRule, band_outlook, heat_index_c, heat_index_f
from scheduler.workability.verdicts import FITNESS_CODES, REASON_CODES, Verdicts, judge

__all__ = [
    "FITNESS_CODES",
    "REASON_CODES",
    "BandRule",
    "FitRule",
    "Ground",
    "SoilOptions",
    "SoilState",
    "SoilTrace",
    "SprayRule",
    "Verdicts",
    "band_outlook",
    "day_length_h",
    "fit_rule",
    "ground_parameters",
    "heat_index_c",
    "heat_index_f",
    "judge",
    "run_soil_water",
    "stored_mm",
    "sun_times",
]
