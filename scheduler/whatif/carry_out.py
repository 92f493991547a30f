"""A day of a plan carried out in the weather that really came: what got done, and who spent which hours.

Rule (an assumption of this project, kept simple on purpose): a block runs in those of its quarter hours in which the
ground and the weather are truly fit; the others are lost, but paid. What must come first in the field and did not get
done keeps the block from starting. Nobody works longer than planned, and nobody moves on early: the next morning's
plan mends it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from scheduler.planning.plan import Plan, PlanBlock

QUARTER = timedelta(minutes=15)
WHOLE = 0.995
"""Share from which a block counts as done: reports round too."""

TrulyFit = Mapping[str, NDArray[np.bool_]]
"""Block id -> whether each hour from `start_utc` on is truly fit for its pass and rig."""


@dataclass(frozen=True)
class Done:
    """A block after its day."""

    block: PlanBlock
    area_ha: float
    started_at: datetime | None
    ended_at: datetime | None
    lost_h: float

    @property
    def finished(self) -> bool:
        """Whether all of it was done."""
        return self.area_ha >= WHOLE * self.block.area_ha


def carry_out(plan: Plan, day: date, fit: TrulyFit, start_utc: datetime) -> list[Done]:
    """Return what got done of the blocks that start on a day.

    Parameters
    ----------
    fit : mapping
        Truly fit hours by block id, counted from `start_utc`; a block that is not there is never fit.
    """
    out: dict[str, Done] = {}
    today = {block.id for block in plan.of_day(day)}
    for block in plan.of_day(day):
        waits = [name for name in block.waits_for if name in today and name in out]
        if any(not out[name].finished for name in waits):
            out[block.id] = Done(block, 0.0, None, None, _hours(block))
            continue
        out[block.id] = _run(block, fit.get(block.id), start_utc)
    return list(out.values())


def _hours(block: PlanBlock) -> float:
    return (block.end - block.start) / timedelta(hours=1)


def _run(block: PlanBlock, fit: NDArray[np.bool_] | None, start_utc: datetime) -> Done:
    quarters = max(1, round((block.end - block.start) / QUARTER))
    good: list[int] = []
    for k in range(quarters):
        hour = int((block.start + k * QUARTER - start_utc) // timedelta(hours=1))
        if fit is not None and 0 <= hour < len(fit) and bool(fit[hour]):
            good.append(k)
    if not good:
        return Done(block, 0.0, None, None, _hours(block))
    area = block.area_ha * len(good) / quarters
    started, ended = block.start + good[0] * QUARTER, block.start + (good[-1] + 1) * QUARTER
    return Done(block, area, started, ended, (quarters - len(good)) * 0.25)
