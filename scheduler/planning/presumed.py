"""What today's plan takes as done though nobody has reported it yet.

Question answered: *how far are those who went out this morning?* Crews report when they stop, often in the evening. A plan made
at ten o'clock that took the whole morning as not done would send them out again, and would put what waits for their work behind
hours that nobody needs any more. So work of today goes on at the pace it was planned with, from when it began, or from the
last report of it, until something is known that speaks against it: somebody stopped, a machine or a person is missing, rain
fell on the field, or a spade found it unfit. Where the hours of now are not fit any more, nobody knows since when, and
nothing is presumed. From the next day on what nobody reported counts as not done.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from scheduler.events.presumed import Presumed, with_presumed
from scheduler.events.situation import LEAST_HA, PassState, Situation
from scheduler.farm.farm import Farm
from scheduler.farm.rig import Rig, rigs_of
from scheduler.planning.fit_windows import PER_HOUR, fit_of
from scheduler.planning.jobs import ON_FOOT
from scheduler.planning.on_way import on_way
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.planning.quarters import Quarters
from scheduler.planning.under_way import stopped
from scheduler.planning.wording import Names
from scheduler.windows.records import Outlook
from shared.clock import Horizon
from shared.vocabulary import Fitness

MINUTE = timedelta(minutes=1)
AREA_DIGITS = 6
"""What is left after it has to fit into the rest of its hours."""


@dataclass(frozen=True)
class _Stretch:
    """Work that may have gone on: what is presumed at most, and at what pace."""

    most: Presumed
    setup_minutes: float
    minutes_per_ha: float
    odds_needed: float = 0.0
    goes_on: bool = False


@dataclass(frozen=True)
class Known:
    """What a plan goes by: the situation with what is presumed, and what is left of the plan that people know."""

    situation: Situation
    plan: Plan | None
    presumed: tuple[Presumed, ...]


def known_now(situation: Situation, previous: Plan | None, outlook: Outlook) -> Known:
    """Return what a plan goes by at a moment, by the reports and by the plan that people know."""
    grid = Quarters(Horizon(outlook.first_day, outlook.days, outlook.time_zone))
    works = presumed_work(situation, previous, outlook)
    seen = replace(with_presumed(situation, works), on_way=on_way(situation, previous, grid))
    return Known(seen, less_presumed(previous, works), works)


def presumed_work(situation: Situation, previous: Plan | None, outlook: Outlook) -> tuple[Presumed, ...]:
    """Return what of the plan that people know is taken as done by now though nobody reported it, earliest first."""
    if previous is None:
        return ()
    grid = Quarters(Horizon(outlook.first_day, outlook.days, outlook.time_zone))
    until = grid.moment(max(0, grid.up(situation.now)))
    rigs = {rig.id: rig for rig in rigs_of(situation.farm)}
    left = {key: situation.left_ha(*key) for key in situation.passes}
    out: list[Presumed] = []
    found = [*_carried(previous, until), *_of_blocks(situation, previous, rigs, until)]
    for stretch in sorted(found, key=lambda one: (one.most.start, one.most.block)):
        one = stretch.most
        key = (one.field, one.pass_id)
        if left.get(key, 0.0) < LEAST_HA or (one.rig is not None and one.rig not in rigs):
            continue
        start, end = _undisturbed(situation, one, () if one.rig is None else _ids(rigs[one.rig]))
        if stretch.goes_on and end == one.end and not _fit_now(outlook, stretch, rigs, grid.up(until)):
            continue
        setup = stretch.setup_minutes if start == one.start else 0.0
        worked = max(0.0, (end - start) / MINUTE - setup) / stretch.minutes_per_ha
        whole = one.over and (start, end) == (one.start, one.end)
        area = min(one.area_ha if whole else min(worked, one.area_ha), left[key])
        if area >= LEAST_HA:
            left[key] -= area
            over = one.over and end == one.end
            out.append(replace(one, start=start, end=end, area_ha=round(area, AREA_DIGITS), over=over))
    return tuple(out)


def _carried(previous: Plan, until: datetime) -> Iterator[_Stretch]:
    """Yield what the known plan itself took as done today."""
    for one in previous.presumed:
        if one.end.date() == until.date():
            yield _Stretch(one, 0.0, (one.end - one.start) / MINUTE / one.area_ha)


def _of_blocks(
    situation: Situation, previous: Plan, rigs: dict[str, Rig], until: datetime
) -> Iterator[_Stretch]:
    """Yield the blocks of today that should be, or were said to be, begun by now."""
    farm = situation.farm
    for block in previous.blocks:
        state, spec = (
            situation.passes.get((block.field, block.pass_id)),
            farm.spec(block.field, block.pass_id),
        )
        begun = (
            None
            if state is None or block.start.date() != until.date()
            else _begun(state, block, previous, until)
        )
        if begun is None or spec is None or (block.rig is not None and block.rig not in rigs):
            continue
        start, who = begun
        planned = (block.end - block.start) / MINUTE
        setup = spec.foot_minutes if block.rig is None else rigs[block.rig].worker.setup_minutes
        setup = 0.0 if block.under_way else min(setup, planned)
        if planned - setup <= 0 or block.area_ha <= 0:
            continue
        end = block.end - max(block.start - start, timedelta(0))
        said = state is not None and state.running is not None
        most = Presumed(
            field=block.field, pass_id=block.pass_id, block=block.id, start=start, end=min(end, until), area_ha=block.area_ha,
            rig=block.rig, operator=who, support=block.support, over=end <= until,
        )  # fmt: skip
        needed = 0.0 if said or block.pinned else farm.plan.fit_chance_least
        yield _Stretch(most, setup, (planned - setup) / block.area_ha, needed, goes_on=not most.over)


def _begun(state: PassState, block: PlanBlock, plan: Plan, until: datetime) -> tuple[datetime, str] | None:
    """Return since when a block runs, and with whom; None where it does not, or with another rig than was planned."""
    run = state.running
    if run is None:
        before = state.paused_at is not None and state.paused_at < block.start
        off = block.start >= until or (before and stopped(state, block, plan))
        return None if off else (block.start, block.operator)
    if run.since >= until or run.rig not in (None, block.rig) or block.end <= run.since:
        return None
    mine = run.operator in (None, block.operator, block.support)
    start = max(run.since, block.start) if block.under_way else run.since
    zone = block.start.tzinfo
    return start.astimezone(zone), block.operator if mine or run.operator is None else run.operator


def _ids(rig: Rig) -> tuple[str, ...]:
    return tuple(machine.id for machine in rig.machines)


def _undisturbed(situation: Situation, one: Presumed, machines: tuple[str, ...]) -> tuple[datetime, datetime]:
    """Return from when (the last report) to when nothing is known that speaks against its going on."""
    state = situation.passes[one.field, one.pass_id]
    start, end = one.start, one.end
    if state.last_report_at is not None and state.last_report_at > start:
        start = state.last_report_at.astimezone(start.tzinfo)
    people = [name for name in (one.operator, one.support) if name]
    spans = [span for name in machines for span in situation.machine_down.get(name, ())]
    spans += [span for name in people for span in situation.operator_away.get(name, ())]
    against = [(span.start, span.end) for span in spans]
    if state.running is None and state.paused_at is not None and state.paused_at > start:
        against.append((state.paused_at, None))
    against += [
        (rain.start, rain.end)
        for rain in situation.rain
        if rain.field_id in (None, one.field) and rain.rain_mm > 0
    ]
    against += [
        (check.at, None)
        for check in situation.checks
        if check.field_id == one.field
        and check.verdict is Fitness.UNFIT
        and check.pass_id in (None, one.pass_id)
    ]
    for since, over in against:
        if since < end and (over is None or over > start):
            end = min(end, max(start, since.astimezone(end.tzinfo)))
    return start, max(start, end)


def _fit_now(outlook: Outlook, stretch: _Stretch, rigs: dict[str, Rig], now: int) -> bool:
    """Return whether the hour that begins now is still fit enough for what goes on in it."""
    one = stretch.most
    key = ON_FOOT if one.rig is None else (rigs[one.rig].load_class, rigs[one.rig].tracks)
    hours = fit_of(outlook, one.field, one.pass_id, key)
    if hours is None or now // PER_HOUR >= hours.chance.size:
        return False
    chance = float(hours.chance[now // PER_HOUR])
    return chance > 0.0 and chance >= stretch.odds_needed - 1e-9


# ---- what follows ----------------------------------------------------------------------------------------


def less_presumed(previous: Plan | None, works: tuple[Presumed, ...]) -> Plan | None:
    """Return the known plan with what is presumed done taken out of its blocks."""
    if previous is None or not works:
        return previous
    done: dict[str, float] = {}
    begun = {block.id: block.start for block in previous.blocks}
    for one in works:
        # What an earlier plan of the day had under the same name was over before this block begins.
        if one.block in begun and one.end > begun[one.block]:
            done[one.block] = done.get(one.block, 0.0) + one.area_ha
    blocks = tuple(
        block.model_copy(update={"area_ha": max(0.0, block.area_ha - done[block.id])})
        if block.id in done
        else block
        for block in previous.blocks
    )
    return previous.model_copy(update={"blocks": blocks})


def presumed_lines(farm: Farm, works: tuple[Presumed, ...]) -> tuple[str, ...]:
    """Return sentences on what the plan takes as done that nobody reported."""
    names, out = Names(farm), []
    whole = dict.fromkeys((one.field, one.pass_id) for one in works if one.over)
    part: dict[tuple[str, str], float] = {}
    for one in works:
        if (key := (one.field, one.pass_id)) not in whole:
            part[key] = part.get(key, 0.0) + one.area_ha
    asks = "if that is not so, report it and plan anew"
    if whole:
        out.append(
            f"Taken as done, since its hours are over and nobody has reported yet: {'; '.join(names.works(whole))}; {asks}."
        )
    if part:
        said = [f"{names.area(ha)} of {names.works([key])[0]}" for key, ha in part.items()]
        out.append(f"Taken as done so far, by the hours since it began: {'; '.join(said)}; {asks}.")
    return tuple(out)
