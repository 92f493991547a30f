"""What is running out: per field and pass the window with its odds, the area left, and what a day of delay costs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from scheduler.events.presumed import still_presumed
from scheduler.events.situation import FieldPass
from scheduler.planning.costs import loss_at
from scheduler.windows.records import PassWindow
from scheduler.wiring.office import View
from shared.units import show

SOON_DAYS = 5
EVEN = 0.5


@dataclass(frozen=True)
class WindowLine:
    """One pass in one field; `urgency` sorts: money lost per day first, then the closing day."""

    field_id: str
    field: str
    pass_name: str
    stage: str
    left: str
    opens: str
    closes: str
    days_left: int | None
    loss_per_day: float
    planned: str
    finish_pct: int | None
    why: str
    state: str


def rows(view: View) -> list[WindowLine]:
    """Return every pass that is left, what presses most first."""
    out = [
        _line(view, key, window)
        for key, window in view.outlook.windows.items()
        if view.situation.left_ha(*key) > 0.05
    ]
    order = {"closing": 0, "open": 1, "soon": 2, "closed": 3, "later": 4}
    return sorted(out, key=lambda row: (order[row.state], -row.loss_per_day, row.days_left or 999, row.field))


def _line(view: View, key: FieldPass, window: PassWindow) -> WindowLine:
    farm, today = view.situation.farm, view.outlook.first_day
    field, spec, seen = farm.field_by_id[key[0]], farm.spec(*key), view.outlook.fields.get(key[0])
    left = view.situation.left_ha(*key)
    days_left = None if window.closes is None else (window.closes - today).days
    # Half of a pass costs half as much when it is late.
    share = left / field.area_ha
    loss = max(0.0, loss_at(window, today + timedelta(days=1)) - loss_at(window, today)) * share
    why = next(iter(window.reasons), "")
    return WindowLine(
        field.id, field.label, spec.label if spec is not None else key[1], "" if seen is None else seen.stage_now,
        show(left, "area_ha", farm.units, 0), "open" if _is_open(window) else _span(window.opens, window.opens_span), _span(window.closes, window.closes_span),
        days_left, loss, _planned(view, key), _finish(view, key), why, _state(window, days_left),
    )  # fmt: skip


def _span(day: date | None, span: tuple[date, date] | None) -> str:
    if day is None:
        return "no end set"
    if span is None or span[0] == span[1]:
        return f"{day:%d %b}"
    return f"{day:%d %b} ({span[0]:%d}–{span[1]:%d %b})"


def _is_open(window: PassWindow) -> bool:
    """Return whether today lies inside the window, likelier than not."""
    return bool(len(window.allowed_chance)) and float(window.allowed_chance[0]) >= EVEN


def _state(window: PassWindow, days_left: int | None) -> str:
    if days_left is not None and days_left < 0:
        return "closed"
    if _is_open(window):
        return "closing" if days_left is not None and days_left <= SOON_DAYS else "open"
    soon = window.allowed_chance[: SOON_DAYS + 1]
    return "soon" if len(soon) and float(soon.max()) >= EVEN else "later"


def _planned(view: View, key: FieldPass) -> str:
    blocks = [] if view.plan is None else [b for b in view.plan.blocks if (b.field, b.pass_id) == key]
    if not blocks:
        return "not in the plan"
    first, last = min(b.start for b in blocks), max(b.end for b in blocks)
    return f"{first:%a %d %b}" if first.date() == last.date() else f"{first:%a %d}–{last:%a %d %b}"


def _finish(view: View, key: FieldPass) -> int | None:
    """Return the odds that the planned blocks of a pass can all run (as if their hours were one draw)."""
    blocks = [] if view.plan is None else [b for b in view.plan.blocks if (b.field, b.pass_id) == key]
    if not blocks or view.plan is None:
        return None
    presumed = still_presumed(view.plan.presumed, view.situation)
    ahead = sum(b.area_ha for b in blocks) + sum(p.area_ha for p in presumed if (p.field, p.pass_id) == key)
    if ahead < 0.98 * view.situation.left_ha(*key):
        return None
    return round(100 * float(np.min([b.chance for b in blocks])))
