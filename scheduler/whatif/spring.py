"""One whole spring played: each morning the same planner, knowing only what it could know; each day in the true weather.

Question answered: *how does this set of machines and people come through this spring?* The log grows by invented reports
of what got done, so every morning is planned on the same road as a real one.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from scheduler.events.decide import decide
from scheduler.events.derive import situation as derive_situation
from scheduler.events.report import Report
from scheduler.events.situation import FieldPass, Situation
from scheduler.events.state import State, fold
from scheduler.farm.rig import rigs_of
from scheduler.planning.costs import loss_at
from scheduler.planning.demands import in_view
from scheduler.planning.execute import Done, carry_out, work_minutes
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.planning.schedule import make_plan
from scheduler.whatif.forecaster import Pool, forecast_of, seen, true_hours
from scheduler.whatif.imagine import imagine
from scheduler.whatif.run import Morning
from scheduler.whatif.tilt import tilted
from scheduler.windows.build import build_outlook
from scheduler.windows.records import Outlook, PassWindow
from shared.clock import Horizon
from shared.errors import ReportRefused
from shared.vocabulary import EventKind, LoadClass
from shared.weather_records import HourlyWeather

SMALL_HA = 0.05
SPIN_UP_D = 75
FIT_DAY_H = 4
"""A day counts as fit for a pass when some field with work left had so many fit hours (assumption)."""


@dataclass(frozen=True)
class Rules:
    """How springs are played: last day, members and days of the made forecasts, their skill."""

    last_day: date
    members: int = 8
    forecast_days: int = 14
    skill_days: float = 5.0


@dataclass
class Spring:
    """What came of a spring; areas in hectares, money in the farm's currency.

    Attributes
    ----------
    finished : mapping of pass to date
        Day on which the last hectare of a pass was done, for passes that were all done.
    left_ha : mapping of pass to area never done
    loss : mapping of part to money
        late, undone, wages, overtime, running, hire.
    hours, overtime : mapping of operator to hours
    fit_days, used_days : mapping of pass to days
    left_by_day : mapping of pass to area left at the end of each day
    """

    first_day: date
    days: int = 0
    finished: dict[str, date] = field(default_factory=dict)
    left_ha: dict[str, float] = field(default_factory=dict)
    loss: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    hours: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    overtime: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    fit_days: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    used_days: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    left_by_day: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))

    @property
    def total(self) -> float:
        """Sum of the loss."""
        return sum(self.loss.values())


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
            for pass_id, left in _left_by_pass(situation).items():
                self.spring.left_by_day[pass_id].append(left)
        self._close(situation)
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
        horizon = Horizon(day, self.start.horizon.days, self.start.horizon.time_zone)
        rules, zone = self.rules, horizon.time_zone
        observed = _tail(seen(self.pool, self.before, now), now)
        told = forecast_of(self.pool, now, rules.forecast_days, rules.members, rules.skill_days, self.rng)
        outlook = build_outlook(
            situation, horizon, observed, tilted(told, self.tilt, zone), self.start.normals
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
        self._count_days(truth)
        minutes = {block.id: work_minutes(block, situation) for block in plan.of_day(day)}
        done = carry_out(plan, day, fit, truth.start_utc, minutes)
        for pass_id in {one.block.pass_id for one in done if one.area_ha > 0}:
            self.spring.used_days[pass_id] += 1
        self._pay(done, day, situation)
        self._report(done, now)

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

    def _pay(self, done: list[Done], day: date, situation: Situation) -> None:
        by_person: dict[str, float] = defaultdict(float)
        for one in done:
            block = one.block
            hours = (block.end - block.start) / timedelta(hours=1) - one.spare_h
            for name in filter(None, (block.operator, block.support)):
                by_person[name] += hours
            self._late(one, day, situation)
            machines = [situation.farm.machine_by_id[name] for name in block.machines]
            worked = hours - one.lost_h
            cost = sum(m.cost_per_h * worked + m.cost_per_ha * one.area_ha for m in machines)
            self.spring.loss["running"] += cost
        for name, hours in by_person.items():
            person = situation.farm.operator_by_id[name]
            over = max(0.0, hours - person.normal_hours_per_day)
            self.spring.hours[name] += hours
            self.spring.overtime[name] += over
            self.spring.loss["wages"] += (hours - over) * person.wage_per_h
            self.spring.loss["overtime"] += over * person.wage_per_h * person.overtime_factor

    def _late(self, one: Done, day: date, situation: Situation) -> None:
        window = self.windows.get((one.block.field, one.block.pass_id))
        if window is None or one.area_ha <= 0:
            return
        share = one.area_ha / situation.farm.field_by_id[one.block.field].area_ha
        self.spring.loss["late"] += loss_at(window, day) * share

    def _report(self, done: list[Done], now: datetime) -> None:
        for number, one in enumerate(done):
            if one.area_ha <= 0 or one.started_at is None or one.ended_at is None:
                continue
            block = one.block
            body = {
                "field": block.field, "pass_id": block.pass_id, "area_ha": one.area_ha, "operator": block.operator,
                "rig": block.rig, "started_at": one.started_at.isoformat(), "ended_at": one.ended_at.isoformat(),
            }  # fmt: skip
            body = {key: value for key, value in body.items() if value is not None}
            evening = now + timedelta(hours=18)
            report = Report(
                EventKind.PASS_PROGRESSED, body, one.ended_at, "played", "what if", f"{now:%m%d}-{number}"
            )
            try:
                decision = decide(report, self.state, derive_situation(self.start.farm, self.state, evening))
            except ReportRefused:
                continue  # rounding: the pass was all but done
            self.state = fold(self.state, [replace(decision.record, sequence=self.state.sequence + 1)])

    def _close(self, situation: Situation) -> None:
        """Count what was never done, and when passes were finished."""
        farm, spring = situation.farm, self.spring
        for (field_id, pass_id), state in situation.passes.items():
            window = self.windows.get((field_id, pass_id))
            left = situation.left_ha(field_id, pass_id)
            if (field_id, pass_id) in self.dropped:
                left = farm.field_by_id[field_id].area_ha - state.done_ha
            if left >= SMALL_HA and window is not None:
                spring.loss["undone"] += window.loss_undone * left / farm.field_by_id[field_id].area_ha
            if left >= SMALL_HA and not state.cancelled:
                spring.left_ha[pass_id] = spring.left_ha.get(pass_id, 0.0) + left
        for pass_id in {key[1] for key in situation.passes} - set(spring.left_ha):
            states = (state for key, state in situation.passes.items() if key[1] == pass_id)
            ends = [state.finished_at for state in states if state.finished_at is not None]
            if ends:
                spring.finished[pass_id] = max(ends).astimezone(self.start.horizon.zone).date()


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


def _left_by_pass(situation: Situation) -> dict[str, float]:
    out: dict[str, float] = defaultdict(float)
    for key in situation.passes:
        out[key[1]] += situation.left_ha(*key)
    return out
