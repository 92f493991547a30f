"""What spade tests teach about one field: how wet it is now, how slowly it drains, how wet it may be.

A report says fit, marginal or unfit at a time. Three things about the field are uncertain: its drying factor, a
shift of its wetness limit, and an error of today's modelled wetness. They are held on a grid with a prior; each
report weighs the grid by how likely it would be there, with a share of reports taken to be plain wrong. What comes
out is the mean and spread before and after. No sampling, no order of reports, no hidden state: the same reports
give the same answer, and a corrected report simply takes the place of the old one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from math import erf

import numpy as np
from numpy.typing import NDArray

from scheduler.workability import layout as at
from scheduler.workability.fit_rules import FitRule
from scheduler.workability.ground import Ground, SoilOptions, off_reference_scale
from scheduler.workability.soil_water import SoilState, run_soil_water
from shared.vocabulary import Fitness
from shared.weather_records import HourlyWeather, Place

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class GroundCheck:
    """One spade test.

    Attributes
    ----------
    at : datetime
        When (aware).
    verdict : Fitness
        What was found.
    rule : FitRule
        The pass it was meant for; its limit and marginal band are what the verdict speaks about.
    """

    at: datetime
    verdict: Fitness
    rule: FitRule


@dataclass(frozen=True)
class LearningPrior:
    """What is believed before anyone digs; every number is an assumption that a farm may change.

    Attributes
    ----------
    drying_log_sd : float
        Spread of the natural logarithm of the drying factor [-].
    limit_sd : float
        Spread of the field's own limit shift [fraction of field capacity].
    wetness_sd : float
        Error of the modelled wetness at one moment [fraction of field capacity].
    wetness_memory_d : float
        A wetness error is remembered for about so many days [d].
    wrong_share : float
        Share of reports that say anything at all [-].
    """

    drying_log_sd: float = 0.35
    limit_sd: float = 0.05
    wetness_sd: float = 0.05
    wetness_memory_d: float = 4.0
    wrong_share: float = 0.10


@dataclass(frozen=True)
class Estimate:
    """A mean with its standard deviation."""

    mean: float
    sd: float


@dataclass(frozen=True)
class Learned:
    """What the reports changed.

    Attributes
    ----------
    drying_factor_before, drying_factor_after : Estimate
        Factor on the drainage times [-].
    limit_shift_before, limit_shift_after : Estimate
        Shift of the wetness limits [fraction of field capacity].
    wetness_before, wetness_after : Estimate
        Surface wetness at the end of the record [fraction of field capacity].
    ground : Ground
        The field with the means taken over.
    doubted : tuple of int
        Reports (by index) that the rest make more likely wrong than right.
    """

    drying_factor_before: Estimate
    drying_factor_after: Estimate
    limit_shift_before: Estimate
    limit_shift_after: Estimate
    wetness_before: Estimate
    wetness_after: Estimate
    ground: Ground
    doubted: tuple[int, ...]

    def adjust(self, state: SoilState, field: int, capacity_mm: float) -> SoilState:
        """Return `state` with this field's surface water at the learned mean, in every member."""
        values = state.values.copy()
        change = (self.wetness_after.mean - self.wetness_before.mean) * capacity_mm
        values[field, :, at.SURFACE] = np.maximum(values[field, :, at.SURFACE] + change, 0.0)
        return replace(state, values=values)


def learn_field(
    ground: Ground,
    checks: Sequence[GroundCheck],
    weather: HourlyWeather,
    place: Place,
    prior: LearningPrior | None = None,
    rain_mm: Floats | None = None,
    start: SoilState | None = None,
    options: SoilOptions | None = None,
) -> Learned:
    """Learn one field from its spade tests.

    Parameters
    ----------
    ground : Ground
        The field as the farm file describes it; its own `drying_factor` and `limit_shift` are the prior means.
    checks : sequence of GroundCheck
        Reports, in any order; those outside `weather` are left aside.
    weather : HourlyWeather
        Observed hours (one member) up to now, with enough of the past to forget the start.
    place : Place
        For evapotranspiration.
    prior : LearningPrior, optional
    rain_mm : array (1, 1, hours), optional
        The field's own rain, NaN where unknown [mm].
    start, options
        As in `run_soil_water`.
    """
    prior = prior or LearningPrior()
    z = np.linspace(-2.4, 2.4, 13)
    factors = ground.drying_factor * np.exp(prior.drying_log_sd * z)
    shifts, errors = ground.limit_shift + prior.limit_sd * z, prior.wetness_sd * z
    variants = [replace(ground, drying_factor=float(np.clip(f, 0.1, 10))) for f in factors]
    begin = replace(start, values=np.repeat(start.values, len(z), axis=0)) if start is not None else None
    trace = run_soil_water(variants, weather, place, rain_mm, begin, options)
    wetness = trace.judged_surface[:, 0, :].astype(float)
    bell = np.exp(-0.5 * z**2)
    weights = bell[:, None, None] * bell[None, :, None] * bell[None, None, :]
    weights /= weights.sum()
    before = weights.copy()
    right = []
    for check in checks:
        hour = weather.hour_index(check.at)
        if not 0 <= hour < weather.hours:
            right.append(np.ones_like(weights))
            continue
        age_d = (weather.hours - 1 - hour) / 24
        told = _likelihood(check, wetness[:, hour], shifts, errors, age_d, prior)
        right.append(told)
        weights = weights * ((1 - prior.wrong_share) * told + prior.wrong_share / 3)
    weights /= weights.sum()
    now = off_reference_scale(wetness[:, -1][:, None, None] + errors[None, None, :], trace.scales[:1])
    after = [_estimate(values, weights) for values in _grids(factors, shifts, now)]
    prior_values = [_estimate(values, before) for values in _grids(factors, shifts, now)]
    learned = replace(
        ground,
        drying_factor=float(np.clip(after[0].mean, 0.1, 10)),
        limit_shift=float(after[1].mean),
    )
    return Learned(
        prior_values[0], after[0], prior_values[1], after[1], prior_values[2], after[2], learned,
        _doubted(right, weights, prior),
    )  # fmt: skip


def _grids(factors: Floats, shifts: Floats, now: Floats) -> tuple[Floats, Floats, Floats]:
    return factors[:, None, None], shifts[None, :, None], now


def _likelihood(
    check: GroundCheck, wetness: Floats, shifts: Floats, errors: Floats, age_d: float, prior: LearningPrior
) -> Floats:
    """Chance of the verdict at every point of the grid, if the report is not simply wrong."""
    # An old wetness error has been forgotten by the ground; what is forgotten widens the report's own noise.
    kept = float(np.exp(-age_d / prior.wetness_memory_d))
    forgotten = prior.wetness_sd * float(np.sqrt(1 - kept**2))
    noise = max(float(np.hypot(check.rule.limit_sd / 2, forgotten)), 1e-3)
    excess = (
        wetness[:, None, None] + kept * errors[None, None, :]
        - check.rule.wet_limit - shifts[None, :, None]
    )  # fmt: skip
    below_limit = _normal(-excess / noise)
    below_band = _normal((check.rule.marginal_band - excess) / noise)
    if check.verdict is Fitness.FIT:
        return below_limit
    if check.verdict is Fitness.MARGINAL:
        return below_band - below_limit
    return 1 - below_band


def _normal(z: Floats) -> Floats:
    return 0.5 * (1 + np.vectorize(erf)(z / np.sqrt(2)))


def _estimate(values: Floats, weights: Floats) -> Estimate:
    mean = float((values * weights).sum())
    return Estimate(mean, float(np.sqrt(max(((values - mean) ** 2 * weights).sum(), 0.0))))


def _doubted(right: Sequence[Floats], weights: Floats, prior: LearningPrior) -> tuple[int, ...]:
    """Reports whose chance, given all reports, is below that of a plain guess."""
    doubted = []
    for index, told in enumerate(right):
        sound = float(((1 - prior.wrong_share) * told * weights).sum())
        if sound < prior.wrong_share / 3:
            doubted.append(index)
    return tuple(doubted)
