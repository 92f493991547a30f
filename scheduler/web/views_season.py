"""Season: area done of each pass by day, what the plan has ahead with its odds, and fit days used and missed."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import accumulate
from zoneinfo import ZoneInfo

import numpy as np

from scheduler.events.kinds import PassProgressed
from scheduler.web.charts import Curve, curve
from scheduler.windows.records import Outlook
from scheduler.wiring.office import View
from shared.units import show

BACK_DAYS = 14
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
    situation, farm = view.situation, view.situation.farm
    fields = [
        field
        for field, other in situation.passes
        if other == pass_id and not situation.passes[(field, other)].cancelled
    ]
    total = sum(farm.field_by_id[field].area_ha for field in fields)
    left = sum(situation.left_ha(field, pass_id) for field in fields)
    if total <= 0:
        return None
    today, ahead = view.outlook.first_day, view.outlook.days
    told = _told(view, pass_id)
    first = min([today - timedelta(days=BACK_DAYS), *told], default=today)
    back = [first + timedelta(days=k) for k in range((today - first).days + 1)]
    before = max(0.0, total - left - sum(told.values()))
    done = [before + v for v in accumulate(told.get(day, 0.0) for day in back)]
    done[-1] = total - left
    planned, sure = _planned(view, pass_id)
    days = [today + timedelta(days=k) for k in range(ahead + 1)]
    plan = [done[-1] + v for v in accumulate([0.0, *(planned.get(day, 0.0) for day in days[:-1])])]
    likely = [done[-1] + v for v in accumulate([0.0, *(sure.get(day, 0.0) for day in days[:-1])])]
    labels = [f"{day:%d %b}" for day in (*back, *days[1:])]
    ends = max((b.end for b in view.plan.blocks if b.pass_id == pass_id), default=None) if view.plan else None
    whole = view.plan is not None and plan[-1] >= 0.995 * total
    text = (
        "all done"
        if left < 0.05
        else f"planned to end {ends:%a %d %b}"
        if ends is not None and whole
        else "not all of it in these days"
    )
    return PassLine(
        farm.pass_label(pass_id), show(total - left, "area_ha", farm.units, 0), show(total, "area_ha", farm.units, 0),
        round(100 * (total - left) / total), text, sum(_fit_days(view.outlook, pass_id)), len(planned), len(told), _missed(back_view, pass_id, told),
        curve(labels, done, likely, plan, len(back) - 1, total, show(total, "area_ha", farm.units, 0)),
    )  # fmt: skip


def _told(view: View, pass_id: str) -> dict[date, float]:
    """Return the area reported by local day [ha]."""
    zone, out = ZoneInfo(view.outlook.time_zone), defaultdict[date, float](float)
    for event in view.state.facts.values():
        if (
            isinstance(event.body, PassProgressed)
            and event.body.pass_id == pass_id
            and event.happened_at <= view.made_at
        ):
            out[event.happened_at.astimezone(zone).date()] += event.body.area_ha
    return dict(out)


def _planned(view: View, pass_id: str) -> tuple[dict[date, float], dict[date, float]]:
    """Return the planned area by day, whole and weighted by its odds [ha]."""
    planned, sure = defaultdict[date, float](float), defaultdict[date, float](float)
    for block in () if view.plan is None else view.plan.blocks:
        if block.pass_id == pass_id and block.end > view.made_at:
            planned[block.start.date()] += block.area_ha
            sure[block.start.date()] += block.area_ha * block.chance
    return dict(planned), dict(sure)


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
