"""Published instances through the one door: values, proofs, deadlines, closures, the command.

Sources of the values: ``instances/README.md`` beside the cases (PSPLIB, MMLIB, OR-Library, Fattahi and Brandimarte
shops, Dumas windows, Beasley landings); the full table is `tests.benchmarks.bench_published`.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest

from scheduler.solver.calendar import closed_to_open
from scheduler.solver.cases import read_case
from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Problem
from scheduler.solver.result import Limits, Progress, Status
from scheduler.solver.solve import solve
from tests.solver.instance_paths import instance_file

# One short case of each family; all are proved in well under a second when the machine is idle.
PROVED = (
    "alp1_r1", "alp8_r2", "cane_lots", "fjsp_fattahi12", "fjsp_mk01", "max_j10_7", "max_j30_9", "max_ubo20_10",
    "mm_j1010_1", "mmlib_J501_1", "opt_aslib0_0", "rcpsp_j30_1", "sdst_fattahi_10", "wet_j30_27_5",
)  # fmt: skip


def case(name: str) -> tuple[Problem, int | None]:
    path = instance_file(f"cases/{name}.json")
    return read_case(path), json.loads(path.read_text())["best"]["value"]


@pytest.mark.clock
@pytest.mark.parametrize("name", PROVED)
def test_the_published_optimum_is_proved(name: str) -> None:
    problem, best = case(name)
    result = solve(problem, Limits(seconds=6.0, workers=2))
    assert (result.status, result.value, result.bound) == (Status.OPTIMAL, best, best)
    assert not evaluate(problem, result.plan).violations


@pytest.mark.clock
@pytest.mark.parametrize("name", ["max_j10_2", "max_ubo10_6"])
def test_no_plan_is_proved(name: str) -> None:
    problem, best = case(name)
    assert best is None
    result = solve(problem, Limits(seconds=3.0, workers=2))
    assert result.status == Status.INFEASIBLE and not result.plan.blocks


@pytest.mark.parametrize(("name", "share"), [("wt40_6", 1.01), ("wtsds_15", 2.0)])
def test_late_work_is_near_the_best_in_counted_effort(name: str, share: float) -> None:
    """Within 1 % with due times alone, and twice the best with set-ups, for three million counted moves."""
    problem, best = case(name)
    assert best is not None
    result = solve(problem, Limits(seconds=3.0, workers=1, deterministic=True))
    assert not evaluate(problem, result.plan).violations
    assert best <= result.value <= share * best


ORACLE = ("fjsp_mk01", "rcpsp_j30_1", "mm_j3010_1", "fjsp_fattahi12", "mmlib_J501_1")


@pytest.mark.clock
@pytest.mark.parametrize("name", ORACLE)
def test_closures_shared_by_all_carry_the_published_optimum_over(name: str) -> None:
    """Work that may stop, every resource open 12 of 24: the optimum is the clock image of the published one."""
    rows = json.loads(instance_file("calendar_oracle.json").read_text())["cases"]
    row = next(r for r in rows if r["base"] == name)
    problem, _ = case(name)
    horizon = problem.horizon * 3
    breaks = [(d + row["open"], d + row["day"]) for d in range(0, horizon, row["day"])]
    shut = replace(
        problem,
        horizon=horizon,
        tasks=tuple(replace(task, resumable=True) for task in problem.tasks),
        resources=tuple(replace(res, open=closed_to_open(breaks, horizon)) for res in problem.resources),
    )
    result = solve(shut, Limits(seconds=6.0, workers=2))
    assert (result.status, result.value) == (Status.OPTIMAL, row["calendar_optimum"])
    assert not evaluate(shut, result.plan).violations


@pytest.mark.clock
@pytest.mark.parametrize("seconds", [0.05, 1.0])
def test_the_deadline_holds_and_the_story_only_gets_better(seconds: float) -> None:
    problem, _ = case("wt50_1")
    solve(problem, Limits(seconds=0.2, workers=2))
    lines: list[Progress] = []
    began = time.monotonic()
    result = solve(problem, Limits(seconds=seconds, workers=2), lines.append)
    assert time.monotonic() - began < seconds + 0.3
    # A fast computer proves this case within the second.
    assert result.status in (Status.FEASIBLE, Status.OPTIMAL)
    values = [line.value for line in lines]
    assert values and values == sorted(values, reverse=True)
    assert result.value <= result.first_value


def test_a_sound_start_is_never_made_worse() -> None:
    problem, best = case("wt40_1")
    assert best is not None
    good = solve(problem, Limits(seconds=2.0, workers=1, deterministic=True))
    again = solve(problem, Limits(seconds=0.3, workers=1), start=good.plan)
    assert again.value <= good.value


def run(path: Path, *more: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "scheduler.solver", str(path), *more]
    return subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)


def test_the_command_prints_the_outcome_as_json() -> None:
    done = run(instance_file("cases/rcpsp_j30_1.json"), "--seconds", "5", "--workers", "2")
    answer = json.loads(done.stdout)
    assert set(answer) == {"status", "value", "bound", "violations", "wall_s"}
    assert (answer["status"], answer["value"], answer["violations"]) == ("OPTIMAL", 43, [])


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("{", "JSON"),
        ("[]", "object"),
        ('{"objective": "fun"}', "makespan"),
        ('{"objective": "makespan", "resources": [], "tasks": [{"id": 0}]}', "modes"),
        ('{"objective": "makespan", "resources": [{"id": 0, "type": "odd"}], "tasks": []}', "cumulative"),
    ],
)
def test_a_bad_file_is_one_sentence_and_code_2(tmp_path: Path, text: str, named: str) -> None:
    path = tmp_path / "case.json"
    path.write_text(text)
    done = run(path)
    assert done.returncode == 2 and done.stdout == ""
    assert named in done.stderr and str(path) in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1


def test_a_missing_file_is_one_sentence(tmp_path: Path) -> None:
    done = run(tmp_path / "none.json")
    assert done.returncode == 2 and "cannot be read" in done.stderr and "Traceback" not in done.stderr
