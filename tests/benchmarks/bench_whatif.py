"""What-ifs and springs: members x farms per core-hour, speed-up at two processes, share of the time outside the solver.

    python -m tests.benchmarks.bench_whatif

Ratios of one run. The morning of a farm is the outlook over its members and a plan; a study is that for every way.
"""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import scheduler.planning.schedule as schedule
import scheduler.whatif.run as run
from scheduler.solver.rigday import warm_up
from scheduler.whatif.spring import Rules
from scheduler.whatif.study import PRESENT, Way
from scheduler.wiring.season import open_season, run_season
from scheduler.wiring.whatif import run_ways, what_if_morning
from scheduler.wiring.workspace import open_farm

SCENARIO = Path(__file__).resolve().parents[2] / "scenarios" / "wet-week"
NOW = datetime.fromisoformat("2027-05-10T05:00:00-05:00")
WAYS = tuple(
    Way(name=name, changes=lines)
    for name, lines in (
        (PRESENT, ()), ("down", ("out planter until 2027-05-14",)), ("hours", ('longer all "1 h"',)), ("rain", ("rain +30%",)),
    )
)  # fmt: skip


class Clock:
    """Sums the time spent in a function while it stands in for it."""

    def __init__(self, module: Any, name: str) -> None:
        self.module, self.name, self.inner, self.spent = module, name, getattr(module, name), 0.0

    def __enter__(self) -> Clock:
        def timed(*args: Any, **kwargs: Any) -> Any:
            began = time.perf_counter()
            try:
                return self.inner(*args, **kwargs)
            finally:
                self.spent += time.perf_counter() - began

        setattr(self.module, self.name, timed)
        return self

    def __exit__(self, *_: object) -> None:
        setattr(self.module, self.name, self.inner)


def morning_costs(seconds: float) -> None:
    """Say what one farm's morning costs, and where the time goes."""
    morning = what_if_morning(open_farm(SCENARIO, quiet_log=True), NOW, seconds)
    run.work(morning, ())
    with Clock(schedule, "solve") as solver, Clock(run, "build_outlook") as outlook:
        began = time.perf_counter()
        for _ in range(3):
            run.work(morning, ())
        whole = time.perf_counter() - began
    assert morning.forecast is not None
    members = morning.forecast.members
    per_hour = 3600.0 / (whole / 3) * members
    print(
        f"one morning, 15 fields x {members} members x 14 days, {seconds:g} s of counted effort: {whole / 3:.2f} s of one core"
    )
    print(
        f"  outlook {outlook.spent / whole:.0%}, solver {solver.spent / whole:.0%}, the rest {1 - (outlook.spent + solver.spent) / whole:.0%}"
    )
    print(f"  members x farms per core-hour: {per_hour:,.0f}")
    farms, wanted = 1000, 50
    hours = farms * (outlook.spent / 3 * wanted / members + (whole - outlook.spent) / 3) / 3600.0
    print(
        f"  {farms} farms x {wanted} members every morning: {hours:.2f} core-hours (outlook scaled by members)"
    )


def speed_up(seconds: float) -> None:
    """Say how much faster two processes are than one, start-up of the processes counted."""
    morning = what_if_morning(open_farm(SCENARIO, quiet_log=True), NOW, seconds)
    ways = [replace_name(way, k) for k in range(3) for way in WAYS]
    spent = {}
    for processes in (1, 2):
        began = time.perf_counter()
        run_ways(morning, ways, processes)
        spent[processes] = time.perf_counter() - began
    print(
        f"a study of {len(ways)} ways: {spent[1]:.1f} s with one process, {spent[2]:.1f} s with two: {spent[1] / spent[2]:.2f} times as fast"
    )


def replace_name(way: Way, k: int) -> Way:
    """Return a way under a name of its own."""
    return way if k == 0 else way.model_copy(update={"name": f"{way.name} {k}", "again": k})


def springs() -> None:
    """Say what a spring costs and what a second process brings."""
    workspace = open_farm(SCENARIO, quiet_log=True)
    rules = Rules(NOW.date() + timedelta(days=14))
    study = open_season(workspace, (Way(name=PRESENT),), NOW, rules, 4, "made", 1, 0.3)
    spent = {}
    for processes in (1, 2):
        began = time.perf_counter()
        rows = run_season(study, None, processes)
        spent[processes] = time.perf_counter() - began
    days = sum(row["days"] for row in rows)
    print(
        f"springs: {spent[1] / days:.2f} s of one core a morning; {spent[1] / spent[2]:.2f} times as fast with two processes"
    )
    half = replace(study, springs=2)
    assert run_season(half, None, 1) == rows[:2]


if __name__ == "__main__":
    warm_up()
    morning_costs(1.5)
    speed_up(0.7)
    springs()
