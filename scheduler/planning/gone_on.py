"""Which work of today may have gone on though nobody has reported it, since when and until when.

Question answered: *from when to when is a piece of work of the known plan thought to have run?* From when it was to begin, or was said
to, or from the last report of it, until something is known that speaks against it: somebody stopped or began elsewhere, a machine
or a person is missing, rain fell on the field, or a spade found it unfit.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from scheduler.events.presumed import Presumed
from scheduler.events.situation import PassState, Situation
from scheduler.farm.rig import Rig
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.planning.under_way import stopped_at
from shared.vocabulary import Fitness

MINUTE = timedelta(minutes=1)


@dataclass(frozen=True)
class Stretch:
    """Hours of work.

    Attributes
    ----------
    work : Presumed
        With the area that it can be at most.
    setup_minutes : float
        Of set-up in these hours.
    minutes_per_ha : float
        The pace of its plan.
    odds_needed : float
        Of the hour of now, where it goes on.
    goes_on, whole : bool
        It runs at the end of these hours; its hours are over, and it had all of them.
    """

    work: Presumed
    setup_minutes: float
    minutes_per_ha: float
    odds_needed: float = 0.0
    goes_on: bool = False
    whole: bool = False

    @property
    def area_ha(self) -> float:
        """What got done in these hours."""
        if self.whole:
            return self.work.area_ha
        minutes = (self.work.end - self.work.start) / MINUTE - self.setup_minutes
        return min(self.work.area_ha, max(0.0, minutes) / self.minutes_per_ha)

    def cut(self, start: datetime, end: datetime) -> Stretch:
        """Return the stretch within other hours; later ones have its set-up behind them, earlier ones do not end its work."""
        same = (start, end) == (self.work.start, self.work.end)
        work = replace(self.work, start=start, end=end, over=self.work.over and end == self.work.end)
        return replace(
            self, work=work, setup_minutes=self.setup_minutes if start == self.work.start else 0.0,
            goes_on=self.goes_on and end == self.work.end, whole=self.whole and same,
        )  # fmt: skip


def gone_on(situation: Situation, previous: Plan, rigs: dict[str, Rig], until: datetime) -> list[Stretch]:
    """Return what may have gone on up to a time, in order of start; nobody and nothing is in two places at once."""
    found = [*_carried(previous, rigs, until), *_of_blocks(situation, previous, rigs, until)]
    out: list[Stretch] = []
    for one in sorted(found, key=lambda one: (one.work.start, one.work.block)):
        mine = _undisturbed(situation, previous, one, rigs)
        for k, other in enumerate(out):
            if _ids(other.work, rigs) & _ids(mine.work, rigs) and other.work.end > mine.work.start:
                out[k] = other.cut(other.work.start, mine.work.start)
        out.append(mine)
    return [one for one in out if one.work.start < one.work.end]


def _ids(work: Presumed, rigs: dict[str, Rig]) -> set[str]:
    machines = () if work.rig is None else rigs[work.rig].machines
    return {work.operator, work.support or work.operator, *(machine.id for machine in machines)}


def _carried(previous: Plan, rigs: dict[str, Rig], until: datetime) -> Iterator[Stretch]:
    """Yield what the known plan itself took as done today."""
    for one in previous.presumed:
        if one.end.date() == until.date() and (one.rig is None or one.rig in rigs):
            yield Stretch(one, 0.0, (one.end - one.start) / MINUTE / one.area_ha, whole=True)


def _of_blocks(
    situation: Situation, previous: Plan, rigs: dict[str, Rig], until: datetime
) -> Iterator[Stretch]:
    """Yield the blocks of today that should be, or were said to be, begun by now."""
    farm = situation.farm
    for block in previous.blocks:
        key = (block.field, block.pass_id)
        state, spec = situation.passes.get(key), farm.spec(*key)
        if state is None or spec is None or block.start.date() != until.date():
            continue
        begun = _begun(state, block, until)
        if begun is None or block.area_ha <= 0 or (block.rig is not None and block.rig not in rigs):
            continue
        start, who = begun
        planned = (block.end - block.start) / MINUTE
        setup = spec.foot_minutes if block.rig is None else rigs[block.rig].worker.setup_minutes
        setup = 0.0 if block.under_way else setup
        if planned <= setup:
            continue
        end = block.end - max(block.start - start, timedelta(0))
        over = end <= until
        work = Presumed(
            field=block.field, pass_id=block.pass_id, block=block.id, start=start, end=min(end, until), area_ha=block.area_ha,
            rig=block.rig, operator=who, support=block.support, over=over,
        )  # fmt: skip
        needed = 0.0 if state.running is not None or block.pinned else farm.plan.fit_chance_least
        pace, in_time = (planned - setup) / block.area_ha, start <= block.start
        yield Stretch(work, setup, pace, needed, goes_on=not over, whole=over and in_time)


def _begun(state: PassState, block: PlanBlock, until: datetime) -> tuple[datetime, str] | None:
    """Return since when a block runs, and with whom; None where it does not, or with another rig than was planned."""
    run, zone = state.running, block.start.tzinfo
    if run is None or run.since.astimezone(zone).date() != until.date():
        return None if block.start >= until else (block.start, block.operator)
    if run.since >= until or run.rig not in (None, block.rig) or block.end <= run.since:
        return None
    mine = run.operator in (None, block.operator, block.support)
    start = max(run.since, block.start) if block.under_way else run.since
    return start.astimezone(zone), block.operator if mine or run.operator is None else run.operator


def _undisturbed(situation: Situation, plan: Plan, one: Stretch, rigs: dict[str, Rig]) -> Stretch:
    """Return a stretch from the last report on, up to what is first known to speak against it."""
    work = one.work
    state = situation.passes.get((work.field, work.pass_id), PassState())
    start, end = work.start, work.end
    if state.last_report_at is not None and state.last_report_at > start:
        start = min(end, state.last_report_at.astimezone(start.tzinfo))
    for since, over in _against(situation, plan, work, _ids(work, rigs)):
        if since < end and (over is None or over > start):
            end = max(start, since.astimezone(end.tzinfo))
    return one.cut(start, end)


def _against(
    situation: Situation, plan: Plan, work: Presumed, ids: set[str]
) -> Iterator[tuple[datetime, datetime | None]]:
    """Yield from when to when something is known that speaks against work."""
    key = (work.field, work.pass_id)
    # What was under way when the plan was made may have been stopped before the next quarter hour.
    since = min(work.start, plan.made_at) if work.start - plan.made_at < timedelta(minutes=15) else work.start
    stopped = stopped_at(situation, key, ids, since)
    if stopped is not None:
        yield stopped, None
    for name in ids:
        for span in (*situation.machine_down.get(name, ()), *situation.operator_away.get(name, ())):
            yield span.start, span.end
    for rain in situation.rain:
        if rain.field_id in (None, work.field) and rain.rain_mm > 0:
            yield rain.start, rain.end
    for check in situation.checks:
        unfit = check.field_id == work.field and check.verdict is Fitness.UNFIT
        if unfit and check.pass_id in (None, work.pass_id):
            yield check.at, None
