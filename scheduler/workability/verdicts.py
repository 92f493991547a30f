"""Is the ground fit for this pass: fit, marginal or unfit at each hour, why, and with what odds.

In: a `FitRule`, the `SoilTrace`, the weather it came from. Out: `Verdicts`. Daylight, shifts and stages
are judged elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import cache

import numpy as np
from numpy.typing import NDArray

from scheduler.workability import judging as j
from scheduler.workability.fit_rules import FitRule
from scheduler.workability.ground import off_reference_scale
from scheduler.workability.soil_water import SoilTrace
from scheduler.workability.spray_weather import AIR_CAUSES, BandOutlook, band_outlook, judge_air
from shared.vocabulary import Fitness, Reason
from shared.weather_records import HourlyWeather, Place

FITNESS_CODES = (Fitness.FIT, Fitness.MARGINAL, Fitness.UNFIT)
REASON_CODES = tuple(Reason)
NEVER = -1


@dataclass(frozen=True)
class Verdicts:
    """Verdicts for one rule. Arrays are (fields, members, hours).

    Attributes
    ----------
    rule : FitRule
        The rule that was applied.
    start_utc : datetime
        Start of the first hour.
    fitness : array of uint8
        Index into `FITNESS_CODES`: 0 fit, 1 marginal, 2 unfit.
    reason : array of uint8
        Index into ``list(Reason)``: the first cause, ``Reason.FIT`` where there is none.
    causes : array of uint16
        All causes, as bits of `judging.CAUSES`; see `all_reasons`.
    margin_mm : array of float32
        Water the surface layer could still take (or must lose, negative) to stand at the limit [mm].
    odds : array of float32
        Chance over the uncertainty of the limit that the hour is fit, in each member [0-1].
    limits : array (fields,)
        Wetness limit of each field [fraction of field capacity, on the reference scale].
    band : BandOutlook or None
        What may happen to a surface band laid in each hour.
    """

    rule: FitRule
    start_utc: datetime
    fitness: NDArray[np.uint8]
    reason: NDArray[np.uint8]
    causes: NDArray[np.uint16]
    margin_mm: NDArray[np.float32]
    odds: NDArray[np.float32]
    limits: NDArray[np.float64]
    band: BandOutlook | None = None

    def chance(self) -> NDArray[np.float64]:
        """Odds (fields, hours) that an hour is fit, over members and over the uncertainty of the limit."""
        return self.odds.mean(axis=1, dtype=np.float64)

    def member_share(self, worst: Fitness = Fitness.FIT) -> NDArray[np.float64]:
        """Share of members (fields, hours) in which the hour is `worst` or better, the limit as given."""
        return (self.fitness <= FITNESS_CODES.index(worst)).mean(axis=1)

    def reason_share(self) -> dict[Reason, NDArray[np.float64]]:
        """For every cause that occurs, the share of members (fields, hours) in which it holds."""
        shares = {}
        for bit, cause in enumerate(j.CAUSES):
            share = ((self.causes >> bit) & 1).mean(axis=1)
            if share.any():
                shares[cause] = share
        return shares

    def all_reasons(self, field: int, member: int, hour: int) -> tuple[Reason, ...]:
        """Every cause that speaks against one hour; taking away a single one of several changes nothing."""
        mask = int(self.causes[field, member, hour])
        return tuple(cause for bit, cause in enumerate(j.CAUSES) if mask >> bit & 1)

    def hours_to_fit(self, worst: Fitness = Fitness.FIT) -> NDArray[np.int32]:
        """Hours (fields, members, hours) to the next hour that is `worst` or better; -1 where none is."""
        good = self.fitness <= FITNESS_CODES.index(worst)
        hours = good.shape[-1]
        index = np.where(good, np.arange(hours), hours)
        coming = np.minimum.accumulate(index[..., ::-1], axis=-1)[..., ::-1]
        return np.where(coming < hours, coming - np.arange(hours), NEVER).astype(np.int32)


def judge(rule: FitRule, trace: SoilTrace, weather: HourlyWeather, place: Place) -> Verdicts:
    """Judge every hour of a trace by a rule.

    Parameters
    ----------
    rule : FitRule
        What the pass needs.
    trace : SoilTrace
        Ground under `weather`.
    weather : HourlyWeather
        The same hours and members that made the trace.
    place : Place
        For the height of the sun (inversions).
    """
    limits, fitness, causes, odds = _judged(rule, trace, weather, place)
    own_limits = off_reference_scale(limits, trace.scales)
    margin = (own_limits[:, None, None] - trace.surface_wetness) * trace.capacity_mm[:, None, None]
    return Verdicts(
        rule, trace.start_utc, fitness, _first_reasons()[causes], causes, margin.astype(np.float32), odds,
        limits, band_outlook(weather, rule.band) if rule.band else None,
    )  # fmt: skip


def fit_odds(rule: FitRule, trace: SoilTrace, weather: HourlyWeather, place: Place) -> NDArray[np.float32]:
    """Return `Verdicts.odds` alone, for who asks no reasons; parameters as of `judge`."""
    return _judged(rule, trace, weather, place)[-1]


def _judged(
    rule: FitRule, trace: SoilTrace, weather: HourlyWeather, place: Place
) -> tuple[NDArray[np.float64], NDArray[np.uint8], NDArray[np.uint16], NDArray[np.float32]]:
    """Return limits (fields,) and, by field, member and hour, fitness, causes and odds."""
    if (trace.shape[1], trace.shape[2]) != weather.temp_c.shape or trace.start_utc != weather.start_utc:
        raise ValueError("the trace and the weather must cover the same members and hours")
    air_fitness, air_bits = judge_air(weather, place, rule.spray, rule.dew_matters)
    limits = rule.wet_limit + trace.limit_shift
    fitness, causes = np.empty(trace.shape, np.uint8), np.empty(trace.shape, np.uint16)
    odds = np.empty(trace.shape, np.float32)
    j.judge_ground(
        _numbers(rule), limits, trace.judged_surface, trace.judged_subsoil, trace.snow_mm, trace.pond_mm,
        trace.soil_temp_c, trace.frozen, trace.rain_mm, air_fitness, _air_causes(air_bits),
        fitness, causes, odds,
    )  # fmt: skip
    return limits, fitness, causes, odds


def _numbers(rule: FitRule) -> NDArray[np.float64]:
    nothing = -1e9
    return np.array([
        rule.marginal_band, rule.limit_sd, rule.subsoil_limit, rule.rain_now_mm_h, rule.sticky_after_mm,
        rule.sticky_h, nothing if rule.soil_min_c is None else rule.soil_min_c,
        nothing if rule.soil_marginal_c is None else rule.soil_marginal_c, float(rule.frozen_carries),
    ])  # fmt: skip


def _air_causes(bits: NDArray[np.uint8]) -> NDArray[np.uint16]:
    """Translate bits of `AIR_CAUSES` to bits of `judging.CAUSES`."""
    wide = np.zeros(bits.shape, np.uint16)
    for bit, cause in enumerate(AIR_CAUSES):
        wide |= ((bits >> bit) & 1).astype(np.uint16) << np.uint16(j.CAUSES.index(cause))
    return wide


@cache
def _first_reasons() -> NDArray[np.uint8]:
    """Return by mask of causes the index into ``list(Reason)`` of the lowest set bit."""
    table = np.zeros(1 << len(j.CAUSES), np.uint8)
    table[0] = REASON_CODES.index(Reason.FIT)
    masks = np.arange(1, len(table))
    lowest = np.log2(masks & -masks).astype(int)
    table[1:] = np.array([REASON_CODES.index(cause) for cause in j.CAUSES], np.uint8)[lowest]
    return table
