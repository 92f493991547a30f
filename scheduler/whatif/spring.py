"""One whole spring played: each morning the same planner, knowing only what it could know; each day in the true weather.

Planned anew during the day where the rules say so.

Question answered: *how does this set of machines and people come through this spring?* The log grows by invented reports
of what got done, so every morning is planned on the same road as a real one.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

import numpy as np
from numpy.typing import NDArray

from scheduler.events.decide import decide
from scheduler.events.derive import situation as derive_situation
from scheduler.events.report import Report
from scheduler.events.situation import FieldPass, Situation
from scheduler.events.state import State, fold
from scheduler.farm.rig import rigs_of
from scheduler.planning.demands import in_view
from scheduler.planning.execute import Done, carry_out, work_minutes
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.planning.schedule import make_plan
from scheduler.whatif.forecaster import Pool, forecast_of, seen, true_hours
from scheduler.whatif.imagine import imagine
from scheduler.whatif.run import Morning
from scheduler.whatif.spring_books import SMALL_HA, Spring, close, left_by_pass, pay
from scheduler.whatif.tilt import tilted
from scheduler.windows.build import build_outlook
from scheduler.windows.records import Outlook, PassWindow
from shared.clock import Horizon
from shared.errors import ReportRefused
from shared.vocabulary import EventKind, LoadClass
from shared.weather_records import HourlyWeather

SPIN_UP_D = 75
FIT_DAY_H = 4
"""A day counts as fit for a pass when some field with work left had so many fit hours (assumption)."""


@dataclass(frozen=True)
class Rules:
    """How springs are played: last day, members and days of the made forecasts, their skill, when plans are made anew.

    Attributes
    ----------
    again : tuple of time
        Local hours at which each day is planned anew, behind the morning: what got done by then was reported, the
        weather up to then was seen, the forecast is that of the morning.
    """

    last_day: date
    members: int = 8
    forecast_days: int = 14
    skill_days: float = 5.0
    again: tuple[time, ...] = ()


def play(
    start: Morning, lines: tuple[str, ...], pool: Pool, rules: Rules, seed: int,
    tell: Callable[[date], None] | None = None,
) -> Spring:  # fmt: skip
    """Return what comes of a spring.

    Parameters
    ----------
    start : Morning
        The first morning: farm, log, weather observed before it. Its forecast is not used.
    lines : tuple of str
        Changes that hold (see `whatif.wish`).
    pool : Pool
        Weather of the season from the first morning's hour on; its truth is what comes.
    seed : int
        Of the forecasts: the same for every way, so that differences are of the ways alone.

    Raises
    ------
    ReportRefused
        A line makes no sense.
    """
    return _Player(start, lines, pool, rules, seed).run(tell)


class _Player:
    """The state of a spring while it is played."""

    def __init__(self, start: Morning, lines: tuple[str, ...], pool: Pool, rules: Rules, seed: int) -> None:
        state = fold(State(), start.records)
        there = imagine(start.farm, state, start.now, lines)
        self.start, self.pool, self.rules, self.rng = start, pool, rules, np.random.default_rng(seed)
        self.state, self.tilt = there.state, there.tilt
        self.first = start.now.astimezone(start.horizon.zone).date()
        self.spring = Spring(self.first)
        self.windows: dict[FieldPass, PassWindow] = {}
        end = start.now + timedelta(days=(rules.last_day - self.first).days + 1)
        for one in there.invented:
            stop = min(one.until or end, end)
            days = 0.0 if one.start is None else max(0.0, (stop - one.start) / timedelta(days=1))
            self.spring.loss["hire"] += one.price.fixed(days)
        self.dropped = tuple(key for one in there.invented for key in one.dropped)
        self.demands = there.demands
        self.before = start.observed.between(start.now - timedelta(days=SPIN_UP_D), start.now)
        self.plan: Plan | None = None

    def run(self, tell: Callable[[date], None] | None) -> Spring:
        day, situation = self.first, self._situation(self.start.now)
        while day <= self.rules.last_day and self._can_go_on(situation, day):
            now = self._morning(day)
            situation = self._situation(now)
            self._one_day(day, now, situation)
            self.spring.days += 1
            if tell is not None:
                tell(day)
            day += timedelta(days=1)
            situation = self._situation(self._morning(day))
            for pass_id, left in left_by_pass(situation).items():
                self.spring.left_by_day[pass_id].append(left)
        close(self.spring, self.windows, self.dropped, situation)
        return self.spring

    def _morning(self, day: date) -> datetime:
        return self.start.now + timedelta(days=(day - self.first).days)

    def _situation(self, now: datetime) -> Situation:
        return derive_situation(self.start.farm, self.state, now)

    def _can_go_on(self, situation: Situation, day: date) -> bool:
        """Return whether some work is left whose window has not closed for good."""
        for key in situation.passes:
            if situation.left_ha(*key) < SMALL_HA:
                continue
            window = self.windows.get(key)
            if window is None or window.closes is None or window.closes >= day:
                return True
        return False

    def _one_day(self, day: date, now: datetime, situation: Situation) -> None:
        """Plan the morning, and again at the hours of the rules with what got done by then reported."""
        rules, zone = self.rules, self.start.horizon.zone
        told = forecast_of(self.pool, now, rules.forecast_days, rules.members, rules.skill_days, self.rng)
        again = [datetime.combine(day, clock, zone) for clock in rules.again]
        moments = [now, *sorted(moment for moment in again if moment > now)]
        done: list[Done] = []
        for k, moment in enumerate(moments):
            until = moments[k + 1] if k + 1 < len(moments) else None
            if k > 0:
                situation = self._situation(moment)
            done += self._until(day, moment, until, situation, told)
        for pass_id in {one.block.pass_id for one in done if one.area_ha > 0}:
            self.spring.used_days[pass_id] += 1
        pay(self.spring, self.windows, done, day, situation)

    def _until(
        self, day: date, now: datetime, until: datetime | None, situation: Situation, told: HourlyWeather
    ) -> list[Done]:
        """Plan at a moment, go by that plan to the next one, and report what got done."""
        horizon = Horizon(day, self.start.horizon.days, self.start.horizon.time_zone)
        observed = _tail(seen(self.pool, self.before, now), now)
        outlook = build_outlook(
            situation, horizon, observed, tilted(told, self.tilt, horizon.time_zone), self.start.normals
        )
        self.windows.update(outlook.windows)
        # A spring is played for what it comes to; nobody reads the bound and the sentences of its mornings.
        limits = replace(self.start.limits, bound=False)
        demands = in_view(self.demands, situation, horizon, now)
        plan = make_plan(
            situation, outlook, horizon, limits, self.plan, reasons=False, demands=demands, firm=False
        )
        self.plan = plan
        truth = self._truth(day, now, situation)
        fit = {
            block.id: row
            for block in plan.of_day(day)
            if (row := _fit_of(truth, situation, block)) is not None
        }
        if now == self._morning(day):
            self._count_days(truth)
        minutes = {block.id: work_minutes(block, situation) for block in plan.of_day(day)}
        done = carry_out(plan, day, fit, truth.start_utc, minutes, until)
        self._report(done, now, until)
        return done

    def _truth(self, day: date, now: datetime, situation: Situation) -> Outlook:
        """Return the outlook of today alone, in the weather that really comes."""
        ahead = tilted(true_hours(self.pool, now, 36), self.tilt, self.start.horizon.time_zone)
        observed = _tail(seen(self.pool, self.before, now), now)
        one_day = Horizon(day, 1, self.start.horizon.time_zone)
        return build_outlook(situation, one_day, observed, ahead, self.start.normals, weeks=0)

    def _count_days(self, truth: Outlook) -> None:
        fit_here: dict[str, int] = defaultdict(int)
        for (_, pass_id), rigs in truth.fit.items():
            most = max((int(row.fit[0].sum()) for row in rigs.values()), default=0)
            fit_here[pass_id] = max(fit_here[pass_id], most)
        for pass_id, hours in fit_here.items():
            self.spring.fit_days[pass_id] += int(hours >= FIT_DAY_H)

    def _report(self, done: list[Done], now: datetime, until: datetime | None) -> None:
        """Report what got done; before a plan of the same day also where nobody is at work though the plan has it."""
        at = until or now + timedelta(hours=18)
        for number, one in enumerate(done):
            block, name = one.block, f"{now:%m%d%H%M}-{number}"
            work = {"field": block.field, "pass_id": block.pass_id, "operator": block.operator}
            if one.area_ha > 0 and one.started_at is not None and one.ended_at is not None:
                hours = {"started_at": one.started_at.isoformat(), "ended_at": one.ended_at.isoformat()}
                rig = {} if block.rig is None else {"rig": block.rig}
                body = {**work, **rig, **hours, "area_ha": one.area_ha}
                self._tell(
                    Report(EventKind.PASS_PROGRESSED, body, one.ended_at, "played", "what if", name), at
                )
            if until is not None and one.ended_at != until:
                stopped = one.ended_at or block.start
                self._tell(
                    Report(EventKind.PASS_PAUSED, work, stopped, "played", "what if", f"{name}-stop"), at
                )

    def _tell(self, report: Report, at: datetime) -> None:
        try:
            decision = decide(report, self.state, derive_situation(self.start.farm, self.state, at))
        except ReportRefused:
            return  # rounding: the pass was all but done
        self.state = fold(self.state, [replace(decision.record, sequence=self.state.sequence + 1)])


def _tail(observed: HourlyWeather, now: datetime) -> HourlyWeather:
    """Return the last weeks: what lies further back is forgotten by the ground."""
    return observed.between(now - timedelta(days=SPIN_UP_D), observed.end_utc)


def _fit_of(truth: Outlook, situation: Situation, block: PlanBlock) -> NDArray[np.bool_] | None:
    """Return the hours in which a block's pass and rig are truly fit."""
    rigs = truth.fit.get((block.field, block.pass_id), {})
    if block.rig is None:
        key = (LoadClass.LIGHT, False)
    else:
        rig = next((rig for rig in rigs_of(situation.farm) if rig.id == block.rig), None)
        if rig is None:
            return None
        key = (rig.load_class, rig.tracks)
    row = rigs.get(key)
    return None if row is None else row.fit[0]
