"""When blocks may lie, in the interval model: windows of modes, hours of resources, stops at closures."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ortools.sat.python import cp_model

from scheduler.solver.calendar import meet, pauses
from scheduler.solver.interval_money import charge
from scheduler.solver.problem import Mode
from scheduler.solver.resources import Interval

if TYPE_CHECKING:
    from scheduler.solver.interval_model import IntervalModel, Use

Var = Any
MOST_PLACES = 6000


def keep_windows(model: IntervalModel, t: int, mode: Mode, minutes: int, lit: Var) -> None:
    """Blocks lie in one window; where windows differ in risk, a literal says which."""
    if mode.windows is None:
        return
    windows = [w for w in mode.windows if w.end - w.start >= minutes]
    if not windows:
        model.when(model.cp.add_bool_or([]), lit)
        return
    resumable = model.problem.tasks[t].resumable
    if len({w.risk_per_minute for w in windows}) == 1 and not resumable:
        starts = cp_model.Domain.from_intervals([[w.start, w.end - minutes] for w in windows])
        model.when(model.cp.add_linear_expression_in_domain(model.start[t], starts), lit)
        if windows[0].risk_per_minute:
            charge(model, lit, windows[0].risk_per_minute * minutes)
        return
    lits = []
    for w in windows:
        inside = model.cp.new_bool_var("")
        model.when(model.cp.add(model.start[t] >= w.start), inside)
        model.when(model.cp.add(model.end[t] <= w.end), inside)
        charge(model, inside, w.risk_per_minute * minutes)
        lits.append(inside)
        model.recipes.append((inside, ("window", t, mode, w)))
    model.cp.add(sum(lits) == lit)


def keep_hours(model: IntervalModel, t: int, m: int, mode: Mode, minutes: int, lit: Var) -> None:
    """Opening hours of what the mode uses."""
    task = model.problem.tasks[t]
    combos = _crews_with_calendars(model, t, m, mode)
    if task.resumable:
        for lits, spans in combos:
            _pauses(model, t, minutes, [lit, *lits], spans)
        return
    for i, need in enumerate(mode.needs):
        for r in dict.fromkeys(need.any_of):
            spans = model.problem.resources[r].open
            y = model.crew.get((t, m, i, r), lit)
            if spans is None:
                continue
            fits = [[a, b - minutes] for a, b in spans if b - a >= minutes]
            if not fits:
                model.when(model.cp.add_bool_or([]), y)
                continue
            domain = cp_model.Domain.from_intervals(fits)
            model.when(model.cp.add_linear_expression_in_domain(model.start[t], domain), y)


def _crews_with_calendars(model: IntervalModel, t: int, m: int, mode: Mode) -> list[tuple[list[Var], Any]]:
    """Return every choice of resources (as literals) with the hours all of them are open."""
    combos: list[tuple[list[Var], Any]] = [([], None)]
    if not model.problem.tasks[t].resumable:
        return combos
    for i, need in enumerate(mode.needs):
        calendars = {model.problem.resources[r].open for r in need.any_of}
        if len(calendars) == 1:
            combos = [(lits, meet(spans, next(iter(calendars)))) for lits, spans in combos]
            continue
        combos = [
            ([*lits, model.crew[t, m, i, r]], meet(spans, model.problem.resources[r].open))
            for lits, spans in combos
            for r in dict.fromkeys(need.any_of)
        ]
    return combos


def _pauses(
    model: IntervalModel, t: int, minutes: int, lits: list[Var], spans: tuple[Interval, ...] | None
) -> None:
    """The end is the start, the work, and the closures between: constant on pieces of the start."""
    if spans is None or minutes == 0:
        model.when(model.cp.add(model.end[t] == model.start[t] + minutes), *lits)
        return
    pieces = [
        (max(a, int(model.reach.start_least[t])), min(b, int(model.reach.start_most[t])), pause)
        for a, b, pause in pauses(spans, minutes)
    ]
    inside = []
    for a, b, pause in pieces:
        if b < a:
            continue
        piece = model.cp.new_bool_var("")
        inside.append(piece)
        model.when(model.cp.add(model.start[t] >= a), piece)
        model.when(model.cp.add(model.start[t] <= b), piece)
        model.when(model.cp.add(model.end[t] == model.start[t] + minutes + pause), piece)
        model.recipes.append((piece, ("piece", t, tuple(lits), a, b, pause + minutes)))
    model.cp.add(sum(inside) <= 1)
    model.when(model.cp.add_bool_or(inside), *lits)


def pack_hours(model: IntervalModel, r: int, uses: list[Use]) -> None:
    """Say which open stretch of a machine each block lies in, and that each stretch holds only so much work.

    It follows from hours and order, but the solver sees it late: a bin packing that the last end hangs on.
    """
    spans = model.problem.resources[r].open
    if spans is None or any(model.problem.tasks[u.task].resumable for u in uses) or model.problem.pins:
        return
    spans = tuple((a, min(b, model.horizon)) for a, b in spans if a < model.horizon)
    if len(spans) < 2 or len(spans) * len(uses) > MOST_PLACES:
        return
    load: list[list[Any]] = [[] for _ in spans]
    used = [model.cp.new_bool_var("") for _ in spans]
    model.recipes += [(lit, ("used", -1, r, *span)) for lit, span in zip(used, spans, strict=True)]
    for u in uses:
        minutes = model.minutes_of(u)
        places = []
        for k, (a, b) in enumerate(spans):
            if b - a < minutes:
                continue
            here = model.cp.new_bool_var("")
            model.recipes.append((here, ("place", u.task, u.mode, r, a, b)))
            model.when(model.cp.add(model.start[u.task] >= a), here)
            model.when(model.cp.add(model.start[u.task] <= b - minutes), here)
            model.cp.add(here <= used[k])
            load[k].append(minutes * here)
            places.append(here)
        model.cp.add(sum(places) == u.lit)
    for (a, b), lit, work in zip(spans, used, load, strict=True):
        model.cp.add(sum(work) <= b - a)
        if model.last is not None:
            model.when(model.cp.add(model.last >= a + sum(work)), lit)
