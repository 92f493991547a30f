"""The road for problems with `days`: rule, repair, large neighbourhoods, bound; one deadline over all of
it.

Question answered: *which plan of rig-days is best, and how good can any plan be?* The dispatch rule
gives a plan at once, compiled insertion builds others from nothing, an earlier plan is repaired, and the best of them is
torn and put back until the deadline. Beside it a relaxation works on the bound. The result is never worse
than what came in, and its value is the evaluator's.
"""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable

from scheduler.solver.bound import Bounder
from scheduler.solver.clash_needed import needed
from scheduler.solver.clash_proof import all_free, refuted
from scheduler.solver.dispatch import dispatch, place_pins
from scheduler.solver.problem import Problem
from scheduler.solver.result import CorePlan, Limits, Progress, ProgressSink, Result, Status
from scheduler.solver.rigday_arrays import Farm, compile_arrays
from scheduler.solver.rigday_best import Best
from scheduler.solver.rigday_book import Book
from scheduler.solver.rigday_build import build
from scheduler.solver.rigday_calendar import Calendar
from scheduler.solver.rigday_pack import empty_work, load_plan, read_plan, too_crowded
from scheduler.solver.rigday_walk import Walk, walk_by_count, walk_together

MARGIN_S = 0.12
LEAST_S_PER_TASK = 3e-4
RULE_S_PER_TASK, RULE_SHARE = 5e-4, 0.08
"""What the rule takes at most, guessed; where that is more than this share of the time, plans built by insertion do."""
BUILD_SHARE = 0.03
PROOF_SHARE = 0.2
_warm = threading.Event()
_warming = threading.Lock()


def search(
    problem: Problem,
    deadline: float,
    limits: Limits,
    start: CorePlan | None = None,
    progress: ProgressSink | None = None,
    rule: CorePlan | None = None,
) -> Result:
    """Return the best plan found before `deadline`.

    When even the best plan breaks a rule (pins that contradict each other, work that must be done and cannot),
    the status is UNKNOWN and the plan is the one that breaks fewest, so that a caller can say which; or INFEASIBLE,
    where it is proved that not all that must be done can be (not tried where effort is counted).

    Parameters
    ----------
    problem : Problem
        With `days`. Where it names a plan that people know (`before`) and that plan is given as a sound
        `start`, it is left only for one that costs at least `rigday_best.WORTH_A_CALL` of the value less.
    deadline : float
        A value of ``time.monotonic``; kept within 0.3 s.
    limits : Limits
        With `deterministic`, effort is counted in rounds and the deadline only guards.
    start : CorePlan, optional
        A plan to start from; repaired when it breaks rules.
    progress : callable, optional
        Gets each line of the story.
    rule : CorePlan, optional
        What the dispatch rule makes of it, where that is known already.
    """
    began = time.monotonic()
    calendar = Calendar(problem)
    _start_warming()
    if limits.deterministic:
        # Counted effort waits for the compiled search however long that takes, or the plan would depend on the clock.
        _warm.wait()
        deadline += time.monotonic() - began
    best = Best(problem)

    def tell(step: str, value: float | None = None) -> None:
        now = time.monotonic()
        shown = best.value if value is None else min(best.value, value)
        best.story.append(Progress(now - began, step, shown, best.bound, max(0.0, deadline - now)))
        if progress:
            progress(best.story[-1])

    _take_given(best, calendar, start)
    threaded = limits.workers > 1 and not limits.deterministic
    quick = RULE_S_PER_TASK * len(problem.tasks) <= RULE_SHARE * limits.seconds
    if rule is not None or quick or limits.deterministic or not _warm.is_set():
        _, best.first, _ = best.offer(rule or dispatch(problem, calendar))
        tell("dispatch")
    bounder = Bounder(problem, calendar, deadline - MARGIN_S, limits)
    best.bound = bounder.simple()
    if best.proven:
        tell("end")
        return best.result(time.monotonic() - began)
    ready = _warm.wait(max(0.0, deadline - MARGIN_S - time.monotonic()))
    farm = None
    if ready and deadline - MARGIN_S - time.monotonic() > LEAST_S_PER_TASK * len(problem.tasks):
        farm = compile_arrays(problem, calendar)
        _offer_built(best, farm, calendar, deadline, limits)
        tell("insertion")
    if best.faults and best.first == math.inf:
        _, best.first, _ = best.offer(dispatch(problem, calendar))
    if best.faults and not limits.deterministic and _hopeless(problem, deadline - time.monotonic()):
        return Result(Status.INFEASIBLE, CorePlan(), math.inf, math.inf, math.inf, tuple(best.story))
    # What runs beside in Python holds the interpreter now and then: the walks are made ready before.
    walks = [] if farm is None else _walks(best, farm, limits)
    if threaded and limits.bound:
        bounder.start()
    if walks:
        _improve(best, walks, bounder, deadline, limits, tell)
    if limits.bound and not threaded and not best.proven:
        bounder.run()
    best.bound = max(best.bound, bounder.finish(best.value))
    if best.faults == 0:
        best.bound = min(best.bound, best.value)
    tell("end")
    return best.result(time.monotonic() - began)


def warm_up() -> None:
    """Build the compiled functions of searches and bound (half a minute the first time, then cached on disk)."""
    from scheduler.solver.bound_kernel import warm_up as warm_up_bound
    from scheduler.solver.insertion_run import warm_up as warm_up_orders
    from scheduler.solver.line_bound import warm_up as warm_up_line

    _start_warming()
    warm_up_orders()
    warm_up_line()
    warm_up_bound()
    _warm.wait()


def _start_warming() -> None:
    if _warm.is_set() or not _warming.acquire(blocking=False):
        return
    threading.Thread(target=_compile).start()


def _compile() -> None:
    from scheduler.solver.problem import Mode, Need, Task
    from scheduler.solver.resources import Resource

    task = Task("warm", (Mode(10, (Need((0,)),)),), optional=True, drop_cost=1)
    tiny = Problem((task,), (Resource("warm"),), 1440, days=((0, 1440),))
    farm = compile_arrays(tiny)
    work = build(farm, tiny, CorePlan((), ()), 0, None)
    load_plan(empty_work(farm, tiny, 0), dispatch(tiny), tiny)
    Walk(work).some_rounds(2, 0.0, 1.0)
    _warm.set()


def _take_given(best: Best, calendar: Calendar, start: CorePlan | None) -> None:
    """Offer the plan that a caller knows, and repaired where it breaks rules."""
    if start is None:
        return
    best.given, _, faults = best.offer(start)
    if faults:
        best.offer(dispatch(best.problem, calendar, start))


def _offer_built(best: Best, farm: Farm, calendar: Calendar, deadline: float, limits: Limits) -> None:
    """Offer the best of several plans made from nothing."""
    pins = CorePlan((), ())
    if best.problem.pins:
        book = Book(best.problem, calendar)
        place_pins(book)
        pins = book.plan()
    if too_crowded(pins, best.problem):
        return
    now = time.monotonic()
    until = None if limits.deterministic else now + BUILD_SHARE * (deadline - now)
    best.offer(read_plan(build(farm, best.problem, pins, limits.seed, until)), best.worth)


def _hopeless(problem: Problem, seconds: float) -> bool:
    """Tell whether it is proved, in a part of the time, that not all that must be done can be."""
    if all(task.optional for task in problem.tasks):
        return False
    return refuted(all_free(needed(problem).problem), PROOF_SHARE * seconds)


def _walks(best: Best, farm: Farm, limits: Limits) -> list[Walk]:
    """Return the walks, all from the best plan; none where the plan has no room in the arrays.

    A second walk brought nothing (compared at 12, 60, 200 and 600 fields): a worker is better left to the bound.
    """
    if too_crowded(best.plan, best.problem):
        return []
    walks = []
    free = limits.workers - 1 if limits.bound else limits.workers
    for k in range(1 if limits.deterministic else max(1, min(2, free))):
        work = empty_work(farm, best.problem, limits.seed + 7919 * k)
        load_plan(work, best.plan, best.problem)
        walks.append(Walk(work, near=best.given))
    return walks


def _improve(
    best: Best,
    walks: list[Walk],
    bounder: Bounder,
    deadline: float,
    limits: Limits,
    tell: Callable[[str, float], None],
) -> None:
    until = deadline - MARGIN_S - 3e-5 * len(best.problem.tasks)

    def hear(value: float) -> None:
        best.bound = max(best.bound, bounder.bound)
        tell("neighbourhoods", value)

    if limits.deterministic:
        walk_by_count(walks[0], limits.seconds, until)
    else:
        walk_together(walks, until, lambda: bounder.bound, hear)
    work = min(walks, key=lambda w: w.value).work
    if int(work.best_count[0]):
        best.offer(read_plan(work), best.worth)
