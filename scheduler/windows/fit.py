"""Fit hours: ground, air, light, window and time together, hour by hour, with the main reason against.

Equal rules are judged once for all fields; the passes of a field then only pick their rows.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from scheduler.events.situation import Situation
from scheduler.farm.land import Field
from scheduler.farm.programme import PassSpec
from scheduler.farm.rig import Rig
from scheduler.windows.ground import GroundRun
from scheduler.windows.light import HourGrid
from scheduler.windows.records import FitHours, RigKey
from scheduler.windows.rules import rules_for
from scheduler.windows.timing import DayOdds
from scheduler.workability import FitRule, judge
from shared.vocabulary import LoadClass, Operation, Reason
from shared.weather_records import Place

REASONS = list(Reason)
CODE = {reason: k for k, reason in enumerate(REASONS)}
ON_FOOT: RigKey = (LoadClass.LIGHT, False)
LEAST = 0.5
ROUNDING = 1e-4
"""Sees to it that odds of half a hundred stay that in whole percent, rounded down."""
HOUR = timedelta(hours=1)


@dataclass(frozen=True)
class GroundVerdict:
    """One rule over every field: odds (fields, members, hours), main reason and margin (fields, hours)."""

    odds: NDArray[np.float32]
    reason: NDArray[np.int_]
    margin_mm: NDArray[np.float64]


@dataclass
class Bench:
    """Verdicts by rule, made when first asked for.

    Attributes
    ----------
    run : GroundRun
    place : Place
    lead : int
        Hours of the run before the horizon; cut off from every answer.
    """

    run: GroundRun
    place: Place
    lead: int
    known: dict[FitRule, GroundVerdict] = field(default_factory=dict)

    def verdict(self, rule: FitRule) -> GroundVerdict:
        """Return the verdict of a rule."""
        if rule not in self.known:
            self.known[rule] = self._judge(rule)
        return self.known[rule]

    def _judge(self, rule: FitRule) -> GroundVerdict:
        told = judge(rule, self.run.trace, self.run.weather, self.place)
        reason, odds = told.reason[..., self.lead :], told.odds[..., self.lead :]
        fit_code = CODE[Reason.FIT]
        main = np.full((reason.shape[0], reason.shape[2]), CODE[Reason.TOO_WET], dtype=np.int_)
        most = np.zeros(main.shape)
        for code in np.unique(reason):
            if code != fit_code:
                share = (reason == code).mean(axis=1)
                main[share > most] = code
                most = np.maximum(most, share)
        margin = -np.median(told.margin_mm[..., self.lead :], axis=1).astype(np.float64)
        return GroundVerdict(odds, main, margin)


def rig_keys(rigs: Iterable[Rig], spec: PassSpec) -> dict[RigKey, list[Rig]]:
    """Return the kinds of rig that can do a pass, each with its rigs; people on foot have none."""
    if spec.on_foot:
        return {ON_FOOT: []}
    out: dict[RigKey, list[Rig]] = {}
    for rig in rigs:
        if rig.does(spec.operations):
            out.setdefault((rig.load_class, rig.tracks), []).append(rig)
    return out


def clearance_of(rigs: Iterable[Rig]) -> float | None:
    """Return the lowest clearance [m] among rigs of one kind; None when none states one.

    Fitness knows a rig only by its kind, so the lowest counts for all of them: no crop is driven down.
    """
    stated = [rig.clearance_m for rig in rigs if rig.clearance_m is not None]
    return min(stated, default=None)


def fit_hours(
    situation: Situation, bench: Bench, place: int, spec: PassSpec, key: RigKey, rigs: list[Rig],
    days: DayOdds, grid: HourGrid, first_hour: int,
) -> FitHours:  # fmt: skip
    """Return the fit hours of one pass in one field for one kind of rig.

    Parameters
    ----------
    place : int
        Index of the field.
    days : DayOdds
        The window's odds by day of the horizon.
    first_hour : int
        Hours before it are past.
    """
    land = situation.farm.fields[place]
    told = [bench.verdict(rule) for rule in rules_for(situation, land, spec, key)]
    odds = np.minimum.reduce([one.odds[place] for one in told]).astype(np.float64)
    tight = np.argmin(np.stack([one.odds[place].mean(axis=0) for one in told]), axis=0)
    reason = np.choose(tight, [one.reason[place] for one in told])
    margin = np.max(np.stack([one.margin_mm[place] for one in told]), axis=0)
    inside = days.chance[:, grid.day]
    if inside.shape[0] not in (1, odds.shape[0]):
        inside = inside.mean(axis=0, keepdims=True)
    shut_mean = inside.mean(axis=0)
    barred = _barred(situation, land, spec, rigs, grid, first_hour)
    free = barred == CODE[Reason.FIT]
    ground = odds.mean(axis=0)
    by_member = odds * inside * free
    chance = by_member.mean(axis=0)
    window_first = (shut_mean < LEAST) | (shut_mean < ground)
    why = np.where(window_first, days.reason[grid.day], reason)
    why = np.where(why == CODE[Reason.FIT], reason, why)
    why = np.where(free, why, barred)
    why = np.where(chance >= LEAST, CODE[Reason.FIT], why).astype(np.int_)
    return FitHours(chance, (by_member * 100.0 + ROUNDING).astype(np.uint8), why, margin)


def _barred(
    situation: Situation, land: Field, spec: PassSpec, rigs: list[Rig], grid: HourGrid, first_hour: int
) -> NDArray[np.int_]:
    """Return the code of what bars an hour whatever the weather: past, dark, re-entry; FIT where nothing does."""
    codes = np.full(grid.hours, CODE[Reason.FIT], dtype=np.int_)
    if spec.on_foot or spec.daylight_only or not all(rig.power.lights for rig in rigs):
        codes[~grid.light] = CODE[Reason.DARK]
    if spec.on_foot:
        until = reentry_until(situation, land)
        if until is not None:
            # An hour in which the interval still runs is barred whole.
            last = -((grid.start_utc - until) // HOUR)
            codes[: max(0, min(int(last), grid.hours))] = CODE[Reason.REENTRY]
    codes[:first_hour] = CODE[Reason.PAST]
    return codes


def reentry_until(situation: Situation, land: Field) -> datetime | None:
    """Return until when people must stay out of a field after sprays that were reported; None without one."""
    farm = situation.farm
    ends = []
    for spec in farm.programme_of(land).passes:
        state = situation.passes.get((land.id, spec.id))
        hours = max((farm.product_by_id[item.product].reentry_hours for item in spec.products), default=0.0)
        if state is None or hours <= 0 or not (state.finished or state.done_ha > 0):
            continue
        ended = state.finished_at or state.last_report_at
        if ended is not None:
            ends.append(ended + timedelta(hours=hours))
    return max(ends, default=None)


def operations_of(situation: Situation) -> list[Operation]:
    """Return every job in the farm's programmes."""
    specs = [spec for programme in situation.farm.programmes for spec in programme.passes]
    return list(dict.fromkeys(operation for spec in specs for operation in spec.operations))
