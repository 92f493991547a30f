"""A day of a plan carried out in the weather that really came: what got done, and who spent which hours.

Rule (an assumption of this project, kept simple on purpose): a block runs in those of its quarter hours in which the
ground and the weather are truly fit; the others are lost, but paid. What must come first in the field and did not get
done keeps the block from starting. Nobody works longer than planned; a block that was given more time than its work
takes ends early, and its people are paid no longer, but nobody moves on early: the next plan mends it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import ceil

import numpy as np
from numpy.typing import NDArray

from scheduler.events.situation import Situation
from scheduler.farm.rig import pace, rigs_of
from scheduler.planning.jobs import rate_factor
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.planning.quarters import quarters_up

QUARTER = timedelta(minutes=15)
WHOLE = 0.995
"""Share from which a block counts as done: reports round too."""

TrulyFit = Mapping[str, NDArray[np.bool_]]
"""Block id -> whether each hour from `start_utc` on is truly fit for its pass and rig."""


@dataclass(frozen=True)
class Done:
    """A block after its day: hours lost to unfit ground, and hours to spare since the work was done."""

    block: PlanBlock
    area_ha: float
    started_at: datetime | None
    ended_at: datetime | None
    lost_h: float
    spare_h: float = 0.0

    @property
    def finished(self) -> bool:
        """Whether all of it was done."""
        return self.area_ha >= WHOLE * self.block.area_ha


def carry_out(
    plan: Plan, day: date, fit: TrulyFit, start_utc: datetime, minutes: Mapping[str, float] | None = None,
    until: datetime | None = None, slower: float = 1.0,
) -> list[Done]:  # fmt: skip
    """Return what got done of the blocks that start on a day, up to a time where one is given: cut there.

    Parameters
    ----------
    fit : mapping
        Truly fit hours by block id, counted from `start_utc`; a block that is not there is never fit.
    minutes : mapping, optional
        Minutes of work by block id on fit ground; without it a block's whole time.
    slower : float
        How much longer machines truly take than that.
    """
    out: dict[str, Done] = {}
    blocks = [block for block in plan.of_day(day) if until is None or block.start < until]
    today = {block.id for block in blocks}
    for block in blocks:
        waits = [name for name in block.waits_for if name in today and name in out]
        if any(not out[name].finished for name in waits):
            out[block.id] = Done(_cut(block, until), 0.0, None, None, _hours(_cut(block, until)))
            continue
        needed = None if minutes is None else minutes.get(block.id)
        longer = 1.0 if block.rig is None else slower
        out[block.id] = _run(block, fit.get(block.id), start_utc, needed, until, longer)
    return list(out.values())


def _hours(block: PlanBlock) -> float:
    return (block.end - block.start) / timedelta(hours=1)


def _cut(block: PlanBlock, until: datetime | None) -> PlanBlock:
    """Return a block up to a time; its area is that of the whole."""
    return block if until is None or block.end <= until else block.model_copy(update={"end": until})


def _run(
    block: PlanBlock, fit: NDArray[np.bool_] | None, start_utc: datetime, minutes: float | None, until: datetime | None,
    slower: float,
) -> Done:  # fmt: skip
    quarters = max(1, round((block.end - block.start) / QUARTER))
    needed = quarters if minutes is None else min(quarters, max(1, quarters_up(minutes)))
    needed = ceil(needed * slower - 1e-9)
    good: list[int] = []
    block = _cut(block, until)
    quarters = max(1, round((block.end - block.start) / QUARTER))
    for k in range(quarters):
        hour = int((block.start + k * QUARTER - start_utc) // timedelta(hours=1))
        if len(good) < needed and fit is not None and 0 <= hour < len(fit) and bool(fit[hour]):
            good.append(k)
    if not good:
        return Done(block, 0.0, None, None, _hours(block))
    area = block.area_ha * len(good) / needed
    started, ended = block.start + good[0] * QUARTER, block.start + (good[-1] + 1) * QUARTER
    spare = quarters - good[-1] - 1 if len(good) == needed else 0
    return Done(block, area, started, ended, (quarters - spare - len(good)) * 0.25, spare * 0.25)


def work_minutes(block: PlanBlock, situation: Situation) -> float:
    """Return the minutes of work that a block holds on fit ground, set-up included."""
    farm = situation.farm
    spec = farm.spec(block.field, block.pass_id)
    rig = next((rig for rig in rigs_of(farm) if rig.id == block.rig), None)
    if spec is None or (rig is None and block.rig is not None):
        return _hours(block) * 60.0
    setup = 0.0 if block.under_way else spec.foot_minutes if rig is None else rig.worker.setup_minutes
    factor = rate_factor(situation, block.field, spec)
    return setup + pace(farm, rig, spec, farm.field_by_id[block.field], factor).minutes(block.area_ha)
