"""The road for problems without days: rule, search on orders and interval model, under one deadline.

Question answered: *which plan is best, and how good can any plan be?* The rule gives first plans; where the
problem is nothing but orders, annealing runs beside what proves: on one machine with due times the bound of
`line_bound`, else the interval model, which also finds what is tied by lags and pools. Whatever is found goes
through the evaluator; the search stops when value meets bound.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

from scheduler.solver.insertion_run import OrderSearch
from scheduler.solver.interval_bounds import reach_of, simple_bound
from scheduler.solver.interval_dispatch import dispatch
from scheduler.solver.interval_prove import Prover
from scheduler.solver.interval_squeeze import Squeezed, squeeze
from scheduler.solver.keeper import Keeper
from scheduler.solver.line_bound import LineBound
from scheduler.solver.problem import Problem
from scheduler.solver.result import CorePlan, Limits, ProgressSink, Result

RULE_SHARE = 0.08
MARGIN_S = 0.12
FEW, MODEL_SHARE, ALONE_SHARE = 25, 0.2, 0.85
FIRST_SHARE, LINE_SHARE = 0.3, 0.25
"""Of the time: the first search of a single worker, and the bound of one machine where it could go on to the end."""
ANOTHER_SEED = 1_000_003


def search(
    problem: Problem,
    deadline: float,
    limits: Limits,
    start: CorePlan | None = None,
    progress: ProgressSink | None = None,
) -> Result:
    """Return the best plan found before `deadline` (a value of ``time.monotonic``)."""
    began = time.monotonic()
    keeper = Keeper(problem, began, deadline, progress)
    if start is not None:
        keeper.offer(start, "given")
    squeezed = squeeze(problem)
    if squeezed is not None:
        return _through(squeezed, keeper, deadline, limits, progress)
    reach = reach_of(problem, problem.horizon)
    if reach.clash:
        keeper.impossible = True
        return keeper.result()
    keeper.raise_bound(simple_bound(problem, reach), "each task alone")
    seconds = max(0.0, deadline - began)
    tries_until = began + (1.0 if limits.deterministic else RULE_SHARE) * seconds - MARGIN_S * RULE_SHARE
    first_until = deadline - min(MARGIN_S, 0.3 * seconds)
    for plan in dispatch(problem, reach, limits.seed, _after(tries_until), _after(first_until)):
        keeper.offer(plan, "dispatch")
    if not keeper.proven() and keeper.left() > MARGIN_S:
        _improve(problem, keeper, limits)
    return keeper.result()


def _after(time_s: float) -> Callable[[], bool]:
    return lambda: time.monotonic() > time_s


def _through(
    squeezed: Squeezed, keeper: Keeper, deadline: float, limits: Limits, progress: ProgressSink | None
) -> Result:
    """Solve in working time and read the plan back into clock time."""
    inner = search(squeezed.problem, deadline, limits, None, progress)
    keeper.impossible = inner.status.value == "INFEASIBLE"
    if inner.plan.blocks:
        keeper.offer(squeezed.clock_plan(inner.plan), "working time")
    keeper.raise_bound(squeezed.clock_bound(inner.bound), "working time")
    return keeper.result()


def _improve(problem: Problem, keeper: Keeper, limits: Limits) -> None:
    orders = OrderSearch.for_problem(problem, keeper, limits)
    prover = Prover(problem, keeper, limits)
    few = len(problem.tasks) <= FEW
    line = None if orders is None else LineBound.for_shop(orders.shop, keeper, limits)
    if orders is None:
        prover.run(limits.workers)
    elif limits.deterministic or limits.workers < 2:
        _by_turns(orders, line, prover, keeper, limits, few)
    elif any(task.end_curve is not None for task in problem.tasks):
        searches = [_beside(orders)]
        if line is not None:
            orders.warm.wait(max(0.0, keeper.left() / 4))
            _aside(line, keeper, LINE_SHARE if line.setups else 1.0)
        if line is None or few:
            prover.run(limits.workers - 1, after=orders.warm, share=1.0 if few else MODEL_SHARE)
        if not keeper.proven() and keeper.left() > MARGIN_S:
            searches.append(_beside(orders, seed=ANOTHER_SEED))
        for search_beside in searches:
            orders.stop_when_done(search_beside)
    else:
        search_beside = _beside(orders)
        prover.run(limits.workers)
        orders.stop_when_done(search_beside)


def _by_turns(
    orders: OrderSearch, line: LineBound | None, prover: Prover, keeper: Keeper, limits: Limits, few: bool
) -> None:
    """One worker: orders, then proofs, then orders once more where a second search by the clock makes sense."""
    share = 0.5 if few else ALONE_SHARE
    orders.stop_when_done(_beside(orders, share if line is None else FIRST_SHARE))
    if line is not None and not keeper.proven():
        _aside(line, keeper, LINE_SHARE)
    if line is not None and not limits.deterministic and not keeper.proven():
        orders.stop_when_done(_beside(orders, share, ANOTHER_SEED))
    if not keeper.proven():
        prover.run(1)


def _aside(line: LineBound, keeper: Keeper, share: float) -> None:
    """Run the bound in a thread of its own, as its first compilation must not hold up the deadline either."""
    side = threading.Thread(target=line.run, args=(share,))
    side.start()
    side.join(max(0.0, keeper.left() - MARGIN_S / 2))


def _beside(orders: OrderSearch, share: float = 1.0, seed: int = 0) -> threading.Thread:
    """Start the search on orders in a thread of its own: its first compilation must not hold up the deadline."""
    side = threading.Thread(target=orders.run, args=(share, seed))
    side.start()
    return side
