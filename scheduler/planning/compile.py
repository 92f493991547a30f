"""From a situation and an outlook to the engine's problem, and the way back.

Question answered: *what has to be placed, on what, when, and what does a placement cost?* Input: situation,
outlook, horizon, settings, and the plan that people know already; output: a `Compiled` problem in quarter hours
and cents with the maps that turn its indices back into fields, passes, rigs and people. Nothing before now.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from math import ceil

from scheduler.events.situation import Situation
from scheduler.farm.farm import PlanSettings
from scheduler.farm.rig import Rig
from scheduler.planning.before import previous_blocks
from scheduler.planning.calendars import hours_limit, machine_open, person_open
from scheduler.planning.compiled import Compiled, ModeInfo
from scheduler.planning.costs import CENTS, drop_cost, loss_curve, running_cost
from scheduler.planning.doubt import Doubt
from scheduler.planning.jobs import (
    Job,
    RigOption,
    licences_for,
    needs_support,
    operators_by_day,
    rate_factor,
    remaining_jobs,
    supports,
)
from scheduler.planning.last_set_up import ready_from, set_up_today
from scheduler.planning.order import Tie, bounds_from_done, finished, ties_of
from scheduler.planning.pace_notes import pace_notes
from scheduler.planning.places import Places
from scheduler.planning.plan import Plan
from scheduler.planning.quarters import MINUTES, Quarters, quarters_up
from scheduler.planning.season import season_buckets
from scheduler.planning.standing import standing_pins
from scheduler.planning.stocks import stock_rows
from scheduler.solver.problem import Lag, Mode, Need, Problem, Task, Window
from scheduler.solver.resources import FAR, Resource
from scheduler.windows.records import Outlook
from shared.clock import Horizon

TENTHS = 10.0


def compile_problem(
    situation: Situation,
    outlook: Outlook,
    horizon: Horizon,
    settings: PlanSettings,
    previous: Plan | None = None,
) -> Compiled:
    """Return the engine's problem for a situation.

    Parameters
    ----------
    horizon : Horizon
        Days planned exactly; must start on the outlook's first day.
    previous : Plan, optional
        The plan that people were told of: moving away from it has a price that fades with the days ahead.
    """
    return _Compiler(situation, outlook, horizon, settings).run(previous)


class _Compiler:
    """Builds one problem; one method per part of it."""

    def __init__(
        self, situation: Situation, outlook: Outlook, horizon: Horizon, settings: PlanSettings
    ) -> None:
        self.situation, self.outlook, self.settings = situation, outlook, settings
        self.farm = situation.farm
        self.grid = Quarters(horizon)
        self.now = max(0, self.grid.up(situation.now))
        self.places = Places(self.farm)
        self.doubt = Doubt(outlook, settings, self.grid)
        self.names = tuple([m.id for m in self.farm.machines] + [p.id for p in self.farm.operators])
        self.index = {name: k for k, name in enumerate(self.names)}
        self.ties = {field.id: ties_of(situation, field, outlook) for field in self.farm.fields}
        self.stocks, self.stock_index = stock_rows(situation, self.grid)
        self.last = set_up_today(situation)
        self._people: dict[object, Mapping[tuple[str, ...], tuple[int, ...]]] = {}

    def run(self, previous: Plan | None) -> Compiled:
        """Return everything."""
        jobs, modes, aside = self._doable(remaining_jobs(self.situation, self.outlook))
        buckets = season_buckets(self.situation, self.outlook, self.grid, self.index)
        season_end = buckets[-1].end if buckets else self.grid.day(self.grid.horizon.days)[0]
        starts = [bucket.start for bucket in buckets]
        problem = Problem(
            tasks=tuple(
                self._task(job, [m for m, _ in found], starts, season_end)
                for job, found in zip(jobs, modes, strict=True)
            ),
            resources=self._resources(),
            horizon=self.grid.day(self.grid.horizon.days)[0],
            lags=self._lags(jobs),
            stocks=self.stocks,
            days=self.grid.days,
            buckets=buckets,
        )
        aside_cost = sum(drop_cost(self.outlook.windows.get(job.key), job) for job in aside)
        compiled = Compiled(
            problem, self.grid, tuple(jobs), tuple(tuple(i for _, i in found) for found in modes),
            self.names, tuple(aside), aside_cost, notes=pace_notes(self.situation),
        )  # fmt: skip
        compiled = standing_pins(compiled, self.situation, self.outlook, previous)
        return previous_blocks(compiled, self.situation, previous)

    # ---- tasks ---------------------------------------------------------------------------------------------

    def _doable(self, jobs: list[Job]) -> tuple[list[Job], list[list[tuple[Mode, ModeInfo]]], list[Job]]:
        """Sort out jobs without a mode, and those that can only follow such a job."""
        modes = {job.key: self._modes(job) for job in jobs}
        open_keys = {job.key for job in jobs if modes[job.key]}
        changed = True
        while changed:
            lost = {
                key for key in open_keys
                if any(self._blocks(tie, open_keys) for tie in self.ties[key[0]] if tie.after == key[1])
            }  # fmt: skip
            changed = bool(lost)
            open_keys -= lost
        kept = [job for job in jobs if job.key in open_keys]
        return kept, [modes[job.key] for job in kept], [job for job in jobs if job.key not in open_keys]

    def _blocks(self, tie: Tie, open_keys: set[tuple[str, str]]) -> bool:
        done = finished(self.situation, tie.field_id, tie.before)
        return not tie.loose and not done and (tie.field_id, tie.before) not in open_keys

    def _task(self, job: Job, modes: list[Mode], starts: list[int], season_end: int) -> Task:
        size = max(1, round(job.left_ha * TENTHS))
        window = self.outlook.windows.get(job.key)
        done = bounds_from_done(self.situation, self.ties[job.field.id], *job.key)
        release = self.now if done.least is None else max(self.now, self.grid.up(done.least))
        latest = FAR if done.most is None else self.grid.down(done.most)
        horizon_end = self.grid.day(self.grid.horizon.days)[0]
        latest_end, later = season_end, bool(starts)
        if window is not None and window.opens is not None and starts:
            opens = self.grid.start_of(window.opens)
            if opens >= horizon_end:
                # A week is coarse: what opens inside one may use that week.
                release = max(release, max((s for s in starts if s <= opens), default=opens))
        if window is not None and window.closes is not None:
            latest_end = max(horizon_end, min(season_end, self.grid.end_of(window.closes)))
            later = later and self.grid.end_of(window.closes) > horizon_end
            if later and latest_end - max((s for s in starts if s < latest_end), default=0) >= 3 * 96:
                # At least three days of its last week are open: count that week.
                latest_end = min(e for e in [*starts[1:], season_end] if e >= latest_end)
        return Task(
            name=f"{job.spec.id} in {job.field.id}",
            modes=tuple(modes),
            size=size,
            release=release,
            latest_start=latest,
            latest_end=latest_end,
            end_curve=loss_curve(window, job, self.grid, self.now),
            optional=True,
            drop_cost=drop_cost(window, job),
            min_chunk=self._least_chunk(job, size),
            later=later,
        )

    def _least_chunk(self, job: Job, size: int) -> int:
        fastest = min(option.minutes for option in job.options)
        chunk = ceil(size * self.settings.block_minutes_least / max(fastest, 1.0))
        return max(1, min(size, chunk))

    # ---- modes ---------------------------------------------------------------------------------------------

    def _modes(self, job: Job) -> list[tuple[Mode, ModeInfo]]:
        out: list[tuple[Mode, ModeInfo]] = []
        consumes = self._consumes(job)
        for option in job.options:
            groups = self._groups(job, option)
            for people, days in groups.items():
                found = self._needs(option.rig, people)
                if found is None:
                    continue
                needs, roles = found
                setup = quarters_up(option.setup_minutes)
                work = quarters_up(max(0.0, option.minutes + option.setup_minutes - setup * MINUTES))
                mode = Mode(
                    minutes=max(1, work),
                    needs=needs,
                    fixed_minutes=setup,
                    site=self.places.site[job.field.id],
                    family=-1 if option.rig is None else self.places.family(option.rig, job.spec),
                    cost=running_cost(option, job.left_ha),
                    consumes=consumes,
                    name=option.id or "on foot",
                    lead=-1 if option.rig is None else roles.index("operator"),
                    led=-1 if option.rig is None else 0,
                )
                info = ModeInfo(option, roles, frozenset(days))
                for stretch in self.doubt.stretches(job, option, list(days)):
                    longer = ceil(mode.minutes * stretch.factor - 1e-9)
                    windows = self._when_ready(job, option, stretch.windows)
                    out.append((replace(mode, minutes=longer, windows=windows), info))
        return out

    def _when_ready(self, job: Job, option: RigOption, windows: tuple[Window, ...]) -> tuple[Window, ...]:
        """Return the windows without the time in which the rig is set up anew after what it did this morning."""
        if option.rig is None:
            return windows
        begin = ready_from(self.last, self.places, self.grid, option.rig, job.spec)
        if begin <= self.now:
            return windows
        return tuple(replace(w, start=max(w.start, begin)) for w in windows if w.end > begin)

    def _groups(self, job: Job, option: RigOption) -> Mapping[tuple[str, ...], tuple[int, ...]]:
        """Return who may do a pass on which days; the same for every field of a programme."""
        horizon = self.grid.horizon
        licences = licences_for(self.farm, job.spec)
        key = (licences, tuple(job.spec.operations), option.id)
        found = self._people.get(key)
        if found is None:
            found = operators_by_day(self.farm, job.spec, option.rig, horizon.first_day, horizon.days)
            self._people[key] = found
        return found

    def _needs(
        self, rig: Rig | None, people: tuple[str, ...]
    ) -> tuple[tuple[Need, ...], tuple[str, ...]] | None:
        """Return the needs of a rig and their roles; None when its tender has nobody to drive it."""
        needs: list[Need] = []
        roles: list[str] = []
        for machine in () if rig is None else rig.machines:
            needs.append(Need((self.index[machine.id],), role=machine.kind.value))
            roles.append("machine")
        needs.append(Need(tuple(self.index[name] for name in people), role="operator"))
        roles.append("operator")
        if rig is not None and needs_support(rig):
            drivers = tuple(self.index[p.id] for p in self.farm.operators if supports(p, rig))
            if not drivers or (len(people) == 1 and drivers == (self.index[people[0]],)):
                return None
            needs.append(Need(drivers, role="support"))
            roles.append("support")
        return tuple(needs), tuple(roles)

    def _consumes(self, job: Job) -> dict[int, int]:
        factor = rate_factor(self.situation, job.field.id, job.spec)
        taken = self.farm.taken_by(job.spec, factor)
        return {
            self.stock_index[name]: ceil(rate * job.left_ha - 1e-6)
            for name, rate in taken.items()
            if rate > 0
        }

    # ---- resources and lags --------------------------------------------------------------------------------

    def _resources(self) -> tuple[Resource, ...]:
        handover = round(self.settings.handover_cost * CENTS)
        machines = [
            Resource(
                machine.id,
                open=tuple(machine_open(machine.id, self.situation, self.grid)),
                moves=self.places.machine_moves(machine),
                handover=handover,
            )
            for machine in self.farm.machines
        ]
        people = [
            Resource(
                person.id,
                open=tuple(person_open(person, self.situation, self.grid)),
                moves=self.places.person_moves(person),
                hours=hours_limit(person, self.situation, self.grid),
                handover=handover,
            )
            for person in self.farm.operators
        ]
        return tuple(machines + people)

    def _lags(self, jobs: list[Job]) -> tuple[Lag, ...]:
        at = {job.key: k for k, job in enumerate(jobs)}
        return tuple(
            Lag(
                at[(tie.field_id, tie.before)],
                at[(tie.field_id, tie.after)],
                least=quarters_up(tie.least_minutes),
                most=None if tie.most_minutes is None else int(tie.most_minutes // MINUTES),
                loose=tie.loose,
            )
            for ties in self.ties.values()
            for tie in ties
            if (tie.field_id, tie.before) in at and (tie.field_id, tie.after) in at
        )
