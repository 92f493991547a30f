"""``python -m scheduler.solver CASE.json --seconds N --workers W``: solve one case, print the outcome as JSON."""

from __future__ import annotations

import argparse
import json
import math
import os
import sys
from pathlib import Path

from scheduler.solver.cases import read_case
from scheduler.solver.evaluate import evaluate
from scheduler.solver.result import Limits, Progress, Result, Status
from scheduler.solver.solve import solve
from shared.errors import FitgroundError


def _arguments(argv: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m scheduler.solver",
        description="Solve a scheduling case and print the outcome as JSON.",
    )
    parser.add_argument("case", type=Path, help="file with the case")
    parser.add_argument("--seconds", type=float, default=10.0, help="wall time, default 10")
    parser.add_argument("--workers", type=int, default=2, help="threads at most, default 2")
    parser.add_argument("--seed", type=int, default=0, help="for every random choice")
    parser.add_argument("--deterministic", action="store_true", help="same input, same plan: counted effort")
    parser.add_argument("--progress", action="store_true", help="tell value and bound on the way (stderr)")
    parser.add_argument("--plan", action="store_true", help="print the blocks of the plan too")
    return parser.parse_args(argv)


def _number(value: float) -> float | int | None:
    """Return a finite number, whole where it is whole; None otherwise (JSON knows no infinity)."""
    if not math.isfinite(value):
        return None
    return round(value) if abs(value - round(value)) < 1e-6 else value


def _show(line: Progress) -> None:
    value, bound = _number(line.value), _number(line.bound)
    print(f"{line.elapsed_s:7.2f} s  {line.step:<12} value {value}  bound {bound}", file=sys.stderr)


def main(argv: list[str] | None = None) -> int:
    """Run the command; return the exit code (2 for a bad file)."""
    args = _arguments(argv)
    try:
        if not args.seconds > 0 or not 1 <= args.workers <= 64:
            raise FitgroundError("--seconds needs a number above 0, and --workers 1 to 64.")
        problem = read_case(args.case)
        limits = Limits(args.seconds, args.workers, args.seed, args.deterministic)
        result = solve(problem, limits, _show if args.progress else None)
    except FitgroundError as error:
        print(error, file=sys.stderr)
        return 2
    has_plan = result.status in (Status.OPTIMAL, Status.FEASIBLE)
    violations = [v.text for v in evaluate(problem, result.plan).violations] if has_plan else []
    print(json.dumps(_answer(result, has_plan, violations, args.plan)))
    return 0


def _answer(result: Result, has_plan: bool, violations: list[str], with_plan: bool) -> dict[str, object]:
    answer: dict[str, object] = {
        "status": result.status.value,
        "value": _number(result.value) if has_plan else None,
        "bound": _number(result.bound),
        "violations": violations,
        "wall_s": round(result.wall_s, 3),
    }
    if with_plan:
        answer["blocks"] = [[b.task, b.mode, b.start, b.end, list(b.resources)] for b in result.plan.blocks]
    return answer


if __name__ == "__main__":
    code = main()
    sys.stdout.flush()
    sys.stderr.flush()
    # A search thread that is late to stop must not keep the answer waiting.
    os._exit(code)
