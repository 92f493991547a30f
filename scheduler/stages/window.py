"""Where stage, date, height, lag and soil temperature meet: on which days is a pass inside its window, with
odds.

Input: a `PassTiming`, the odds of stage and height, soil temperature, the planting day. Output: per day the
chance of being inside, when the window opens and shuts, and the reason for every day outside.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from scheduler.stages.height import HEIGHT_CROPS, HeightOdds, height_odds
from scheduler.stages.normal_odds import error_nodes
from scheduler.stages.progress import StageOdds
from scheduler.stages.timing import DayOfYear, PassTiming
from shared.vocabulary import Reason

Array = NDArray[np.float64]
T = TypeVar("T", DayOfYear, int)


@dataclass(frozen=True)
class WindowOdds:
    """The window of one pass in one field.

    Attributes
    ----------
    timing : PassTiming
        The rule that was applied.
    first_day : date
        Date of the first column.
    member_chance : array (members or 1, days)
        Chance that the pass is inside its window on that day; one row where no member makes a difference.
    ideal : array (days,)
        Chance that it is also inside its best part (equal to the chance where no best part is stated).
    causes : dict of Reason to array (days,)
        Chance that each cause alone keeps the day out; several may hold at once.
    notes : tuple of str
        What a person should know.
    opened, closed : array (days,)
        Chance that the window has opened by, and has shut before or on, each day (soil temperature left out,
        since it comes and goes).
    """

    timing: PassTiming
    first_day: date
    member_chance: Array
    ideal: Array
    causes: dict[Reason, Array]
    opened: Array
    closed: Array
    notes: tuple[str, ...] = ()

    @property
    def chance(self) -> Array:
        """Chance (days,) that the pass is inside its window, over the members."""
        return np.asarray(self.member_chance.mean(axis=0))

    def reasons(self, least: float = 0.5) -> list[Reason]:
        """Return the reason per day: FIT where the chance is at least `least`, else the strongest cause."""
        chance = self.chance
        named = list(self.causes)
        picked = []
        for day in range(chance.size):
            if chance[day] >= least or not named:
                picked.append(Reason.FIT)
            else:
                picked.append(max(named, key=lambda cause: float(self.causes[cause][day])))
        return picked

    def also(self, day: int, least: float = 0.5) -> list[Reason]:
        """Return every cause that keeps a day out with at least this chance, strongest first.

        One entry means that removing it would let the day in; with several, all of them must go.
        """
        held = [(float(share[day]), cause) for cause, share in self.causes.items() if share[day] >= least]
        return [cause for _, cause in sorted(held, key=lambda pair: -pair[0])]

    def opens(self, odds: float = 0.5) -> date | None:
        """Return the first day by which the window has opened with chance `odds`; None if never."""
        hit = np.flatnonzero(self.opened >= odds - 1e-12)
        return self.first_day + timedelta(days=int(hit[0])) if hit.size else None

    def shuts(self, odds: float = 0.5) -> date | None:
        """Return the last day before the window has shut with chance `odds` (0.1 is the careful date).

        None when it stays open to the end of the record; a day before `first_day` when it has shut already.
        """
        hit = np.flatnonzero(self.closed >= odds - 1e-12)
        return self.first_day + timedelta(days=int(hit[0]) - 1) if hit.size else None


def open_window(
    timing: PassTiming,
    first_day: date,
    days: int,
    stage: StageOdds | None = None,
    height: HeightOdds | None = None,
    clearance_m: float | None = None,
    soil_temp_c: Array | None = None,
    planted: date | None = None,
) -> WindowOdds:
    """Return the odds of a pass being inside its window on each day.

    Parameters
    ----------
    timing : PassTiming
        The rule.
    first_day, days : date, int
        Dates wanted.
    stage : StageOdds or None
        Stages of the field over a record that covers the dates wanted. None for a crop not planted: a pass
        bound to a stage then counts as too early.
    height : HeightOdds or None
        Crop height; where a limit is set and none is given, typical height by stage is used (corn, rye); for
        a crop without a height model the limit is left out and a note says so.
    clearance_m : float or None
        Clearance of the rig [m]; the lower of it and the rule's own limit counts.
    soil_temp_c : array (members or 1, days) or None
        Soil temperature at seed depth [degC], as many members as `stage`; None leaves the rule's limit out.
    planted : date or None
        Planting day, done or planned, for lags; None leaves them out.
    """
    span = _columns(first_day, days, stage, height)
    dates = [first_day + timedelta(days=k) for k in range(days)]
    early_date, late_date = _date_limits(timing, dates, planted)
    limit = min((m for m in (timing.max_height_m, clearance_m) if m is not None), default=None)
    notes: tuple[str, ...] = ()
    if limit is not None and stage is not None and height is None:
        height, notes = _default_height(stage, limit)
    crop = _crop_odds(timing, span, stage, height, limit)
    cold = _cold(timing, soil_temp_c, days)
    member_chance = crop.inside * ~early_date * ~late_date * (1.0 - cold)
    opened = (1.0 - crop.early) * ~early_date
    shut = 1.0 - crop.not_shut * ~late_date
    causes = {
        Reason.TOO_EARLY_DATE: early_date.astype(np.float64),
        Reason.TOO_LATE_DATE: late_date.astype(np.float64),
        Reason.TOO_EARLY_STAGE: crop.early.mean(axis=0),
        Reason.TOO_LATE_STAGE: crop.late.mean(axis=0),
        Reason.CROP_TOO_TALL: crop.tall.mean(axis=0),
        Reason.SOIL_COLD: cold.mean(axis=0),
    }
    return WindowOdds(
        timing,
        first_day,
        member_chance,
        _ideal(timing, dates, span, stage, planted, member_chance),
        {cause: share for cause, share in causes.items() if share.max() > 0.0},
        np.maximum.accumulate(opened.mean(axis=0)),
        np.maximum.accumulate(shut.mean(axis=0)),
        notes,
    )


def _columns(first_day: date, days: int, stage: StageOdds | None, height: HeightOdds | None) -> slice:
    """Return which columns of the stage record are the dates wanted."""
    if stage is None:
        return slice(0, days)
    if height is not None and height.stage.first_day != stage.first_day:
        raise ValueError("stage and height must rest on the same record")
    begin = (first_day - stage.first_day).days
    if begin < 0 or begin + days > stage.days:
        raise ValueError("the stage record must cover all dates of the window")
    return slice(begin, begin + days)


def _date_limits(
    timing: PassTiming, dates: list[date], planted: date | None
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return which days are too early and too late by date or by lag to planting."""
    early = np.array([timing.date_from is not None and _md(day) < timing.date_from for day in dates])
    late = np.array([timing.date_to is not None and _md(day) > timing.date_to for day in dates])
    if planted is not None:
        lag = np.array([(day - planted).days for day in dates])
        if timing.days_after_planting_min is not None:
            early |= lag < timing.days_after_planting_min
        if timing.days_after_planting_max is not None:
            late |= lag > timing.days_after_planting_max
    return early, late


def _default_height(stage: StageOdds, limit: float) -> tuple[HeightOdds | None, tuple[str, ...]]:
    crop = stage.curve.scale.crop
    if crop in HEIGHT_CROPS:
        return height_odds(stage), (f"{crop} height is typical for its stage, not measured",)
    return None, (f"the height of {crop} is not modelled: the limit of {limit:g} m was not checked",)


@dataclass(frozen=True)
class _CropOdds:
    """Chances (members, days) by the crop alone: too early, too late, too tall, inside all, not yet shut."""

    early: Array
    late: Array
    tall: Array
    inside: Array
    not_shut: Array


def _crop_odds(
    timing: PassTiming, span: slice, stage: StageOdds | None, height: HeightOdds | None, limit: float | None
) -> _CropOdds:
    zero = np.zeros((1 if stage is None else stage.heat.shape[0], span.stop - span.start))
    if stage is None:
        early = zero + (1.0 if timing.stage_from is not None else 0.0)
        return _CropOdds(early, zero, zero, 1.0 - early, 1.0 - zero)
    early, late = zero, zero
    if timing.stage_from is not None:
        early = 1.0 - stage.reached(timing.stage_from, "midday")[:, span]
    if timing.stage_to is not None:
        late = stage.reached(stage.curve.scale.end_of(timing.stage_to), "midday")[:, span]
    by_stage = np.clip(1.0 - early - late, 0.0, 1.0)
    if height is None or limit is None:
        return _CropOdds(early, late, zero, by_stage, 1.0 - late)
    nodes = _nodes(stage)
    below = [height.below_at(limit, z, span) for z in nodes]
    clears = np.asarray(np.mean(below, axis=0))
    inside, not_shut = _meet(timing, stage, span, nodes, below)
    # The nodes are coarser than the exact stage odds; a joint chance can exceed neither of its parts.
    inside = np.minimum(inside, np.minimum(by_stage, clears))
    return _CropOdds(early, late, 1.0 - clears, inside, np.minimum(not_shut, np.minimum(1.0 - late, clears)))


def _meet(
    timing: PassTiming, stage: StageOdds, span: slice, nodes: list[float], below: list[Array]
) -> tuple[Array, Array]:
    """Return the joint chances of stage and height: a crop ahead of belief is both further and taller."""
    scale, believed = stage.curve.scale, stage.believed
    low = -np.inf if timing.stage_from is None else believed.heat_at(scale.parse(timing.stage_from))
    high = np.inf if timing.stage_to is None else believed.heat_at(scale.end_of(timing.stage_to))
    heat = stage.heat_midday[:, span]
    spread = stage.spread_in_heat(heat)
    inside, not_shut = np.zeros_like(heat), np.zeros_like(heat)
    for z, clear in zip(nodes, below, strict=True):
        at = heat + z * spread
        in_time = np.where(at < high, clear, 0.0)
        not_shut += in_time
        inside += np.where(at >= low, in_time, 0.0)
    return inside / len(nodes), not_shut / len(nodes)


def _nodes(stage: StageOdds) -> list[float]:
    return error_nodes(7 if stage.heat.shape[0] >= 20 else 21)


def _cold(timing: PassTiming, soil_temp_c: Array | None, days: int) -> Array:
    if timing.soil_temp_min_c is None or soil_temp_c is None:
        return np.zeros((1, days))
    return (np.asarray(soil_temp_c)[:, :days] < timing.soil_temp_min_c).astype(np.float64)


def _ideal(
    timing: PassTiming,
    dates: list[date],
    span: slice,
    stage: StageOdds | None,
    planted: date | None,
    member_chance: Array,
) -> Array:
    """Return the chance (days,) of being inside the window and inside its best part."""
    inside = np.array([_within(_md(day), timing.ideal_from, timing.ideal_to) for day in dates])
    if planted is not None:
        low, high = timing.ideal_days_after_planting_min, timing.ideal_days_after_planting_max
        inside &= np.array([_within((day - planted).days, low, high) for day in dates])
    chance = member_chance.mean(axis=0) * inside
    if stage is None or (timing.ideal_stage_from is None and timing.ideal_stage_to is None):
        return np.asarray(chance)
    best = stage.chance(timing.ideal_stage_from, timing.ideal_stage_to)[span]
    return np.minimum(chance, best * inside)


def _within(value: T, low: T | None, high: T | None) -> bool:
    return (low is None or value >= low) and (high is None or value <= high)


def _md(day: date) -> DayOfYear:
    return day.month, day.day
