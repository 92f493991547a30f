"""Whether a problem says something that makes sense, before anybody tries to solve it.

Question answered: *is every index, length, window, curve and matrix of this problem sound?* The first fault is
raised as one sentence. What is sound but cannot be kept (clashing pins, no capacity) is not a fault: that is
for the search to prove, and for `clash` to explain.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from scheduler.solver.problem import Curve, Lag, Mode, Pin, Problem, Task
from scheduler.solver.resources import HoursLimit, Interval, Moves, Resource
from shared.errors import FitgroundError


class ProblemError(FitgroundError):
    """The problem contradicts itself or points at something that is not there."""

    exit_code = 2


def validate(problem: Problem) -> None:
    """Raise `ProblemError` with one sentence for the first thing that makes no sense."""
    if problem.horizon < 0:
        raise ProblemError(f"horizon: {problem.horizon} is below 0; allowed: 0 or more.")
    _spans("days", problem.days)
    for r, res in enumerate(problem.resources):
        _resource(f"resources[{r}] ({res.name})", res, bool(problem.days))
    for t, task in enumerate(problem.tasks):
        _task(f"tasks[{t}] ({task.name})", task, problem)
    for i, lag in enumerate(problem.lags):
        _lag(f"lags[{i}]", lag, problem)
    for i, choice in enumerate(problem.choices):
        given = () if choice.given is None else (choice.given,)
        _indices(f"choices[{i}]", (*given, *choice.one_of), len(problem.tasks), "task")
    for i, pin in enumerate(problem.pins):
        _pin(f"pins[{i}]", pin, problem)
    for i, bucket in enumerate(problem.buckets):
        _spans(f"buckets[{i}]", ((bucket.start, bucket.end),))
        _indices(f"buckets[{i}]", tuple(bucket.capacity), len(problem.resources), "resource")
    for i, pin in enumerate(problem.before.blocks):
        _indices(f"before.blocks[{i}]", (pin.task,), len(problem.tasks), "task")


def _indices(where: str, values: Sequence[int], count: int, what: str) -> None:
    for value in values:
        if not 0 <= value < count:
            raise ProblemError(f"{where}: there is no {what} {value}; allowed: 0 to {count - 1}.")


def _spans(where: str, spans: Sequence[Interval]) -> None:
    for a, b in spans:
        if b < a:
            raise ProblemError(f"{where}: the stretch from {a} to {b} ends before it begins.")
    for (_, b), (c, d) in pairwise(spans):
        if c < b:
            raise ProblemError(
                f"{where}: the stretch from {c} to {d} begins before the one before it ends ({b})."
            )


def _resource(where: str, res: Resource, has_days: bool) -> None:
    if res.capacity < 0:
        raise ProblemError(f"{where}: capacity {res.capacity} is below 0; allowed: 0 or more.")
    if res.handover < 0:
        raise ProblemError(f"{where}: a change of partner costs {res.handover}; allowed: 0 or more.")
    if not res.cumulative and res.capacity > 1:
        raise ProblemError(f"{where}: capacity {res.capacity} of a unary resource; allowed: 0 or 1.")
    _spans(f"{where}.open", res.open or ())
    if res.moves is not None:
        if res.cumulative:
            raise ProblemError(f"{where}: moves need an order, and a cumulative resource has none.")
        _moves(where, res.moves, has_days)
    if res.hours is not None:
        _hours(where, res.hours, has_days)


def _hours(where: str, hours: HoursLimit, has_days: bool) -> None:
    if not has_days:
        raise ProblemError(f"{where}: hours are counted by day, and the problem has no days.")
    if min(hours.normal_per_day, hours.most_per_day, hours.most_per_week) < 0:
        raise ProblemError(f"{where}: hours below 0.")
    if hours.overtime_per_minute < hours.cost_per_minute:
        raise ProblemError(
            f"{where}: a minute of overtime costs {hours.overtime_per_minute}, less than a normal one"
            f" ({hours.cost_per_minute})."
        )


def _moves(where: str, moves: Moves, has_days: bool) -> None:
    if moves.home_daily and not has_days:
        raise ProblemError(f"{where}: goes home daily, and the problem has no days.")
    sites = moves.minutes.shape[0]
    square: tuple[tuple[str, NDArray[np.int64] | None], ...] = (
        ("moves.minutes", moves.minutes),
        ("moves.change", moves.change),
    )
    for name, array in square:
        if array is not None and (array.ndim != 2 or array.shape[0] != array.shape[1]):
            raise ProblemError(f"{where}.{name}: is not square but {array.shape}.")
        if array is not None and array.size and int(array.min()) < 0:
            raise ProblemError(f"{where}.{name}: {int(array.min())} is below 0; allowed: 0 or more.")
    if moves.on_the_way is not None and (
        moves.change is None or moves.on_the_way.shape != moves.change.shape
    ):
        raise ProblemError(f"{where}.moves.on_the_way: needs a yes or no for each of its changes.")
    for name, row in (("initial", moves.initial), ("final", moves.final)):
        if row is not None and (row.shape != (sites,) or (row.size and int(row.min()) < 0)):
            raise ProblemError(
                f"{where}.moves.{name}: needs one number of 0 or more for each of {sites} sites."
            )
    if moves.depot is not None:
        _indices(f"{where}.moves.depot", (moves.depot,), sites, "site")


def _task(where: str, task: Task, problem: Problem) -> None:
    if task.size < 1:
        raise ProblemError(f"{where}: size {task.size}; allowed: 1 or more.")
    if task.min_chunk is not None and task.min_chunk < 1:
        raise ProblemError(f"{where}: smallest piece {task.min_chunk}; allowed: 1 or more.")
    if task.resumable and task.min_chunk is not None:
        raise ProblemError(f"{where}: may stop at closures and may be split; allowed: one of both.")
    for name, curve in (("start_curve", task.start_curve), ("end_curve", task.end_curve)):
        if curve is not None:
            _curve(f"{where}.{name}", curve)
    for m, mode in enumerate(task.modes):
        _mode(f"{where}.modes[{m}]", mode, problem)


def _mode(where: str, mode: Mode, problem: Problem) -> None:
    if mode.minutes < 0 or mode.fixed_minutes < 0:
        raise ProblemError(f"{where}: lasts {mode.minutes} + {mode.fixed_minutes}; allowed: 0 or more.")
    for window in mode.windows or ():
        if window.end < window.start:
            raise ProblemError(f"{where}: a window closes at {window.end} before it opens at {window.start}.")
    for need in mode.needs:
        if not need.any_of or need.amount < 0:
            raise ProblemError(f"{where}: a need names no resource, or less than nothing of one.")
        _indices(where, need.any_of, len(problem.resources), "resource")
        for r in need.any_of:
            _place(f"{where} on {problem.resources[r].name}", mode, problem.resources[r].moves)
    if not (-1 <= mode.lead < len(mode.needs) and -1 <= mode.led < len(mode.needs)):
        raise ProblemError(
            f"{where}: lead {mode.lead} or led {mode.led} is none of its {len(mode.needs)} needs."
        )
    if 0 <= mode.lead < mode.led:
        raise ProblemError(f"{where}: what is led stands before what leads it in the needs.")
    _indices(f"{where}.consumes", tuple(mode.consumes), len(problem.stocks), "stock")
    for stock, amount in mode.consumes.items():
        if amount < 0:
            raise ProblemError(
                f"{where}: takes {amount} of {problem.stocks[stock].name}; allowed: 0 or more."
            )


def _place(where: str, mode: Mode, moves: Moves | None) -> None:
    if moves is None:
        return
    if mode.site >= moves.minutes.shape[0]:
        raise ProblemError(
            f"{where}: site {mode.site} is not among the {moves.minutes.shape[0]} of its moves."
        )
    if moves.change is not None and not -1 <= mode.family < moves.change.shape[0]:
        raise ProblemError(
            f"{where}: family {mode.family} is not among the {moves.change.shape[0]} of its moves."
        )


def _curve(where: str, curve: Curve) -> None:
    if not curve.points:
        raise ProblemError(f"{where}: has no point.")
    slopes = [curve.slope_before]
    for (a, x), (b, y) in pairwise(curve.points):
        if b <= a:
            raise ProblemError(f"{where}: the time {b} does not rise above {a}.")
        slopes.append((y - x) / (b - a))
    slopes.append(curve.slope_after)
    for one, two in pairwise(slopes):
        if two < one - 1e-9 * max(1.0, abs(one)):
            raise ProblemError(
                f"{where}: the slope falls from {one:g} to {two:g}; allowed: slopes that never fall."
            )


def _lag(where: str, lag: Lag, problem: Problem) -> None:
    _indices(where, (lag.before, lag.after), len(problem.tasks), "task")
    if lag.least is not None and lag.most is not None and lag.most < lag.least:
        raise ProblemError(f"{where}: at most {lag.most} is less than at least {lag.least}.")


def _pin(where: str, pin: Pin, problem: Problem) -> None:
    _indices(where, (pin.task,), len(problem.tasks), "task")
    task = problem.tasks[pin.task]
    _indices(where, (pin.mode,), len(task.modes), "mode")
    _indices(where, pin.resources, len(problem.resources), "resource")
    if pin.resources and len(pin.resources) != len(task.modes[pin.mode].needs):
        raise ProblemError(
            f"{where} ({task.name}): names {len(pin.resources)} resources; its mode needs others."
        )
    if pin.end < pin.start:
        raise ProblemError(f"{where} ({task.name}): ends at {pin.end} before it starts at {pin.start}.")
    if not 1 <= pin.amount <= task.size:
        raise ProblemError(f"{where} ({task.name}): amount {pin.amount}; allowed: 1 to {task.size}.")
