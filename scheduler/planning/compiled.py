"""The engine's problem and the maps that turn its indices back into fields, passes, rigs and people."""

from __future__ import annotations

from dataclasses import dataclass, field

from scheduler.planning.jobs import Job, RigOption
from scheduler.planning.quarters import Quarters
from scheduler.solver.problem import Problem
from scheduler.solver.result import CorePlan


@dataclass(frozen=True)
class ModeInfo:
    """What a mode stands for; `days` are those on which its people hold their licences."""

    option: RigOption
    roles: tuple[str, ...]
    days: frozenset[int]


@dataclass(frozen=True)
class Compiled:
    """The engine's problem and the maps back.

    Attributes
    ----------
    jobs : tuple of Job
        Parallel to the problem's tasks.
    modes : tuple of tuple of ModeInfo
        Parallel to the tasks' modes.
    names : tuple of str
        Machine and operator ids, parallel to the resources.
    left_aside : tuple of Job
        Jobs that nobody and nothing can do, or that wait for one of these: never in the problem.
    aside_cost : int
        What those cost undone [cents].
    start : CorePlan or None
        The earlier plan in the engine's terms, to begin from.
    lost : tuple of (quarter hour, people)
        When blocks of the earlier plan begin that cannot stand where they are by themselves, or have not begun though it is
        time; and whose they are.
    notes : tuple of str
        Machines whose pace was learned; pins that could not be kept, and why.
    pin_ids, pin_words : tuple of str
        Parallel to the problem's pins: who asked for each, and how a sentence begins that says why it cannot be; empty where
        nobody did.
    """

    problem: Problem
    grid: Quarters
    jobs: tuple[Job, ...]
    modes: tuple[tuple[ModeInfo, ...], ...]
    names: tuple[str, ...]
    left_aside: tuple[Job, ...]
    aside_cost: int
    start: CorePlan | None = None
    lost: tuple[tuple[int, frozenset[str]], ...] = ()
    notes: tuple[str, ...] = ()
    pin_ids: tuple[str, ...] = field(default_factory=tuple)
    pin_words: tuple[str, ...] = field(default_factory=tuple)
