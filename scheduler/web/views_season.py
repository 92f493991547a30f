"""Season: area done of each pass by day, what the plan has ahead with its odds, and fit days used and missed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from scheduler.crew.pictures import area_planned, area_told, progress
from scheduler.web.charts import Curve, curve
from scheduler.windows.records import Outlook
from scheduler.wiring.office import View
from shared.units import show

EVEN = 0.5
FIT_HOURS = 4.0
"""A day with so many hours likelier fit than not counts as a fit day (assumption)."""


@dataclass(frozen=True)
class PassLine:
    """One pass over all fields."""

    name: str
    done: str
    total: str
    done_pct: int
    ends: str
    fit_days: int
    planned_days: int
    used_days: int
    missed_days: int | None
    picture: Curve


def passes(view: View, back: Outlook | None) -> list[PassLine]:
    """Return every pass of the farm that is begun or left, in programme order.

    Parameters
    ----------
    back : Outlook or None
        What the ground would have allowed on the days behind, in the weather that came.
    """
    situation = view.situation
    order = dict.fromkeys(pass_id for _, pass_id in situation.passes)
    return [line for pass_id in order if (line := _line(view, pass_id, back)) is not None]


def _line(view: View, pass_id: str, back_view: Outlook | None) -> PassLine | None:
    situation, farm, outlook = view.situation, view.situation.farm, view.outlook
    found = progress(situation, outlook, view.state, view.plan, pass_id)
    if found is None:
        return None
    total, done = found.total_ha, found.done[-1]
    told = area_told(situation, outlook, view.state, pass_id)
    ends = max((b.end for b in view.plan.blocks if b.pass_id == pass_id), default=None) if view.plan else None
    whole = view.plan is not None and found.plan[-1] >= 0.995 * total
    text = (
        "all done"
        if total - done < 0.05
        else f"planned to end {ends:%a %d %b}"
        if ends is not None and whole
        else "not all of it in these days"
    )
    return PassLine(
        found.name, show(done, "area_ha", farm.units, 0), show(total, "area_ha", farm.units, 0), round(100 * done / total), text,
        sum(_fit_days(outlook, pass_id)), len(area_planned(situation, view.plan, pass_id)[0]), len(told), _missed(back_view, pass_id, told),
        curve([f"{day:%d %b}" for day in found.days], found.done, found.sure, found.plan, len(found.done) - 1, total, show(total, "area_ha", farm.units, 0)),
    )  # fmt: skip


def _missed(back: Outlook | None, pass_id: str, told: dict[date, float]) -> int | None:
    """Return on how many days behind some field was fit for the pass and nobody reported any of it."""
    if back is None:
        return None
    fit = _fit_days(back, pass_id)
    return sum(good and back.first_day + timedelta(days=k) not in told for k, good in enumerate(fit))


def _fit_days(outlook: Outlook, pass_id: str) -> list[bool]:
    """Return for each day whether some field is fit for the pass for some hours, with any rig."""
    best = np.zeros(outlook.days)
    for (_, other), kinds in outlook.fit.items():
        if other != pass_id:
            continue
        for hours in kinds.values():
            row = hours.chance[: 24 * outlook.days]
            good = (row[: 24 * (len(row) // 24)].reshape(-1, 24) >= EVEN).sum(axis=1)
            best[: len(good)] = np.maximum(best[: len(good)], good)
    return [bool(count >= FIT_HOURS) for count in best]
