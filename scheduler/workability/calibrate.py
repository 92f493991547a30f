"""Fit the district's soft limit to weekly reports of suitable days, or to a farm's own record of worked days.

In: daily weather of the place, reports (a date on which a week ends, days suitable in it). Out: settings
before and after, their errors on the weeks used and on weeks held back, and whether the change is worth
taking. The search is a compass search: deterministic, no gradients, no library.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scheduler.workability.district import FITTED, DistrictSettings
from scheduler.workability.ground import Ground
from scheduler.workability.workdays import judge_district
from shared.weather_records import DailyWeather, Place

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class WeekReport:
    """Days suitable for fieldwork in the seven days that end `ends_before_d` days before `week_ending`
    [0-7].
    """

    week_ending: date
    days_suitable: float
    ends_before_d: int = 0

    def __post_init__(self) -> None:
        if not 0 <= self.days_suitable <= 7:
            raise ValueError(f"days_suitable must lie between 0 and 7, got {self.days_suitable!r}")


@dataclass(frozen=True)
class Score:
    """Error over weeks [days per week]: mean absolute error, correlation, bias, number of weeks."""

    mae: float
    r: float
    bias: float
    weeks: int


@dataclass(frozen=True)
class Calibration:
    """What the reports changed.

    Attributes
    ----------
    before, after : DistrictSettings
    fitted_before, fitted_after : Score
        On the weeks that were fitted.
    held_before, held_after : Score
        On every fourth week, which the fit did not see.
    worth_taking : bool
        The held-back weeks improved as well.
    """

    before: DistrictSettings
    after: DistrictSettings
    fitted_before: Score
    fitted_after: Score
    held_before: Score
    held_after: Score
    worth_taking: bool


# What may move, with bounds and first step. Soil settings are left to the long fit of `tests/benchmarks`.
TUNED = {
    "limit": (0.5, 1.4, 0.04),
    "spread": (0.03, 0.30, 0.03),
    "rain_scale_mm": (2.0, 40.0, 3.0),
    "season_weight": (0.0, 2.0, 0.3),
}
FEWEST_WEEKS = 20


def calibrate(
    days: DailyWeather | Sequence[DailyWeather],
    place: Place,
    reports: Sequence[WeekReport],
    start: DistrictSettings = FITTED,
    ground: Ground | None = None,
    rounds: int = 40,
) -> Calibration:
    """Fit the soft limit to weekly reports.

    Parameters
    ----------
    days : DailyWeather or sequence of DailyWeather
        Weather, in one or more stretches, that covers the weeks, better with a year before them.
    place : Place
        As in `workdays`.
    reports : sequence of WeekReport
        At least 20 weeks inside the weather.
    start : DistrictSettings
        Where the search begins; its soil settings are kept.
    ground : Ground, optional
        The typical field.
    rounds : int
        Most rounds of the search.
    """
    judged = judge_district(days, place, ground, start)
    inside = [report for report in reports if judged.holds(report.week_ending, report.ends_before_d)]
    if len(inside) < FEWEST_WEEKS:
        raise ValueError(f"{len(inside)} weeks lie inside the weather; at least {FEWEST_WEEKS} are needed")
    told = np.array([report.days_suitable for report in inside])
    held = np.arange(len(inside)) % 4 == 3

    def predict(settings: DistrictSettings) -> Floats:
        sums = judged.sums(settings.rule)
        ends = np.array([judged.end_index(r.week_ending, r.ends_before_d) for r in inside])
        return sums[ends] - sums[ends - 7]

    def loss(point: Floats) -> float:
        error = (predict(_with(start, point)) - told)[~held]
        return float(np.abs(error).mean() + 0.5 * np.sqrt((error**2).mean()))

    best = compass_search(
        loss, np.array([getattr(start.rule, name) for name in TUNED]),
        np.array([TUNED[name] for name in TUNED]), rounds,
    )  # fmt: skip
    after = _with(start, best)
    old, new = predict(start), predict(after)
    scores = [score(q[part], told[part]) for part in (~held, held) for q in (old, new)]
    return Calibration(
        start, after, scores[0], scores[1], scores[2], scores[3], scores[3].mae <= scores[2].mae
    )


def aligned(
    days: DailyWeather | Sequence[DailyWeather],
    place: Place,
    reports: Sequence[WeekReport],
    start: DistrictSettings = FITTED,
    ground: Ground | None = None,
) -> list[WeekReport]:
    """Return the reports with the day on which their week ends: on the date itself or the day before.

    Offices have changed which of the two a date means and do not say so in the table. The reading that the weather fits
    better (less error under the settings before any fit) is taken, with at most one change over the years.
    """
    judged = judge_district(days, place, ground, start)
    sums = judged.sums(start.rule)
    years = sorted({report.week_ending.year for report in reports})
    errors = np.zeros((len(years), 2))
    for report in reports:
        for lag in (0, 1):
            if judged.holds(report.week_ending, 1) and judged.holds(report.week_ending, 0):
                end = judged.end_index(report.week_ending, lag)
                error = abs(sums[end] - sums[end - 7] - report.days_suitable)
                errors[years.index(report.week_ending.year), lag] += error
    choices = [
        (float(errors[:split, first].sum() + errors[split:, 1 - first].sum()), split, first)
        for split in range(1, len(years) + 1)
        for first in (0, 1)
    ]
    _, split, first = min(choices)
    lags = {year: first if k < split else 1 - first for k, year in enumerate(years)}
    return [replace(report, ends_before_d=lags[report.week_ending.year]) for report in reports]


def compass_search(
    loss: Callable[[Floats], float], start: Floats, bounds_and_steps: Floats, rounds: int
) -> Floats:
    """Minimise by steps along each axis, halved when no step helps; rows of the table are low, high, step."""
    low, high, step = (column.copy() for column in bounds_and_steps.T)
    point, value = np.clip(start, low, high), loss(np.clip(start, low, high))
    for _ in range(rounds):
        moved = False
        for axis in range(len(point)):
            for sign in (1.0, -1.0):
                trial = point.copy()
                trial[axis] = np.clip(trial[axis] + sign * step[axis], low[axis], high[axis])
                trial_value = loss(trial)
                if trial_value < value - 1e-9:
                    point, value, moved = trial, trial_value, True
                    break
        if not moved:
            step = step / 2
            if (step < (high - low) * 1e-4).all():
                break
    return point


def score(predicted: Floats, told: Floats) -> Score:
    """Mean absolute error, correlation, bias of weekly sums; the correlation is NaN where nothing varies."""
    error = predicted - told
    varies = len(told) > 2 and np.std(predicted) > 0 and np.std(told) > 0
    r = float(np.corrcoef(predicted, told)[0, 1]) if varies else float("nan")
    return Score(float(np.abs(error).mean()), r, float(error.mean()), len(told))


def _with(settings: DistrictSettings, point: Floats) -> DistrictSettings:
    values: dict[str, Any] = {name: float(value) for name, value in zip(TUNED, point, strict=True)}
    return replace(
        settings, rule=replace(settings.rule, **values), name="a soft limit fitted to the reports given"
    )
