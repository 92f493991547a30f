"""What the engine gives back: a plan over the core problem, its value, its bound, and how it came about."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class Status(StrEnum):
    """How much is known about the plan."""

    OPTIMAL = "OPTIMAL"
    FEASIBLE = "FEASIBLE"
    INFEASIBLE = "INFEASIBLE"
    UNKNOWN = "UNKNOWN"


@dataclass(frozen=True, order=True)
class Block:
    """`amount` of `task`, done in `mode` from `start` to `end`; `resources` runs parallel to the mode's needs."""

    start: int
    end: int
    task: int
    mode: int
    amount: int
    resources: tuple[int, ...] = ()


@dataclass(frozen=True)
class Later:
    """`amount` of `task`, left to a bucket behind the exact horizon."""

    task: int
    mode: int
    bucket: int
    amount: int


@dataclass(frozen=True)
class CorePlan:
    """Blocks, and what is left for later; whatever is in neither is undone."""

    blocks: tuple[Block, ...] = ()
    later: tuple[Later, ...] = ()


@dataclass(frozen=True)
class Violation:
    """One broken rule: its name (window, calendar, overlap, ...), the tasks in it, and a sentence."""

    rule: str
    tasks: tuple[int, ...]
    text: str


@dataclass(frozen=True)
class Evaluation:
    """Cost by part (start, end, drop, mode, move, hours, risk, change, makespan) and every broken rule."""

    parts: Mapping[str, float]
    violations: tuple[Violation, ...]

    @property
    def value(self) -> float:
        """Sum of the parts."""
        return float(sum(self.parts.values()))


@dataclass(frozen=True)
class Limits:
    """How long and how hard to think.

    Attributes
    ----------
    seconds : float
        Wall time for the whole call; kept within 0.3 s. With `deterministic` the effort is counted and the clock only
        guards, at six times this and not before half a minute.
    workers : int
        Processes or threads at most.
    seed : int
        For every random choice.
    deterministic : bool
        Same input, same plan: one worker, counted effort instead of wall time.
    bound : bool
        Whether to work on a bound too (farm-shaped problems); without, only that of single tasks is given.
    """

    seconds: float = 10.0
    workers: int = 2
    seed: int = 0
    deterministic: bool = False
    bound: bool = True


@dataclass(frozen=True)
class Progress:
    """One line of the story while the engine thinks."""

    elapsed_s: float
    step: str
    value: float
    bound: float
    left_s: float


ProgressSink = Callable[[Progress], None]


@dataclass(frozen=True)
class Result:
    """The best plan found.

    Attributes
    ----------
    status : Status
    plan : CorePlan
        Empty when the status is INFEASIBLE or UNKNOWN.
    value : float
        Recomputed by `evaluate`, never the solver's own figure.
    bound : float
        Proven lower bound of the true problem.
    first_value : float
        Value of the dispatch rule, the baseline; the plan's own value where time was too short for the rule.
    story : tuple of Progress
        How value and bound moved.
    wall_s : float
    """

    status: Status
    plan: CorePlan
    value: float
    bound: float
    first_value: float
    story: tuple[Progress, ...] = field(default_factory=tuple)
    wall_s: float = 0.0

    @property
    def gap(self) -> float:
        """Share of the value that is not proven: 0 is proven best."""
        if self.value <= self.bound:
            return 0.0
        return (self.value - self.bound) / max(abs(self.value), 1e-9)
