"""What each rule costs: the same farm with one rule taken away at a time, searched with the same counted effort.

    python -m tests.benchmarks.bench_rules [--fields 12 60] [--rounds 2.0]

Time is that of the search for the same number of rounds (deterministic mode, one worker), value that of the plan; both as
ratios to the farm with all rules, in one run. The dispatch rule's time shows what a rule costs before any search.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from dataclasses import replace

from scheduler.solver.dispatch import dispatch
from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Lag, Need, Problem, Task
from scheduler.solver.resources import Moves, Resource
from scheduler.solver.result import Limits
from scheduler.solver.rigday import search, warm_up
from tests.benchmarks.farms import make_farm

LONG_S = 3600.0


def _resources(problem: Problem, change: Callable[[Resource], Resource]) -> Problem:
    return replace(problem, resources=tuple(change(r) for r in problem.resources))


def _tasks(problem: Problem, change: Callable[[Task], Task]) -> Problem:
    return replace(problem, tasks=tuple(change(t) for t in problem.tasks))


def without_roads(problem: Problem) -> Problem:
    """Everything is next door; a change of implement too."""

    def bare(moves: Moves | None) -> Moves | None:
        if moves is None:
            return None
        change = None if moves.change is None else moves.change * 0
        return replace(moves, minutes=moves.minutes * 0, change=change)

    return _resources(problem, lambda r: replace(r, moves=bare(r.moves)))


def without_changes(problem: Problem) -> Problem:
    """An implement is changed in no time and anywhere."""
    return _resources(problem, lambda r: replace(r, moves=r.moves and replace(r.moves, change=None)))


def without_people(problem: Problem) -> Problem:
    """Machines drive themselves; work that only people do keeps them."""

    def bare(task: Task) -> Task:
        modes = []
        for mode in task.modes:
            machines = tuple(n for n in mode.needs if problem.resources[n.any_of[0]].hours is None)
            needs: tuple[Need, ...] = machines or mode.needs
            modes.append(replace(mode, needs=needs))
        return replace(task, modes=tuple(modes))

    return _tasks(problem, bare)


def without_longest(problem: Problem) -> Problem:
    """Waits have no longest length."""
    bare: Callable[[Lag], Lag] = lambda lag: replace(lag, most=None)  # noqa: E731
    return replace(problem, lags=tuple(bare(lag) for lag in problem.lags))


RULES: dict[str, Callable[[Problem], Problem]] = {
    "all rules": lambda p: p,
    "no waits between passes": lambda p: replace(p, lags=()),
    "no longest waits": without_longest,
    "no stocks": lambda p: replace(
        _tasks(p, lambda t: replace(t, modes=tuple(replace(m, consumes={}) for m in t.modes))), stocks=()
    ),
    "no limits of hours": lambda p: _resources(p, lambda r: replace(r, hours=None)),
    "no people": without_people,
    "no roads": without_roads,
    "no changes of implement": without_changes,
    "no risk of lost hours": lambda p: _tasks(
        p,
        lambda t: replace(
            t,
            modes=tuple(
                replace(m, windows=m.windows and tuple(replace(w, risk_per_minute=0.0) for w in m.windows))
                for m in t.modes
            ),
        ),
    ),
    "no weeks behind the horizon": lambda p: _tasks(
        replace(p, buckets=()), lambda t: replace(t, later=False)
    ),
}


def main() -> None:
    """Print one table for each size of farm."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fields", type=int, nargs="+", default=[12, 60])
    parser.add_argument(
        "--rounds", type=float, default=2.0, help="effort, in the seconds of deterministic mode"
    )
    args = parser.parse_args()
    warm_up()
    for fields in args.fields:
        farm = make_farm(fields, 0, buckets=True)
        print(f"{fields} fields, {len(farm.tasks)} passes: search time, dispatch time, value; all rules = 1")
        first: tuple[float, float, float] | None = None
        for name, change in RULES.items():
            problem = change(farm)
            began = time.perf_counter()
            dispatch(problem)
            rule_s = time.perf_counter() - began
            began = time.perf_counter()
            found = search(
                problem, time.monotonic() + LONG_S, Limits(args.rounds, 1, 0, deterministic=True, bound=False)
            )
            took = time.perf_counter() - began
            value = evaluate(problem, found.plan).value
            first = first or (took, rule_s, value)
            print(
                f"  {name:<30} {took / first[0]:6.2f} {rule_s / first[1]:6.2f} {value / first[2]:6.2f}"
                f"   ({took:.1f} s)",
                flush=True,
            )


if __name__ == "__main__":
    main()
