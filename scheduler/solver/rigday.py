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

from scheduler.solver.annealing import anneal
from scheduler.solver.bound import Bounder
from scheduler.solver.dispatch import dispatch
from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Problem
from scheduler.solver.result import CorePlan, Limits, Progress, ProgressSink, Result, Status
from scheduler.solver.rigday_arrays import compile_arrays
from scheduler.solver.rigday_calendar import Calendar
from scheduler.solver.rigday_pack import Work, empty_work, load_plan, read_plan, too_crowded
from scheduler.solver.rigday_walk import Walk, walk_by_count, walk_together

MARGIN_S = 0.12
WORTH_A_CALL = 0.001
LEAST_S_PER_TASK = 3e-4
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

    @property
    def proven(self) -> bool:
        """Whether no plan can be better."""
        return self.faults == 0 and self.value - self.bound <= 1e-6 * max(1.0, abs(self.value))

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
    if limits.deterministic:
        # Counted effort waits for the compiled search however long that takes, or the plan would depend on the clock.
        _warm.wait()
        deadline += time.monotonic() - began
    best = _first_plans(problem, calendar, start)
    _tell(best, "dispatch", began, deadline, progress)
    bounder = Bounder(problem, calendar, deadline - MARGIN_S, limits)
    best.bound = bounder.simple()
    if best.proven:
        _tell(best, "end", began, deadline, progress)
        return _result(best, began)
    threaded = limits.workers > 1 and not limits.deterministic
    if threaded and limits.bound:
        bounder.start()
    ready = _warm.wait(max(0.0, deadline - MARGIN_S - time.monotonic()))
    if ready and deadline - MARGIN_S - time.monotonic() > LEAST_S_PER_TASK * len(problem.tasks):
        _improve(problem, calendar, best, bounder, deadline, limits, began, progress)
    if limits.bound and not threaded and not best.proven:
        bounder.run()
    best.bound = max(best.bound, bounder.finish(best.value))
    if best.faults == 0:
        best.bound = min(best.bound, best.value)
    _tell(best, "end", began, deadline, progress)
    return _result(best, began)


def warm_up() -> None:
    """Build the compiled functions of searches and bound (half a minute the first time, then cached on disk)."""
    from scheduler.solver.bound_kernel import warm_up as warm_up_bound
    from scheduler.solver.insertion_run import warm_up as warm_up_orders

    _start_warming()
    warm_up_orders()
    warm_up_bound()
    _warm.wait()


def _start_warming() -> None:
    if _warm.is_set() or not _warming.acquire(blocking=False):
        return
    threading.Thread(target=_build).start()


def _build() -> None:
    from scheduler.solver.problem import Mode, Need, Task
    from scheduler.solver.resources import Resource

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
    if too_crowded(best.plan, problem):
        return
    farm = compile_arrays(problem, calendar)
    walks = []
    for k in range(1 if limits.deterministic else max(1, min(2, limits.workers))):
        work = empty_work(farm, problem, limits.seed + 7919 * k)
        load_plan(work, best.plan, problem)
        walks.append(Walk(work))
    until = deadline - MARGIN_S - 3e-5 * len(problem.tasks)

    def tell(value: float) -> None:
        best.bound = max(best.bound, bounder.bound)
        _tell(best, "neighbourhoods", began, deadline, progress, min(best.value, value))

    if limits.deterministic:
        walk_by_count(walks[0], limits.seconds, until)
    else:
        walk_together(walks, until, lambda: bounder.bound, tell)
    _take_best(problem, best, min(walks, key=lambda w: w.value).work)


def _take_best(problem: Problem, best: _Best, work: Work) -> None:
    """Judge the best plan of the search, and take it when it is worth it."""
    if int(work.best_count[0]) == 0:
        return
    plan = read_plan(work)
    found = evaluate(problem, plan)
    known = bool(problem.before.price) and best.given
    worth = WORTH_A_CALL * abs(best.value) if known else 1e-9
    best.offer(plan, found.value, len(found.violations), worth)


def _tell(
    best: _Best,
    step: str,
    began: float,
    deadline: float,
    progress: ProgressSink | None,
    value: float | None = None,
) -> None:
    now = time.monotonic()
    shown = best.value if value is None else value
    line = Progress(now - began, step, shown, best.bound, max(0.0, deadline - now))
    best.story.append(line)
    if progress:
        progress(line)


def _result(best: _Best, began: float) -> Result:
    wall = time.monotonic() - began
    if best.faults:
        return Result(Status.UNKNOWN, best.plan, best.value, best.bound, best.first, tuple(best.story), wall)
    status = Status.OPTIMAL if best.proven else Status.FEASIBLE
    return Result(status, best.plan, best.value, best.bound, best.first, tuple(best.story), wall)
