"""Where one more block would fit into a plan, and exactly what refuses every other quarter hour.

Question answered: *which causes stand in the way of this work at this time?* Input: a compiled problem, a core plan
and one block (or the smallest block of a pass left out); output: for every quarter hour of the horizon the set of
causes that refuse a start there. A slot with one cause is a true reason: without that one cause the block would fit.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from scheduler.events.situation import Situation
from scheduler.farm.operator import Operator
from scheduler.farm.rig import Rig
from scheduler.planning.calendars import holes, machine_open
from scheduler.planning.compiled import Compiled
from scheduler.planning.fit_windows import fit_of
from scheduler.planning.jobs import (
    Job,
    RigOption,
    licences_for,
    needs_support,
    rate_factor,
    skilled,
    supports,
)
from scheduler.planning.last_set_up import SetUp, ready_from, set_up_today
from scheduler.planning.order import bounds_from_done, finished, ties_of
from scheduler.planning.places import Places
from scheduler.planning.quarters import MINUTES, Interval, quarters_up
from scheduler.planning.refusals import Flags, Refusals, gap, join, legs, unfit
from scheduler.planning.room_stock import stock_room
from scheduler.solver.result import Block, CorePlan
from scheduler.windows.records import Outlook
from shared.vocabulary import Reason

NO_FAMILY = -1
"""Set-up family of work on foot, and for whom families make no difference: people."""


@dataclass
class Room:
    """A plan laid out by resource, to try blocks in."""

    compiled: Compiled
    core: CorePlan
    situation: Situation
    outlook: Outlook
    entries: dict[int, list[Block]] = field(default_factory=lambda: defaultdict(list))

    def __post_init__(self) -> None:
        for block in sorted(self.core.blocks):
            for r in block.resources:
                self.entries[r].append(block)
        self.length = self.compiled.problem.horizon
        self.now = max(0, self.compiled.grid.up(self.situation.now))
        self.index = {name: r for r, name in enumerate(self.compiled.names)}
        self.task_of = {job.key: k for k, job in enumerate(self.compiled.jobs)}
        self.ties = {f.id: ties_of(self.situation, f, self.outlook) for f in self.situation.farm.fields}
        self.days = self.compiled.grid.days
        self.places = Places(self.situation.farm)
        self.site = self.places.site

    # ---- trying ------------------------------------------------------------------------------------------

    def refusals(
        self,
        job: Job,
        option: RigOption,
        quarters: int,
        amount_ha: float,
        people: Iterable[Operator],
        without: Block | None = None,
    ) -> list[Refusals]:
        """Return what refuses a block of so many quarters at every start, one answer per person."""
        site = self.site[job.field.id]
        family = NO_FAMILY if option.rig is None else self.places.family(option.rig, job.spec)
        hours = fit_of(self.outlook, *job.key, option.key)
        least = self.situation.farm.plan.fit_chance_least
        fit, why = unfit(hours, least, self.length, quarters)
        common = {
            Reason.OFF_SHIFT: self._past_or_midnight(quarters),
            Reason.NO_FIT_HOURS: fit,
            **self._order(job, quarters, without),
            Reason.STOCK: self._stock(job, amount_ha, without),
        }
        for machine in () if option.rig is None else option.rig.machines:
            r = self.index[machine.id]
            gone = holes(self.situation.machine_down.get(machine.id, ()), self.compiled.grid)
            working = self._working
            out, back = legs(self.compiled.problem.resources[r].moves, site)
            gone = [(a - back, b + out) for a, b in gone]
            join(common, Reason.RIG_DOWN, self._touches(gone, quarters))
            join(common, Reason.RIG_BUSY, self._busy(r, site, family, quarters, without))
            join(common, Reason.OFF_SHIFT, self._outside(working, r, site, quarters))
        if option.rig is not None:
            ready = ready_from(self._last, self.places, self.compiled.grid, option.rig, job.spec)
            join(common, Reason.RIG_BUSY, np.arange(self.length) < ready)
        answers = []
        for person in people:
            flags = {cause: refused.copy() for cause, refused in common.items()}
            for cause, refused in self._person(person, job, option, site, quarters, without).items():
                join(flags, cause, refused)
            if option.rig is not None and needs_support(option.rig):
                flags[Reason.NO_SUPPORT] = self._support(option.rig, person, site, quarters, without)
            answers.append(Refusals(flags, why, person.id, option))
        return answers

    @cached_property
    def _working(self) -> list[Interval]:
        """When machines may be out that are not down: the same for all."""
        return machine_open("", Situation(self.situation.farm, self.situation.now), self.compiled.grid)

    @cached_property
    def _last(self) -> dict[str, SetUp]:
        return set_up_today(self.situation)

    # ---- time --------------------------------------------------------------------------------------------

    def _past_or_midnight(self, quarters: int) -> Flags:
        start = np.arange(self.length)
        refused = start < self.now
        for a, b in self.days:
            refused |= (start >= a) & (start < b) & (start + quarters > b)
        return refused

    def _touches(self, spans: Iterable[Interval], quarters: int) -> Flags:
        refused = np.zeros(self.length, dtype=bool)
        for a, b in spans:
            refused[max(0, a - quarters + 1) : max(0, b)] = True
        return refused

    def _outside(self, spans: Iterable[Interval], r: int, site: int, quarters: int) -> Flags:
        """Refuse what does not lie, with the way out and home, in one open stretch."""
        out, back = legs(self.compiled.problem.resources[r].moves, site)
        refused = np.ones(self.length, dtype=bool)
        for a, b in spans:
            refused[a + out : max(a + out, b - back - quarters + 1)] = False
        return refused

    def _busy(self, r: int, site: int, family: int, quarters: int, without: Block | None) -> Flags:
        refused = np.zeros(self.length, dtype=bool)
        moves = self.compiled.problem.resources[r].moves
        for block in self.entries[r]:
            if block == without:
                continue
            mode = self.compiled.problem.tasks[block.task].modes[block.mode]
            before = gap(moves, site, family, mode.site, mode.family)
            after = gap(moves, mode.site, mode.family, site, family)
            refused[max(0, block.start - before - quarters + 1) : block.end + after] = True
        return refused

    # ---- order and stock ---------------------------------------------------------------------------------

    def _order(self, job: Job, quarters: int, without: Block | None) -> dict[Reason, Flags]:
        start = np.arange(self.length)
        flags: dict[Reason, Flags] = {Reason.WAITS_FOR_PASS: np.zeros(self.length, dtype=bool)}
        done = bounds_from_done(self.situation, self.ties[job.field.id], *job.key)
        if done.least is not None:
            join(flags, done.least_reason, start < self.compiled.grid.up(done.least))
        if done.most is not None:
            join(flags, Reason.TOO_LATE_DATE, start > self.compiled.grid.down(done.most))
        for tie in self.ties[job.field.id]:
            least = quarters_up(tie.least_minutes)
            if tie.after == job.spec.id and not finished(self.situation, tie.field_id, tie.before):
                end = self._placed(tie.field_id, tie.before)
                if end is None:
                    if not tie.loose:
                        join(flags, Reason.WAITS_FOR_PASS, np.ones(self.length, dtype=bool))
                    continue
                join(flags, tie.reason, start < end[1] + least)
                if tie.most_minutes is not None:
                    join(flags, Reason.TOO_LATE_DATE, start > end[1] + int(tie.most_minutes // MINUTES))
            elif tie.before == job.spec.id:
                follower = self._placed(tie.field_id, tie.after, whole=False)
                if follower is not None:
                    join(flags, tie.reason, start + quarters > follower[0] - least)
        return flags

    def _placed(self, field_id: str, pass_id: str, whole: bool = True) -> Interval | None:
        """Return first start and last end of a pass in the plan; None when it is not (wholly) there."""
        k = self.task_of.get((field_id, pass_id))
        if k is None:
            return None
        blocks = [b for b in self.core.blocks if b.task == k]
        size = self.compiled.problem.tasks[k].size
        if not blocks or (whole and sum(b.amount for b in blocks) < size):
            return None
        return min(b.start for b in blocks), max(b.end for b in blocks)

    def _stock(self, job: Job, amount_ha: float, without: Block | None) -> Flags:
        refused = np.zeros(self.length, dtype=bool)
        factor = rate_factor(self.situation, job.field.id, job.spec)
        names = {stock.name: s for s, stock in enumerate(self.compiled.problem.stocks)}
        for product, rate in self.situation.farm.taken_by(job.spec, factor).items():
            if rate > 0 and product in names:
                room = stock_room(self.compiled.problem, self.core, names[product], without)
                refused |= room < rate * amount_ha - 1e-6
        return refused

    # ---- people ------------------------------------------------------------------------------------------

    def _person(
        self, person: Operator, job: Job, option: RigOption, site: int, quarters: int, without: Block | None
    ) -> dict[Reason, Flags]:
        r = self.index[person.id]
        flags = self._presence(person, r, site, quarters)
        if not skilled(person, job.spec.operations, option.rig):
            flags[Reason.NO_OPERATOR] = np.ones(self.length, dtype=bool)
        lacking = np.zeros(self.length, dtype=bool)
        wanted = licences_for(self.situation.farm, job.spec)
        for k, (a, b) in enumerate(self.days):
            day = self.compiled.grid.horizon.day(k)
            lacking[a:b] = not all(person.holds(name, day) for name in wanted)
        flags[Reason.LICENCE] = lacking
        flags[Reason.OPERATOR_BUSY] = self._busy(r, site, NO_FAMILY, quarters, without)
        flags[Reason.HOURS] = self._hours(r, site, quarters, without)
        return flags

    def _presence(self, person: Operator, r: int, site: int, quarters: int) -> dict[Reason, Flags]:
        grid = self.compiled.grid
        away = holes(self.situation.operator_away.get(person.id, ()), grid)
        shifts = []
        for k in range(grid.horizon.days):
            shift = person.shift_on(grid.horizon.day(k))
            if shift is not None:
                a, b = grid.shift(grid.horizon.day(k), shift.start, shift.end)
                shifts.append((max(a, self.now), b))
        out, back = legs(self.compiled.problem.resources[r].moves, site)
        gone = [(a - back, b + out) for a, b in away]
        return {
            Reason.OFF_SHIFT: self._outside([(a, b) for a, b in shifts if b > a], r, site, quarters),
            Reason.NO_OPERATOR: self._touches(gone, quarters),
        }

    def _hours(self, r: int, site: int, quarters: int, without: Block | None) -> Flags:
        """Refuse starts that would push the day or the week of a person over the limit."""
        refused = np.zeros(self.length, dtype=bool)
        resource = self.compiled.problem.resources[r]
        limit = resource.hours
        if limit is None:
            return refused
        out, back = legs(resource.moves, site)
        spans = [self.span(r, day, without) for day in self.days]
        worked = [0 if span is None else span[1] - span[0] for span in spans]
        for w, week in enumerate(limit.weeks):
            used = limit.used_before[w] + sum(worked[d] for d in week)
            for d in week:
                a, b = self.days[d]
                start = np.arange(a, b)
                first, last = start - out, start + quarters + back
                if spans[d] is not None:
                    first, last = np.minimum(first, spans[d][0]), np.maximum(last, spans[d][1])  # type: ignore[index]
                length = last - first
                refused[a:b] = (length > limit.most_per_day) | (
                    used + length - worked[d] > limit.most_per_week
                )
        return refused

    def span(self, r: int, day: Interval, without: Block | None = None) -> Interval | None:
        """Return from leaving home to coming back on a day; None for a day off."""
        moves = self.compiled.problem.resources[r].moves
        today = [b for b in self.entries[r] if b != without and day[0] <= b.start < day[1]]
        if not today:
            return None

        def site(block: Block) -> int:
            return self.compiled.problem.tasks[block.task].modes[block.mode].site

        last = max(today, key=lambda b: b.end)
        return today[0].start - legs(moves, site(today[0]))[0], last.end + legs(moves, site(last))[1]

    def _support(self, rig: Rig, driver: Operator, site: int, quarters: int, without: Block | None) -> Flags:
        """Refuse starts at which nobody else can drive the tender."""
        refused = np.ones(self.length, dtype=bool)
        for person in self.situation.farm.operators:
            if person.id == driver.id or not supports(person, rig):
                continue
            r = self.index[person.id]
            own = self._presence(person, r, site, quarters)
            free = ~(own[Reason.OFF_SHIFT] | own[Reason.NO_OPERATOR])
            free &= ~self._busy(r, site, NO_FAMILY, quarters, without)
            refused &= ~(free & ~self._hours(r, site, quarters, without))
        return refused

    def clock(self, quarter: int) -> str:
        """Write a quarter hour as people read it."""
        moment = self.compiled.grid.moment(quarter)
        return f"{moment:%a} {moment.day} {moment:%b %H:%M}"
