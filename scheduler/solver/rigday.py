"""The road for problems with `days`: rule, repair, large neighbourhoods, bound; one deadline over all of
it.

Question answered: *which plan of rig-days is best, and how good can any plan be?* The dispatch rule
gives a plan at once, an earlier plan is repaired into a second one, and the better of the two is torn
and put back until the deadline. Beside it a relaxation works on the bound. The result is never worse
than what came in, and its value is the evaluator's.
"""

from __future__ import annotations

import math
import threading
import time
from dataclasses import dataclass, field

import numpy as np

from scheduler.solver.bound import Bounder
from scheduler.solver.dispatch import dispatch
from scheduler.solver.evaluate import evaluate
from scheduler.solver.neighbourhoods import anneal
from scheduler.solver.problem import Problem
from scheduler.solver.result import CorePlan, Limits, Progress, ProgressSink, Result, Status
from scheduler.solver.rigday_arrays import Farm, compile_arrays
from scheduler.solver.rigday_book import Calendar
from scheduler.solver.rigday_pack import Work, empty_work, load_plan, read_plan

MARGIN_S = 0.12
SLICE_S = 0.04
HEAT_START, HEAT_END = 0.15, 0.003
COUNTED_ROUNDS = 150_000
WORTH_A_CALL = 0.001
_warm = threading.Event()
_warming = threading.Lock()


@dataclass
class _Best:
    """The best plan so far, and the story."""

    plan: CorePlan
    value: float
    faults: int
    first: float
    given: bool = False
    bound: float = -math.inf
    story: list[Progress] = field(default_factory=list)

    def offer(self, plan: CorePlan, value: float, faults: int, worth: float = 1e-9) -> bool:
        """Take a plan if it breaks fewer rules, or as few and costs less by `worth`."""
        if (faults, value) < (self.faults, self.value - worth):
            self.plan, self.value, self.faults = plan, value, faults
            return True
        return False


def search(
    problem: Problem,
    deadline: float,
    limits: Limits,
    start: CorePlan | None = None,
    progress: ProgressSink | None = None,
) -> Result:
    """Return the best plan found before `deadline`.

    When even the best plan breaks a rule (pins that contradict each other, work that must be done and cannot),
    the status is UNKNOWN and the plan is the one that breaks fewest, so that a caller can say which.

    Parameters
    ----------
    problem : Problem
        With `days`. Where it names a plan that people know (`before`) and that plan is given as a sound
        `start`, it is left only for one that costs at least `WORTH_A_CALL` of the value less.
    deadline : float
        A value of ``time.monotonic``; kept within 0.3 s.
    limits : Limits
        With `deterministic`, effort is counted in rounds and the deadline only guards.
    start : CorePlan, optional
        A plan to start from; repaired when it breaks rules.
    progress : callable, optional
        Gets each line of the story.
    """
    began = time.monotonic()
    calendar = Calendar(problem)
    _start_warming()
    best = _first_plans(problem, calendar, start)
    _tell(best, "dispatch", began, deadline, progress)
    bounder = Bounder(problem, calendar, deadline - MARGIN_S, limits)
    best.bound = bounder.simple()
    threaded = limits.workers > 1 and not limits.deterministic
    if threaded:
        bounder.start()
    if _warm.wait(max(0.0, deadline - MARGIN_S - time.monotonic())):
        _improve(problem, calendar, best, bounder, deadline, limits, began, progress)
    if not threaded:
        bounder.run()
    best.bound = max(best.bound, bounder.finish())
    if best.faults == 0:
        best.bound = min(best.bound, best.value)
    _tell(best, "end", began, deadline, progress)
    return _result(best, began)


def warm_up() -> None:
    """Build the compiled functions (half a minute the first time, then cached on disk)."""
    _start_warming()
    _warm.wait()


def _start_warming() -> None:
    if _warm.is_set() or not _warming.acquire(blocking=False):
        return
    threading.Thread(target=_build).start()


def _build() -> None:
    from scheduler.solver.problem import Mode, Need, Resource, Task

    task = Task("warm", (Mode(10, (Need((0,)),)),), optional=True, drop_cost=1)
    tiny = Problem((task,), (Resource("warm"),), 1440, days=((0, 1440),))
    work = empty_work(compile_arrays(tiny), tiny, 0)
    load_plan(work, dispatch(tiny), tiny)
    anneal(*work.arrays, work.best, work.best_count, 2, 1.0, 1.0)
    _warm.set()


def _first_plans(problem: Problem, calendar: Calendar, start: CorePlan | None) -> _Best:
    plan = dispatch(problem, calendar)
    found = evaluate(problem, plan)
    best = _Best(plan, found.value, len(found.violations), found.value)
    if start is not None:
        given = evaluate(problem, start)
        best.given = best.offer(start, given.value, len(given.violations))
        if given.violations:
            mended = dispatch(problem, calendar, start)
            again = evaluate(problem, mended)
            best.offer(mended, again.value, len(again.violations))
    return best


def _improve(
    problem: Problem,
    calendar: Calendar,
    best: _Best,
    bounder: Bounder,
    deadline: float,
    limits: Limits,
    began: float,
    progress: ProgressSink | None,
) -> None:
    farm = compile_arrays(problem, calendar)
    work = empty_work(farm, problem, limits.seed)
    load_plan(work, best.plan, problem)
    until = deadline - MARGIN_S - 2e-5 * len(problem.tasks)
    if limits.deterministic:
        _counted(work, farm, limits, until)
    else:
        _timed(work, farm, best, bounder, until, deadline, began, progress)
    if int(work.best_count[0]):
        plan = read_plan(work)
        found = evaluate(problem, plan)
        known = bool(problem.before.price) and best.given
        worth = WORTH_A_CALL * abs(best.value) if known else 1e-9
        best.offer(plan, found.value, len(found.violations), worth)


def _anneal(work: Work, rounds: int, heat: float, end_heat: float) -> None:
    anneal(*work.arrays, work.best, work.best_count, rounds, heat, end_heat)


def _counted(work: Work, farm: Farm, limits: Limits, until: float) -> None:
    """Search by counted rounds: the same input gives the same plan; the deadline only guards."""
    total = max(50, int(limits.seconds * COUNTED_ROUNDS / max(10, farm.tasks)))
    steps = 40
    scale = abs(float(work.floats[0])) / max(1, farm.tasks)
    for k in range(steps):
        if time.monotonic() > until:
            return
        _anneal(work, max(1, total // steps), *_heat(scale, k / steps, (k + 1) / steps))


def _heat(scale: float, a: float, b: float) -> tuple[float, float]:
    fall = HEAT_END / HEAT_START
    return scale * HEAT_START * fall**a, scale * HEAT_START * fall**b


def _timed(
    work: Work,
    farm: Farm,
    best: _Best,
    bounder: Bounder,
    until: float,
    deadline: float,
    began: float,
    progress: ProgressSink | None,
) -> None:
    """Search until the clock says so, in short slices whose rounds follow the measured speed."""
    opened = time.monotonic()
    scale = abs(float(work.floats[0])) / max(1, farm.tasks)
    rounds, told = 10, opened
    while True:
        now = time.monotonic()
        if now >= until or (bounder.bound >= float(work.floats[1]) - 0.5):
            return
        a = (now - opened) / max(1e-9, until - opened)
        b = min(1.0, a + SLICE_S / max(1e-9, until - opened))
        _anneal(work, rounds, *_heat(scale, a, b))
        spent = time.monotonic() - now
        aim = min(SLICE_S, max(0.002, (until - now) / 3))
        rounds = max(1, int(rounds * min(3.0, aim / max(spent, 1e-5))))
        if now - told > 0.5:
            told = now
            best.bound = max(best.bound, bounder.bound)
            shown = min(best.value, float(np.min(work.floats[:2])))
            line = Progress(now - began, "neighbourhoods", shown, best.bound, deadline - now)
            best.story.append(line)
            if progress:
                progress(line)


def _tell(best: _Best, step: str, began: float, deadline: float, progress: ProgressSink | None) -> None:
    now = time.monotonic()
    line = Progress(now - began, step, best.value, best.bound, max(0.0, deadline - now))
    best.story.append(line)
    if progress:
        progress(line)


def _result(best: _Best, began: float) -> Result:
    wall = time.monotonic() - began
    if best.faults:
        return Result(Status.UNKNOWN, best.plan, best.value, best.bound, best.first, tuple(best.story), wall)
    proven = best.value - best.bound <= 1e-6 * max(1.0, abs(best.value))
    status = Status.OPTIMAL if proven else Status.FEASIBLE
    return Result(status, best.plan, best.value, best.bound, best.first, tuple(best.story), wall)
