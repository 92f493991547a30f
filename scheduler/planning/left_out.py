"""Why a pass is left out, in words that are true: without that one cause there would have been room.

Question answered: *what kept this pass out of the plan?* The smallest block of it is offered to every quarter hour
with every rig and person that come into question; where a single cause refuses, that cause is a true reason, and the
one that does so most often is named. Only where no single cause stands alone are several named together.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from scheduler.farm.operator import Operator
from scheduler.farm.rig import rigs_of
from scheduler.farm.roads import reaches
from scheduler.planning.compiled import Compiled
from scheduler.planning.costs import CENTS, drop_cost
from scheduler.planning.decode import HA_DIGITS
from scheduler.planning.jobs import Job, RigOption, licences_for, skilled
from scheduler.planning.order import finished
from scheduler.planning.plan import LeftOut
from scheduler.planning.quarters import quarters_up
from scheduler.planning.refusals import REASONS, Refusals
from scheduler.planning.room import Room
from scheduler.planning.season import week_span
from scheduler.planning.wording import Names, day_text, listed
from scheduler.windows.records import Outlook
from shared.vocabulary import Reason

ORDERLY = frozenset({Reason.WAITS_FOR_PASS, Reason.REENTRY, Reason.OFF_SHIFT})
"""Causes that lie in the nature of the work: named only where nothing scarcer stands alone."""


@dataclass(frozen=True)
class Verdict:
    """The cause, further causes where none stands alone, and where it was seen (a quarter hour, or None)."""

    reason: Reason
    together: tuple[Reason, ...] = ()
    quarter: int | None = None
    detail: str = ""
    after: str = ""


def left_out_rows(room: Room, undone: list[tuple[int, float, float]]) -> tuple[LeftOut, ...]:
    """Return what is in neither blocks nor weeks, dearest first.

    Parameters
    ----------
    undone : list of (job, area [ha], loss)
    """
    names = Names(room.situation.farm)
    out = []
    for job, area, loss in _jobs_undone(room.compiled, room.outlook, undone):
        verdict = judge(room, job, area)
        out.append(
            LeftOut(
                field=job.field.id, pass_id=job.spec.id, area_ha=area, reason=verdict.reason.value,
                text=_sentence(room, job, area, verdict, names), loss=loss, after=verdict.after,
            )
        )  # fmt: skip
    return _dearest_first(out)


def rows_alone(
    compiled: Compiled, outlook: Outlook, undone: list[tuple[int, float, float]]
) -> tuple[LeftOut, ...]:
    """Return the same rows with nothing said of why."""
    rows = _jobs_undone(compiled, outlook, undone)
    return _dearest_first(
        [
            LeftOut(field=job.field.id, pass_id=job.spec.id, area_ha=area, reason="", text="", loss=loss)
            for job, area, loss in rows
        ]
    )


def _jobs_undone(
    compiled: Compiled, outlook: Outlook, undone: list[tuple[int, float, float]]
) -> list[tuple[Job, float, float]]:
    rows = [(compiled.jobs[k], area, loss) for k, area, loss in undone]
    for job in compiled.left_aside:
        loss = drop_cost(outlook.windows.get(job.key), job) / CENTS
        rows.append((job, round(job.left_ha, HA_DIGITS), round(loss, 2)))
    return rows


def _dearest_first(rows: list[LeftOut]) -> tuple[LeftOut, ...]:
    return tuple(sorted(rows, key=lambda row: (-row.loss, row.field, row.pass_id)))


def judge(room: Room, job: Job, area_ha: float) -> Verdict:
    """Return why (some of) a job is left out."""
    waiting = _waits_for_left_out(room, job)
    if waiting is not None:
        return Verdict(Reason.WAITS_FOR_PASS, detail=waiting[1], after=waiting[0])
    structural = _structural(room, job)
    if structural is not None:
        return structural
    answers: list[Refusals] = []
    for option in job.options:
        quarters, chunk = _smallest(room, job, option, area_ha)
        answers += room.refusals(job, option, quarters, chunk, _people(room, job, option))
    verdict = _verdict(room, answers)
    if (
        verdict.reason is Reason.PRICE
        and verdict.quarter is not None
        and _worth_it(room, job, area_ha, verdict.quarter)
    ):
        return replace(verdict, detail="the search did not use it; more thinking time may")
    return verdict


def _worth_it(room: Room, job: Job, area_ha: float, quarter: int) -> bool:
    """Return whether the smallest block at a free quarter hour would save more loss than it costs."""
    task = room.compiled.problem.tasks[room.task_of[job.key]]
    quarters, chunk = _smallest(room, job, job.options[0], area_ha)
    share = chunk / job.left_ha
    wage = max(person.wage_per_h * person.overtime_factor for person in room.situation.farm.operators)
    cost = share * min(mode.cost for mode in task.modes) + quarters * wage * CENTS / 4.0
    cost += share * task.end_curve.at(quarter + quarters) if task.end_curve is not None else 0.0
    return cost < share * task.drop_cost


def _smallest(room: Room, job: Job, option: RigOption, area_ha: float) -> tuple[int, float]:
    """Return quarters and area of the smallest block worth a trip."""
    farm = room.situation.farm
    whole = max(option.minutes * area_ha / job.left_ha, 1.0)
    work = min(whole, farm.plan.block_minutes_least)
    return max(1, quarters_up(work + option.setup_minutes)), area_ha * work / whole


def _people(room: Room, job: Job, option: RigOption) -> Iterable[Operator]:
    """Return who comes into question: the skilled and licensed, else the skilled, else everybody."""
    everybody = room.situation.farm.operators
    able = [p for p in everybody if skilled(p, job.spec.operations, option.rig)]
    wanted = licences_for(room.situation.farm, job.spec)
    first = room.compiled.grid.horizon.first_day
    licensed = [p for p in able if all(p.holds(name, first) for name in wanted)]
    return licensed or able or everybody


def _structural(room: Room, job: Job) -> Verdict | None:
    """Return a cause that holds whatever the time: no rig, wrong lines, nobody with skill or licence."""
    farm = room.situation.farm
    if not job.options:
        if job.wrong_lines:
            return Verdict(Reason.LINES, detail=listed(job.wrong_lines))
        doing = [rig for rig in rigs_of(farm) if rig.does(job.spec.operations)]
        if doing and not any(reaches(farm, rig, job.field) for rig in doing):
            return Verdict(Reason.NO_RIG, detail="no road to it is wide enough for one that does this work")
        return Verdict(Reason.UNKNOWN_WEATHER if doing else Reason.NO_RIG)
    able = [p for p in farm.operators if any(skilled(p, job.spec.operations, o.rig) for o in job.options)]
    if not able:
        return Verdict(Reason.NO_OPERATOR)
    wanted = licences_for(farm, job.spec)
    first = room.compiled.grid.horizon.first_day
    if not any(all(p.holds(name, first) for name in wanted) for p in able):
        return Verdict(Reason.LICENCE, detail=listed(wanted))
    return None


def _waits_for_left_out(room: Room, job: Job) -> tuple[str, str] | None:
    """Return the pass that must come first and is not wholly in the blocks, and how that is said; None when there is none."""
    names = Names(room.situation.farm)
    for tie in room.ties[job.field.id]:
        if tie.after != job.spec.id or tie.loose or finished(room.situation, tie.field_id, tie.before):
            continue
        head = names.job(job.field.id, tie.before)
        k = room.task_of.get((tie.field_id, tie.before))
        if k is None:
            return tie.before, f"{head}, which is left out"
        size = room.compiled.problem.tasks[k].size
        placed = sum(b.amount for b in room.core.blocks if b.task == k)
        weeks = [x for x in room.core.later if x.task == k]
        if placed + sum(x.amount for x in weeks) < size:
            return tie.before, f"{head}, which is not wholly planned"
        if placed < size:
            first, _ = week_span(room.compiled.grid, max(x.bucket for x in weeks))
            return tie.before, f"{head}, which is left to the week of {day_text(first)}"
    return None


def _verdict(room: Room, answers: list[Refusals]) -> Verdict:
    alone: Counter[Reason] = Counter()
    seen: dict[Reason, int] = {}
    fewest: tuple[int, int, Refusals] | None = None
    for answer in answers:
        count = answer.count()
        count[: room.now] = 99
        free = np.flatnonzero(count == 0)
        if len(free):
            return Verdict(Reason.PRICE, quarter=int(free[0]))
        for cause, refused in answer.flags.items():
            slots = np.flatnonzero(refused & (count == 1))
            if not len(slots):
                continue
            named, times = _by_outlook(answer, slots) if cause is Reason.NO_FIT_HOURS else (cause, len(slots))
            alone[named] += times
            seen.setdefault(named, int(slots[0]))
        least = int(count.min())
        if fewest is None or least < fewest[0]:
            fewest = (least, int(np.argmin(count)), answer)
    if alone:
        top = max(alone, key=lambda cause: (cause not in ORDERLY, alone[cause], -REASONS.index(cause)))
        return Verdict(top, quarter=seen[top])
    if fewest is None:
        return Verdict(Reason.NO_RIG)
    causes = fewest[2].at(fewest[1])
    return Verdict(causes[0], tuple(causes), fewest[1])


def _by_outlook(answer: Refusals, slots: np.ndarray) -> tuple[Reason, int]:  # type: ignore[type-arg]
    """Return the outlook's commonest reason at these starts."""
    tally = Counter(int(reason) for reason in answer.fit_reason[slots])
    return REASONS[tally.most_common(1)[0][0]], len(slots)


def _sentence(room: Room, job: Job, area_ha: float, verdict: Verdict, names: Names) -> str:
    head = f"{names.job(*job.key)} in {names.field(job.field.id)}, {names.area(area_ha)}: "
    if verdict.together[1:]:
        text = f"no single cause; at best ({room.clock(verdict.quarter or 0)}) " + listed(
            cause.value for cause in verdict.together
        )
        return f"{head}{text}."
    at = "" if verdict.quarter is None else f" (else it could run {room.clock(verdict.quarter)})"
    if verdict.reason is Reason.PRICE:
        where = "" if verdict.quarter is None else f" from {room.clock(verdict.quarter)}"
        why = verdict.detail or "but doing it costs more than leaving it, by the prices given"
        return f"{head}there would be room{where}, {why}."
    if verdict.reason is Reason.WAITS_FOR_PASS and verdict.detail:
        said = names.job(job.field.id, verdict.detail)
        late = "" if ", which " in said else ", which is not wholly planned by then"
        return f"{head}waits for {said}{late}."
    if verdict.reason is Reason.LINES:
        return f"{head}guidance lines or widths do not match the partner pass ({verdict.detail})."
    if verdict.reason is Reason.LICENCE and verdict.detail:
        return f"{head}nobody with the skill holds a valid licence ({verdict.detail})."
    if verdict.reason is Reason.NO_RIG and verdict.detail:
        return f"{head}{verdict.detail}."
    return f"{head}{verdict.reason.value}{at}."
