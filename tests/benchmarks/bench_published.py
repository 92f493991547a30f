"""The table of published instances: every case in the folder of instances, solved within the given time.

Run: ``python -m tests.benchmarks.bench_published --seconds 10 --workers 2 [name ...]``. The cases are not part of the
repository (see `tests.solver.instance_paths`). Each case runs in its own process, as a user would run it.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

from tests.benchmarks.peer_pyjobshop import solve_with_peer
from tests.solver.instance_paths import instances_folder


def run_case(path: Path, seconds: float, workers: int) -> dict[str, Any]:
    """Run one case and return what the command prints."""
    command = [sys.executable, "-m", "scheduler.solver", str(path)]
    command += ["--seconds", str(seconds), "--workers", str(workers)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=seconds + 60, check=False)
    if done.returncode:
        return {
            "status": "ERROR",
            "value": None,
            "bound": None,
            "violations": [done.stderr[-300:]],
            "wall_s": 0.0,
        }
    answer: dict[str, Any] = json.loads(done.stdout)
    return answer


def verdict(best: Any, answer: dict[str, Any]) -> str:
    """Say how a result compares with the published one."""
    if best is None:
        return "as published" if answer["status"] == "INFEASIBLE" else "NOT PROVED INFEASIBLE"
    if answer["value"] is None:
        return "NO PLAN"
    if answer["violations"]:
        return "BROKEN RULES"
    if answer["value"] < best:
        return "BELOW THE PUBLISHED BEST"
    return (
        "best" if answer["value"] == best else f"+{100 * (answer['value'] / best - 1) if best else 100:.1f} %"
    )


def peer(path: Path, args: argparse.Namespace) -> str:
    """Return what PyJobShop reaches in the same time, its value recomputed."""
    if not args.peer:
        return ""
    found = solve_with_peer(json.loads(path.read_text()), args.seconds, args.workers)
    return (
        "   peer -" if found is None else f"   peer {found['status']} {found['value']} in {found['wall_s']} s"
    )


def main() -> None:
    """Print one line per case."""
    parser = argparse.ArgumentParser()
    parser.add_argument("names", nargs="*")
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument(
        "--peer", action="store_true", help="beside it PyJobShop, where it has words for a case"
    )
    args = parser.parse_args()
    folder = instances_folder()
    print(
        f"{'case':22s} {'published':>10s} {'status':>10s} {'value':>10s} {'bound':>10s} {'wall_s':>7s}  verdict"
    )
    for path in sorted(folder.glob("cases/*.json")):
        if args.names and not any(name in path.stem for name in args.names):
            continue
        best = json.loads(path.read_text())["best"]["value"]
        answer = run_case(path, args.seconds, args.workers)
        row = [best, answer["status"], answer["value"], answer["bound"], answer["wall_s"]]
        shown = "".join(f" {x!s:>{w}s}" for x, w in zip(row, (10, 10, 10, 10, 7), strict=True))
        print(f"{path.stem:22s}{shown}  {verdict(best, answer)}{peer(path, args)}", flush=True)


if __name__ == "__main__":
    main()
