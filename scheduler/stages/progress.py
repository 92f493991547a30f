"""When a field reaches which stage: dates with odds over the weather members and the error of the model
itself.

The heat that stage s needs is a random quantity

    T(s) = H0 + e + (1 + r) * (H(s) - H0),     e ~ N(0, start_sd^2),  r ~ N(0, rate_sd^2)

with H the curve's heat and H0 its heat to emergence. Since T is normal, the chance that member m has reached
s by day d is Phi((A[m, d] - mean T) / sd T), A being heat since planting: no sampling, no seed. What a scout
saw moves (e, r) by the linear Bayes (Kalman) update; a sighting far from belief gets less weight, so one
wrong report cannot turn the forecast over.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from scheduler.stages.curve import StageCurve
from scheduler.stages.names import SettingRefused
from scheduler.stages.normal_odds import error_nodes, normal_cdf

Array = NDArray[np.float64]

#: Beyond this many standard deviations a sighting is down-weighted.
TRUSTED_SD = 2.0
#: Spread of one observer's stage about the field's, in stages [assumption].
SCOUT_SD_STAGES = 0.4


@dataclass(frozen=True)
class Scouted:
    """A stage that somebody saw in the field.

    Attributes
    ----------
    day : date
        Local date of the look.
    stage : str
        Stage of at least half of the plants; ``planted`` means not yet emerged.
    sd_stages : float
        Spread of the observer about the field's stage, in stages.
    """

    day: date
    stage: str
    sd_stages: float = SCOUT_SD_STAGES


@dataclass(frozen=True)
class StageOdds:
    """Stages of one field over days and members.

    Attributes
    ----------
    curve : StageCurve
        The crop's law before any sighting.
    planted : date
        Planting date (green-up for a cover).
    first_day : date
        Date of the first column of `heat`.
    heat : array (members, days)
        Heat since planting at the end of each day.
    shift : array (2,)
        Believed (e, r): extra heat to emergence and relative extra heat per stage.
    cov : array (2, 2)
        Covariance of that belief.
    notes : tuple of str
        Sentences a person should see.
    """

    curve: StageCurve
    planted: date
    first_day: date
    heat: Array
    shift: Array
    cov: Array
    notes: tuple[str, ...] = ()

    @property
    def days(self) -> int:
        """Number of days."""
        return int(self.heat.shape[1])

    @cached_property
    def heat_midday(self) -> Array:
        """Heat since planting at the middle of each day (members, days)."""
        before = np.concatenate([np.zeros((self.heat.shape[0], 1)), self.heat[:, :-1]], axis=1)
        return (before + self.heat) / 2.0

    @cached_property
    def believed(self) -> StageCurve:
        """The curve with the believed shift applied (without its spread)."""
        start = max(self.curve.start_heat + float(self.shift[0]), 1e-3)
        rate = 1.0 + float(self.shift[1])
        after = [start + rate * (h - self.curve.start_heat) for h in self.curve.heat[1:]]
        return replace(self.curve, heat=(0.0, *after))

    def need(self, stage: float | str) -> tuple[float, float]:
        """Return mean and standard deviation of the heat that a stage needs; (inf, 0) where not modelled."""
        number = self.curve.scale.parse(stage) if isinstance(stage, str) else stage
        mean = self.believed.heat_at(number)
        if not math.isfinite(mean):
            return mean, 0.0
        direction = _direction(self.curve, self.curve.heat_at(number))
        return mean, math.sqrt(max(float(direction @ self.cov @ direction), 0.0))

    def reached(self, stage: float | str, at: str = "end") -> Array:
        """Return the chance (members, days) that a stage is reached by each day's end (or its ``midday``)."""
        mean, sd = self.need(stage)
        heat = self.heat if at == "end" else self.heat_midday
        if not math.isfinite(mean):
            return np.zeros_like(heat)
        started = np.arange(self.days) >= (self.planted - self.first_day).days
        if sd < 1e-9:
            chance = (heat >= mean - 1e-9).astype(np.float64)
        else:
            chance = normal_cdf((heat - mean) / sd)
        return np.where(started[None, :], chance, 0.0)

    def member_chance(self, stage_from: str | None, stage_to: str | None) -> Array:
        """Return the chance (members, days) that at midday the stage lies in [from, end of to]."""
        shape = self.heat.shape
        begun = np.ones(shape) if stage_from is None else self.reached(stage_from, "midday")
        over = np.zeros(shape)
        if stage_to is not None:
            over = self.reached(self.curve.scale.end_of(stage_to), "midday")
        return np.clip(begun - over, 0.0, 1.0)

    def chance(self, stage_from: str | None, stage_to: str | None) -> Array:
        """Return that chance over all members (days,)."""
        return np.asarray(self.member_chance(stage_from, stage_to).mean(axis=0))

    def date_at(self, stage: float | str, odds: float = 0.5) -> date | None:
        """Return the first day by whose end the stage is reached with chance `odds`; None if never."""
        return self._first(self.reached(stage).mean(axis=0), odds)

    def member_dates(self, stage: float | str) -> list[date | None]:
        """Return, per member, the day on which the believed stage is reached (model error left out)."""
        mean, _ = self.need(stage)
        return [self._first((row >= mean - 1e-9).astype(np.float64), 0.5) for row in self.heat]

    def stage_on(self, odds: float = 0.5) -> Array:
        """Return the `odds` quantile (days,) of the stage number at each day's end (0.5: the median)."""
        sd = self.spread_in_heat(self.heat)
        ahead = np.concatenate([self.heat + z * sd for z in error_nodes(9)], axis=0)
        stage = self.believed.stage_at(np.maximum(np.quantile(ahead, odds, axis=0), 0.0))
        before = np.arange(self.days) < (self.planted - self.first_day).days
        return np.where(before, self.curve.numbers[0], stage)

    def spread_in_heat(self, heat: Array) -> Array:
        """Return the standard deviation of needed heat at the stage that goes with `heat`. Any shape."""
        start = self.curve.start_heat
        early = np.clip(heat / start, 0.0, 1.0)
        after = np.maximum((heat - start - self.shift[0]) / (1.0 + self.shift[1]), 0.0)
        c = self.cov
        square = early**2 * c[0, 0] + 2.0 * early * after * c[0, 1] + after**2 * c[1, 1]
        return np.asarray(np.sqrt(np.maximum(square, 0.0)))

    def _first(self, chance: Array, odds: float) -> date | None:
        hit = np.flatnonzero(chance >= odds - 1e-12)
        return self.first_day + timedelta(days=int(hit[0])) if hit.size else None


def stage_dates(
    curve: StageCurve,
    planted: date,
    first_day: date,
    heat_per_day: Array,
    scouted: Sequence[Scouted] = (),
    notes: Sequence[str] = (),
) -> StageOdds:
    """Return the odds of every stage over days and members.

    Parameters
    ----------
    curve : StageCurve
        The crop's law with its own spread (`start_sd`, `rate_sd`).
    planted : date
        Planting date; may lie after the record's first day, not before it.
    first_day : date
        Date of the first column.
    heat_per_day : array (members, days)
        Heat of each day [unit of ``curve.rule``]; past days equal over members, no missing value after
        planting.
    scouted : sequence of Scouted
        What was seen, in any order; sightings outside the record are refused.
    """
    if planted < first_day:
        raise SettingRefused(
            f"planted {planted}, before the weather begins on {first_day}; allowed: weather from planting on."
        )
    total = curve.accumulate(heat_per_day, (planted - first_day).days)
    cov = np.diag([curve.start_sd**2, curve.rate_sd**2]).astype(np.float64)
    odds = StageOdds(curve, planted, first_day, total, np.zeros(2), cov, (*curve.notes, *notes))
    for seen in sorted(scouted, key=lambda s: (s.day, curve.scale.parse(s.stage))):
        odds = learn_stage(odds, seen)
    return odds


def learn_stage(odds: StageOdds, seen: Scouted) -> StageOdds:
    """Return the odds after a sighting (see the module's head for the law).

    A plant called Vn stands anywhere between collar n and collar n + 1, so the sighting is set in the middle
    of the stage, with the uniform spread of the stage, the observer's spread and the spread of the members
    added.
    """
    at = (seen.day - odds.first_day).days
    if not 0 <= at < odds.days or seen.day < odds.planted:
        last = odds.first_day + timedelta(days=odds.days - 1)
        raise SettingRefused(
            f"{seen.stage} seen on {seen.day} cannot be used; allowed: planting ({odds.planted}) to {last}."
        )
    column = odds.heat_midday[:, at]
    number = odds.curve.scale.parse(seen.stage)
    if number <= odds.curve.numbers[0]:
        return _not_started(odds, seen, float(column.mean()))
    low, high = _heat_span(odds.curve, number)
    if not math.isfinite(low):
        known = f"{odds.curve.names[0]} to {odds.curve.names[-1]}"
        raise SettingRefused(
            f"{seen.stage} of {odds.curve.scale.crop} is not predicted and teaches nothing; allowed: {known}."
        )
    middle = (low + high) / 2.0
    direction = _direction(odds.curve, middle)
    believed_var = float(direction @ odds.cov @ direction)
    noise = (high - low) ** 2 * (1.0 / 12.0 + seen.sd_stages**2) + float(column.var())
    miss = float(column.mean()) - (middle + float(direction @ odds.shift))
    distance = abs(miss) / math.sqrt(believed_var + noise)
    notes = odds.notes
    if distance > TRUSTED_SD:
        noise *= (distance / TRUSTED_SD) ** 2
        notes = (*notes, _look_again(seen.stage, seen))
    gain = odds.cov @ direction / (believed_var + noise)
    shift = odds.shift + gain * miss
    cov = odds.cov - np.outer(gain, direction @ odds.cov)
    return replace(odds, shift=shift, cov=(cov + cov.T) / 2.0, notes=notes)


def _not_started(odds: StageOdds, seen: Scouted, heat: float) -> StageOdds:
    """Learn that emergence needs more than `heat`: the normal belief is cut off below it.

    A cut further than `TRUSTED_SD` above belief moves it as far as one there would and leaves its spread.
    """
    direction = np.array([1.0, 0.0])
    mean, sd = odds.need(odds.curve.names[1])
    if sd < 1e-9:
        return odds
    far = heat - mean > TRUSTED_SD * sd
    cut = min((heat - mean) / sd, TRUSTED_SD)
    above = 1.0 - float(normal_cdf(np.array(cut)))
    hazard = math.exp(-0.5 * cut * cut) / math.sqrt(2.0 * math.pi) / above
    gain = odds.cov @ direction / sd**2
    shift = odds.shift + gain * sd * hazard
    if far:
        return replace(odds, shift=shift, notes=(*odds.notes, _look_again("no plants", seen)))
    cov = odds.cov - np.outer(gain, direction @ odds.cov) * hazard * (hazard - cut)
    return replace(odds, shift=shift, cov=cov)


def _look_again(what: str, seen: Scouted) -> str:
    return f"{what} seen on {seen.day} is far from expectation and got less weight; look again"


def _heat_span(curve: StageCurve, number: float) -> tuple[float, float]:
    """Return the heat at which the named stage at `number` begins and ends; the last lasts as long as the
    one before.

    (inf, inf) beyond the last knot.
    """
    numbers = curve.numbers
    if number > numbers[-1] + 1e-9:
        return math.inf, math.inf
    k = int(np.searchsorted(numbers, number + 1e-9)) - 1
    if k == len(numbers) - 1:
        return curve.heat[k], 2.0 * curve.heat[k] - curve.heat[k - 1]
    return curve.heat[k], curve.heat[k + 1]


def _direction(curve: StageCurve, heat: float) -> Array:
    """Return how the need of a stage that takes `heat` on the curve answers to (e, r)."""
    return np.array([min(heat / curve.start_heat, 1.0), max(heat - curve.start_heat, 0.0)])
