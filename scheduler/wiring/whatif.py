"""What-if joined: today's farm, log and weather into `whatif`, ways over the cores, studies out of files."""

from __future__ import annotations

import json
import multiprocessing
import tomllib
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from datetime import datetime
from pathlib import Path

from scheduler.solver.result import Limits
from scheduler.whatif.outcome import Outcome, best_of
from scheduler.whatif.run import Morning, first_plan, outcome
from scheduler.whatif.study import Study, Way, read_study
from scheduler.wiring.mornings import horizon_at, known_weather
from scheduler.wiring.news import situation_now
from scheduler.wiring.plans_known import latest_plan
from scheduler.wiring.workspace import Workspace
from shared.errors import FarmFileError, Fault

FOLDER = "whatif"
SEARCHES = 2
EFFORT_FIELDS, EFFORT_MOST = 15.0, 6.0
Tell = Callable[[str, int, int], None]
"""Told after each way: its name, how many are done, of how many."""


def what_if_morning(workspace: Workspace, now: datetime, seconds: float) -> Morning:
    """Return what every way of a what-if starts from; effort is counted, so that the same question has one answer."""
    observed, forecast, normals = known_weather(workspace, now)
    # Ways are compared by what they lead to, not by how far they lie from what people were told.
    calm = workspace.farm.plan.model_copy(update={"change_cost": 0.0})
    farm = situation_now(workspace, now)[1].farm
    return Morning(
        farm=workspace.farm.model_copy(update={"plan": calm}),
        records=tuple(workspace.log.read()),
        now=now,
        horizon=horizon_at(farm, now),
        observed=observed,
        forecast=forecast,
        normals=normals,
        limits=Limits(seconds, 1, farm.plan.seed, deterministic=True),
        known=latest_plan(workspace),
    )


def run_ways(
    morning: Morning, ways: Sequence[Way], processes: int, tell: Tell | None = None
) -> list[Outcome]:
    """Return the outcome of every way, in their order; with several processes, each works searches of its own.

    Each way is searched `SEARCHES` times with other random numbers: the best counts, and how far they lie apart says
    which differences between ways may be chance.
    """
    found: list[list[Outcome]] = [[] for _ in ways]
    jobs = [
        (place, way.model_copy(update={"again": way.again + SEARCHES * k}))
        for k in range(SEARCHES)
        for place, way in enumerate(ways)
    ]
    for done, (place, one) in enumerate(_each(morning, jobs, processes), 1):
        found[place].append(one)
        if tell is not None:
            tell(one.name, done, len(jobs))
    return [best_of(searches) for searches in found]


def effort_s(fields: int, seconds: float) -> float:
    """Return how long a search of a farm should take [s]: more fields have more plans to tell apart.

    Parameters
    ----------
    seconds : float
        For `EFFORT_FIELDS` fields and fewer; at most `EFFORT_MOST` times as much.
    """
    return round(seconds * min(EFFORT_MOST, max(1.0, fields / EFFORT_FIELDS)), 1)


def _each(morning: Morning, jobs: Sequence[tuple[int, Way]], processes: int) -> Iterator[tuple[int, Outcome]]:
    start = first_plan(morning)
    if processes <= 1 or len(jobs) <= 1:
        yield from ((place, outcome(morning, way, start)) for place, way in jobs)
        return
    # Spawned, not forked: the engine runs threads, and a forked thread lock may never open.
    with ProcessPoolExecutor(min(processes, len(jobs)), multiprocessing.get_context("spawn")) as pool:
        tasks = {pool.submit(outcome, morning, way, start): place for place, way in jobs}
        for task in as_completed(tasks):
            yield tasks[task], task.result()


def open_study(workspace: Workspace, name: str) -> Study:
    """Read a study by path, or by its name in the farm's ``whatif`` folder.

    Raises
    ------
    FarmFileError
        No such file, or faults in it.
    """
    path = _path(workspace, name)
    try:
        values = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        known = ", ".join(saved_studies(workspace)) or "(none)"
        raise FarmFileError(
            [Fault(path.name, "the file", "", "cannot be read", f"a study of {FOLDER}/: {known}")]
        ) from error
    except tomllib.TOMLDecodeError as error:
        raise FarmFileError(
            [Fault(path.name, "the file", "", f"is no TOML ({error})", "see README, What if")]
        ) from error
    return read_study(values, path.name)


def _path(workspace: Workspace, name: str) -> Path:
    given = Path(name)
    if given.suffix == ".toml" and given.exists():
        return given
    return workspace.folder / FOLDER / f"{given.name.removesuffix('.toml')}.toml"


def saved_studies(workspace: Workspace) -> list[str]:
    """Return the names of the farm's studies."""
    return sorted(path.stem for path in (workspace.folder / FOLDER).glob("*.toml"))


def save_study(workspace: Workspace, name: str, study: Study) -> Path:
    """Write a study as a file that people can read and change; one of that name is never overwritten.

    Raises
    ------
    FarmFileError
        The name cannot be a file name, or is taken.
    """
    plain = "-".join("".join(c if c.isalnum() else " " for c in name).split()).casefold()
    path = workspace.folder / FOLDER / f"{plain}.toml"
    if not plain or path.exists():
        problem = "is taken" if plain else "has no letter or digit"
        raise FarmFileError([Fault(f"{FOLDER}/", "name", name, problem, "a new name of letters and digits")])
    path.parent.mkdir(exist_ok=True)
    path.write_text(study_text(study), encoding="utf-8")
    return path


def study_text(study: Study) -> str:
    """Return a study as TOML; the text of JSON strings and lists is TOML too."""
    lines = [f"question = {_quoted(study.question)}", f"always = {_listed(study.always)}"]
    for way in study.ways:
        lines += ["", "[[way]]", f"name = {_quoted(way.name)}", f"changes = {_listed(way.changes)}"]
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _listed(lines: Sequence[str]) -> str:
    return "[" + ", ".join(_quoted(line) for line in lines) + "]"
