"""Hours that may or may not be fit: how a plan counts them, in three ways.

Question answered: *in which stretches may a pass lie, what does doubt cost there, and how much longer does work take?*
Which way is best was found by playing springs (docs/engine.md); `plan.risk_by` in the farm file chooses.

- ``hours``: an hour is fit when its odds reach `fit_chance_least`; what may be lost of it costs `lost_hour_cost`.
- ``members``: the same hours; on top, in every possible weather what would be lost is made up on the next day that is
  fit in *that* weather, and the mean loss of coming later is what the stretch costs (a sample average with recourse,
  one block at a time: that rig and people are free on that later day is taken for granted).
- ``stretched``: expected hours: work takes as much longer as the odds of its hours say.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from scheduler.farm.farm import PlanSettings
from scheduler.planning.costs import CENTS, loss_at, lost_quarter_cost, share_left
from scheduler.planning.fit_windows import PER_HOUR, fit_of, fit_windows
from scheduler.planning.jobs import Job, RigOption
from scheduler.planning.quarters import MINUTES, Quarters
from scheduler.solver.problem import Window
from scheduler.windows.records import FieldPass, FitHours, Outlook, PassWindow, RigKey

CLASSES = (0.95, 0.8, 0.65, 0.0)
"""Lower ends of the classes of odds that are worked at one speed (assumption)."""
MADE_UP_H = 4
"""A day counts for making up for lost hours when it has so many fit ones (assumption)."""
WEEK_D = 7
"""What no day of the horizon can make up for is done a week behind it (assumption)."""


@dataclass(frozen=True)
class Stretch:
    """Windows worked at one speed: work takes `factor` times as long as on fit ground."""

    factor: float
    windows: tuple[Window, ...]


class Doubt:
    """The doubtful hours of one morning, counted as the farm's settings say."""

    def __init__(self, outlook: Outlook, settings: PlanSettings, grid: Quarters) -> None:
        self.outlook, self.settings, self.grid = outlook, settings, grid
        self._delays: dict[tuple[FieldPass, RigKey], _Delay] = {}
        self._stretches: dict[object, list[Stretch]] = {}

    def stretches(self, job: Job, option: RigOption, days: list[int]) -> list[Stretch]:
        """Return the stretches in which a pass may lie on some days of the horizon; never an empty list.

        Parameters
        ----------
        days : list of int
            Indices of the days wanted.
        """
        # Rigs of one kind and pace differ in nothing that counts here.
        asked = (job.key, option.key, option.minutes, tuple(days))
        found = self._stretches.get(asked)
        if found is None:
            found = self._stretches[asked] = self._worked_out(job, option, days)
        return found

    def _worked_out(self, job: Job, option: RigOption, days: list[int]) -> list[Stretch]:
        settings, hours = self.settings, fit_of(self.outlook, *job.key, option.key)
        lost = lost_quarter_cost(settings)
        windows = fit_windows(hours, settings.fit_chance_least, lost, self.grid, days)
        if hours is not None and windows and settings.risk_by == "members":
            delay = self._delays.get((job.key, option.key))
            if delay is None:
                delay = _Delay(hours, self.outlook.windows.get(job.key), self.grid)
                self._delays[(job.key, option.key)] = delay
            cents_per_quarter = share_left(job) * CENTS / max(option.minutes / MINUTES, 1.0)
            windows = tuple(delay.added(w, cents_per_quarter) for w in windows)
        if windows and settings.risk_by == "stretched":
            return _by_odds(windows)
        return [Stretch(1.0, windows)]


def _by_odds(windows: tuple[Window, ...]) -> list[Stretch]:
    """Sort windows by their odds; the risk of lost hours is in the longer time already."""
    out = []
    above = 2.0
    for least in CLASSES:
        found = tuple(replace(w, risk_per_minute=0.0) for w in windows if least <= w.chance < above)
        above = least
        if found:
            minutes = np.array([w.end - w.start for w in found])
            mean = float(np.average([w.chance for w in found], weights=minutes))
            out.append(Stretch(1.0 / max(mean, 0.05), found))
    return out


class _Delay:
    """What it costs, on average over the members, that lost hours of a pass are made up later."""

    def __init__(self, hours: FitHours, window: PassWindow | None, grid: Quarters) -> None:
        self.fit, self.grid = hours.fit, grid
        self.loss = [self._loss(window, d) for d in self._days()]
        self.later = self._later_loss()

    def _days(self) -> list[int]:
        days = self.grid.horizon.days
        return [*range(days), days - 1 + WEEK_D]

    def _loss(self, window: PassWindow | None, day: int) -> float:
        return 0.0 if window is None else loss_at(window, self._date(day))

    def _date(self, day: int) -> date:
        return self.grid.horizon.first_day + timedelta(days=day)

    def _later_loss(self) -> NDArray[np.float64]:
        """Return the loss (members, days) of a whole field made up on the next fit day behind each day."""
        members, days = self.fit.shape[0], self.grid.horizon.days
        out = np.empty((members, days))
        behind = np.full(members, self.loss[days])
        for day in reversed(range(days)):
            out[:, day] = behind
            first, last = self._hours_of(*self.grid.day(day))
            fit = self.fit[:, first:last].sum(axis=1) >= MADE_UP_H
            behind = np.where(fit, self.loss[day], behind)
        return out

    def _hours_of(self, start: int, end: int) -> tuple[int, int]:
        return start // PER_HOUR, min(-(-end // PER_HOUR), self.fit.shape[1])

    def added(self, window: Window, per_quarter: float) -> Window:
        """Return the window with the mean loss of coming later on top of its risk.

        Parameters
        ----------
        per_quarter : float
            Cents of a whole field's loss that hang on a quarter hour of work.
        """
        day = self.grid.horizon.day_index(self.grid.moment(window.start).date())
        first, last = self._hours_of(window.start, window.end)
        unfit = 1.0 - self.fit[:, first:last].mean(axis=1)
        # The members stand for the doubt in the limit too, but coarsely: the window's own odds set the scale.
        scale = (1.0 - window.chance) / max(float(unfit.mean()), 1e-9) if unfit.any() else 0.0
        slip = np.maximum(0.0, self.later[:, day] - self.loss[day])
        mean = float(np.mean(np.minimum(1.0, unfit * scale) * slip))
        return replace(window, risk_per_minute=round(window.risk_per_minute + mean * per_quarter, 3))
