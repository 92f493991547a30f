"""The engine beside simpler methods on the same seeded farms: value against the dispatch rule, bound, gap.

Run ``python -m tests.benchmarks.bench_engine --fields 12 60 --seconds 2 10``. Every value is the evaluator's, of a
finished plan; ratios are taken within one run (100 = dispatch rule). Two workers. A dash: nothing in time.
"""

from __future__ import annotations

import argparse
import resource
import time
from collections.abc import Callable

from scheduler.solver.bound_model import RelaxedFarm
from scheduler.solver.bound_solve import solve_rows
from scheduler.solver.dispatch import dispatch
from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Problem
from scheduler.solver.result import CorePlan, Limits
from scheduler.solver.rigday import search, warm_up
from scheduler.solver.rigday_calendar import Calendar
from tests.benchmarks.day_model import plan_from_days
from tests.benchmarks.farms import make_farm
from tests.benchmarks.interval_model import interval_plan

Method = Callable[[Problem, Calendar, float], CorePlan | None]


def day_model(problem: Problem, calendar: Calendar, seconds: float) -> CorePlan | None:
    """The day-level model on HiGHS, made a true plan."""
    began = time.monotonic()
    tasks = len(problem.tasks)
    stretch = 240 if tasks < 100 else 720 if tasks < 1000 else 1440
    # From some size on only the program of whole days with few rules comes to an end.
    farm = RelaxedFarm(problem, calendar, stretch, rough=tasks >= 1000)
    values = solve_rows(farm.rows, max(0.1, seconds - (time.monotonic() - began))).values
    return plan_from_days(problem, calendar, farm, values.tolist()) if len(values) else None


def intervals(problem: Problem, calendar: Calendar, seconds: float) -> CorePlan | None:
    """The plain interval model on CP-SAT, made a true plan; hopeless above some size, so left out there."""
    return interval_plan(problem, calendar, seconds, 2) if len(problem.tasks) < 700 else None


def undone_ha(problem: Problem, plan: CorePlan) -> float:
    """Hectares not done (a unit of size is a tenth of a hectare), every pass counted."""
    left = sum(task.size for task in problem.tasks)
    return (left - sum(b.amount for b in plan.blocks) - sum(x.amount for x in plan.later)) / 10


def line(
    name: str, seconds: float, problem: Problem, plan: CorePlan | None, first: float, more: str = ""
) -> str:
    """Return one row of the table."""
    if plan is None:
        return f"  {name:<22} {seconds:>5.0f} s       -"
    found = evaluate(problem, plan)
    sound = "" if not found.violations else f"  BREAKS {len(found.violations)} RULES"
    return (
        f"  {name:<22} {seconds:>5.0f} s  {100 * found.value / first:6.1f}"
        f"  undone {undone_ha(problem, plan):8.0f} ha{more}{sound}"
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fields", type=int, nargs="+", default=[12, 60, 200, 600])
    parser.add_argument("--seconds", type=float, nargs="+", default=[2.0, 10.0])
    parser.add_argument("--seeds", type=int, nargs="+", default=[0])
    parser.add_argument("--kind", choices=["tight", "overloaded"], default="tight")
    parser.add_argument("--ours-only", action="store_true")
    args = parser.parse_args()
    warm_up()
    for fields in args.fields:
        for seed in args.seeds:
            problem = make_farm(fields, seed, kind=args.kind)
            calendar = Calendar(problem)
            began = time.monotonic()
            rule = dispatch(problem, calendar)
            took = time.monotonic() - began
            first = evaluate(problem, rule).value
            asked = sum(task.size for task in problem.tasks) / 10
            print(
                f"{args.kind}, {fields} fields, seed {seed}: {len(problem.tasks)} passes, {asked:.0f} ha, {len(problem.days)} days"
            )
            print(line("dispatch rule", took, problem, rule, first))
            methods: dict[str, Method] = {"day model (HiGHS)": day_model, "intervals (CP-SAT)": intervals}
            for seconds in args.seconds:
                for name, method in methods.items() if not args.ours_only else ():
                    print(line(name, seconds, problem, method(problem, calendar, seconds), first), flush=True)
                began = time.monotonic()
                result = search(problem, began + seconds, Limits(seconds, 2, 0))
                wall = time.monotonic() - began
                more = f"  bound {100 * result.bound / first:5.1f}  gap {100 * result.gap:5.1f} %  wall {wall:.2f} s"
                print(line("ours", seconds, problem, result.plan, first, more), flush=True)
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
