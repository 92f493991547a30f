"""The scheduling problem, free of farms: tasks, modes, resources, calendars, stocks, lags, costs.

Question answered: *what has to be placed, on what, when, and what does a placement cost?* All times and costs
are integers (farm use: minutes since the horizon's first midnight, and cents). Tasks, modes, resources, sites,
families and stocks are referred to by their index.

Meaning of a placement (`plan.Block`)
- A block places `amount` of a task (out of `Task.size`) in one mode on named resources from `start` to `end`,
  with ``end - start = Mode.minutes_for(amount, size)``. A task without `min_chunk` is placed whole, in one block.
- A block lies inside one window of its mode and inside one open interval of every resource it uses. A
  `resumable` task instead stops at closures of its resources and goes on after them (its end moves out).
- Two blocks on one unary resource do not overlap and leave at least `Moves.gap` between them.
- With `Problem.days`, a block lies inside one day, and a day of a resource starts and ends at its depot when
  ``Moves.home_daily``: first start >= opening + minutes[depot, site], last end + minutes[site, depot] <= closing.
- A task's cost is ``share * curve(end)`` per block (share = amount / size), so each part loses by its own date.
- `Bucket`s hold work beyond the exact horizon without order: only capacity counts (`plan.Later`).
- Amount that is neither in blocks nor in buckets costs ``share * Task.drop_cost`` and is only allowed for
  `optional` tasks. A task counts as done for lags when its whole size is placed (blocks or buckets).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from scheduler.solver.resources import FAR, Bucket, Interval, Resource, Stock


class LagKind(StrEnum):
    """Which ends of two tasks a lag ties: first letter of `before`, second of `after`; s start, e end."""

    END_START = "es"
    START_START = "ss"
    START_END = "se"
    END_END = "ee"


@dataclass(frozen=True)
class Curve:
    """Convex piecewise-linear cost of a time: ``max(0, ...)`` is not implied, the points say it all.

    Attributes
    ----------
    points : tuple of (time, cost)
        Break points with rising times; linear between, constant slope `slope_before` before the first and
        `slope_after` behind the last (cost per time unit).
    """

    points: tuple[tuple[int, int], ...] = ((0, 0),)
    slope_before: float = 0.0
    slope_after: float = 0.0

    def at(self, time: int) -> float:
        """Return the cost at `time`."""
        first, last = self.points[0], self.points[-1]
        if time <= first[0]:
            return first[1] + self.slope_before * (time - first[0])
        if time >= last[0]:
            return last[1] + self.slope_after * (time - last[0])
        times, costs = zip(*self.points, strict=True)
        return float(np.interp(time, times, costs))


@dataclass(frozen=True)
class Window:
    """Time in which a mode may run; `risk_per_minute` is the expected cost of planning there."""

    start: int
    end: int
    chance: float = 1.0
    risk_per_minute: float = 0.0


@dataclass(frozen=True)
class Need:
    """One resource out of `any_of` (a choice), or `amount` of a cumulative one."""

    any_of: tuple[int, ...]
    amount: int = 1
    role: str = ""


@dataclass(frozen=True)
class Mode:
    """One way of doing a task.

    Attributes
    ----------
    minutes : int
        Time for the whole size of the task.
    needs : tuple of Need
        Resources held from start to end, one choice each, all different.
    windows : tuple of Window or None
        Where blocks may lie; None means anywhere.
    fixed_minutes : int
        Added to every block (unfolding, opening the field).
    site : int
        Where it happens (row of `Moves.minutes`); -1 means nowhere in particular.
    family : int
        Set-up family (the rig); a change of family costs a set-up.
    cost : int
        Cost of doing the whole size in this mode.
    consumes : mapping of stock to amount
        Taken from stocks for the whole size, in proportion at each block's start.
    lead, led : int
        The needs of which one leads the other, such as driver and machine (see `Resource.handover`); -1: none.
    """

    minutes: int
    needs: tuple[Need, ...]
    windows: tuple[Window, ...] | None = None
    fixed_minutes: int = 0
    site: int = -1
    family: int = -1
    cost: int = 0
    consumes: Mapping[int, int] = field(default_factory=dict)
    name: str = ""
    lead: int = -1
    led: int = -1

    def minutes_for(self, amount: int, size: int) -> int:
        """Return how long `amount` of `size` takes, set-up included; rounded up."""
        return self.fixed_minutes + -(-self.minutes * amount // size)


@dataclass(frozen=True)
class Task:
    """One piece of work.

    Attributes
    ----------
    size : int
        Amount of work; blocks carry whole units of it.
    release, latest_start, latest_end : int
        Hard bounds on every block.
    start_curve, end_curve : Curve or None
        Cost of the start (early and late, about a target) and of the end (late, after a due time).
    optional, drop_cost
        Whether it may stay undone, and what the whole size undone costs.
    resumable : bool
        May stop at closures of its resources and go on after them.
    min_chunk : int or None
        Smallest amount of a block when the task may be split; None: never split. The last rest may be smaller.
    later : bool
        May be put into the buckets behind the exact horizon.
    """

    name: str
    modes: tuple[Mode, ...]
    size: int = 1
    release: int = 0
    latest_start: int = FAR
    latest_end: int = FAR
    start_curve: Curve | None = None
    end_curve: Curve | None = None
    optional: bool = False
    drop_cost: int = 0
    resumable: bool = False
    min_chunk: int | None = None
    later: bool = False


@dataclass(frozen=True)
class Lag:
    """``time(after) - time(before)`` is at least `least` and at most `most`; `kind` says which times.

    Holds when both tasks are done; a task whose `before` is not wholly placed may not start, unless the lag is
    `loose` (then what is never done of `before` does not block it; what is placed of it still comes first).
    """

    before: int
    after: int
    kind: LagKind = LagKind.END_START
    least: int | None = 0
    most: int | None = None
    loose: bool = False


@dataclass(frozen=True)
class Choice:
    """If task `given` is done (always, when None) then at least one of `one_of` is."""

    given: int | None
    one_of: tuple[int, ...]


@dataclass(frozen=True)
class Pin:
    """A block that stands: work under way, or somebody's word. Resources empty means free to choose."""

    task: int
    mode: int
    start: int
    end: int
    amount: int
    resources: tuple[int, ...] = ()


@dataclass(frozen=True)
class Before:
    """The plan that people already know: (task, mode, start, resources), and the price of moving from it.

    `price` is per task: cost when none of its blocks keeps day and resources of the earlier plan.
    """

    blocks: tuple[Pin, ...] = ()
    price: Mapping[int, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Problem:
    """Everything the engine knows. Objective: sum of all costs + `makespan_weight` * latest end."""

    tasks: tuple[Task, ...]
    resources: tuple[Resource, ...]
    horizon: int
    lags: tuple[Lag, ...] = ()
    stocks: tuple[Stock, ...] = ()
    choices: tuple[Choice, ...] = ()
    days: tuple[Interval, ...] = ()
    buckets: tuple[Bucket, ...] = ()
    pins: tuple[Pin, ...] = ()
    before: Before = field(default_factory=Before)
    makespan_weight: int = 0
