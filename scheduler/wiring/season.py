"""Season odds joined: springs over the cores of this machine or a Dask cluster, every finished one kept at once."""

from __future__ import annotations

import json
import multiprocessing
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError, ProcessPoolExecutor, as_completed
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pandas as pd

from scheduler.whatif.season import Row, Season, play_task, season_weather
from scheduler.whatif.spring import Rules
from scheduler.whatif.study import Way
from scheduler.wiring.whatif import what_if_morning
from scheduler.wiring.workspace import Workspace
from shared.errors import FitgroundError

Tell = Callable[[int, int], None]
RETRIES = 3
"""A spring whose worker died is played again so often."""


def open_season(
    workspace: Workspace, ways: tuple[Way, ...], now: datetime, rules: Rules, springs: int, weather: str,
    seed: int, seconds: float,
) -> Season:  # fmt: skip
    """Return a season study of a farm as it stands; the plan's horizon is as in the farm file."""
    start = replace(what_if_morning(workspace, now, seconds), forecast=None)
    first = now.astimezone(workspace.zone).date()
    if rules.last_day <= first:
        raise FitgroundError(f"the last day {rules.last_day} is not after {first}; allowed: a later day.")
    return Season(start, ways, rules, springs, weather, seed)


def run_season(
    season: Season,
    folder: Path | None,
    processes: int = 1,
    cluster: str | None = None,
    tell: Tell | None = None,
) -> list[Row]:
    """Return the rows of a season study; what lies finished in `folder` is not played again.

    Parameters
    ----------
    folder : Path or None
        Each finished spring is written there at once (Parquet), so that a stopped study goes on where it was.
    processes : int
        On this machine.
    cluster : str, optional
        Address of a Dask scheduler; its workers need fitground installed.
    tell : callable, optional
        Told (done, of how many) after each spring.

    Raises
    ------
    FitgroundError
        The folder holds another study, or the cluster cannot be reached.
    """
    done = {} if folder is None else _kept(season, folder)
    tasks = [task for task in season.tasks() if task not in done]
    total = len(season.tasks())
    weather = season_weather(season)
    played = (
        _on_cluster(season, weather, tasks, cluster) if cluster else _here(season, weather, tasks, processes)
    )
    for task, row in played:
        done[task] = row
        if folder is not None:
            _keep(folder, task, row)
        if tell is not None:
            tell(len(done), total)
    rows = [done[task] for task in season.tasks()]
    if folder is not None:
        pd.DataFrame(rows).to_parquet(folder / "season.parquet", index=False)
    return rows


def _here(
    season: Season, weather: Any, tasks: list[tuple[int, int]], processes: int
) -> Iterator[tuple[Any, Row]]:
    if processes <= 1 or len(tasks) <= 1:
        yield from ((task, play_task(season, weather, task)) for task in tasks)
        return
    with ProcessPoolExecutor(min(processes, len(tasks)), multiprocessing.get_context("spawn")) as pool:
        waiting = {pool.submit(play_task, season, weather, task): task for task in tasks}
        try:
            for ready in as_completed(waiting):
                yield waiting[ready], ready.result()
        except BaseException:
            # Ctrl-C: springs not begun are given up, so that the command ends with the running ones.
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def _on_cluster(
    season: Season, weather: Any, tasks: list[tuple[int, int]], address: str
) -> Iterator[tuple[Any, Row]]:
    try:
        from distributed import Client
        from distributed import as_completed as as_done
    except ImportError as error:
        raise FitgroundError(
            "--cluster needs Dask; install it with: pip install 'fitground[cluster]'."
        ) from error
    try:
        client = Client(address, timeout=10)
    except OSError as error:
        raise FitgroundError(
            f"the cluster {address!r} cannot be reached; allowed: the address of a Dask scheduler."
        ) from error
    with client:
        left = tasks
        for _ in range(1 + RETRIES):
            # What all springs share is a piece of work too, so that the cluster can make it again where it is lost.
            shared = client.submit(_both, season, weather, pure=False)
            waiting = {client.submit(_play, shared, task, pure=False, retries=RETRIES): task for task in left}
            left = []
            for ready, row in as_done(list(waiting), with_results=True):
                if isinstance(row, CancelledError):
                    # Given up by the cluster together with a worker: handed out once more.
                    left.append(waiting[ready])
                else:
                    yield waiting[ready], row
            if not left:
                return
    raise FitgroundError(
        f"the cluster {address!r} lost {len(left)} springs {1 + RETRIES} times; see its workers, then run it again."
    )


def _both(season: Season, weather: Any) -> tuple[Season, Any]:
    return season, weather


def _play(shared: tuple[Season, Any], task: tuple[int, int]) -> Row:
    return play_task(*shared, task)


# ---- what is kept ---------------------------------------------------------------------------------------------
def _kept(season: Season, folder: Path) -> dict[tuple[int, int], Row]:
    folder.mkdir(parents=True, exist_ok=True)
    label, mark = folder / "study.json", season.mark()
    if label.exists():
        known = json.loads(label.read_text(encoding="utf-8")).get("mark")
        if known != mark:
            raise FitgroundError(
                f"{folder} holds another season study; choose an empty folder to begin this one."
            )
    else:
        said = {"mark": mark, "ways": [way.model_dump(mode="json") for way in season.ways], "seed": season.seed,
                "weather": season.weather, "last_day": season.rules.last_day.isoformat()}  # fmt: skip
        label.write_text(json.dumps(said, ensure_ascii=False, indent=1), encoding="utf-8")
    found = {}
    for task in season.tasks():
        path = _part(folder, task)
        if path.exists():
            kept = pd.read_parquet(path).iloc[0].to_dict()
            found[task] = {str(key): value for key, value in kept.items()}
    return found


def _keep(folder: Path, task: tuple[int, int], row: Row) -> None:
    """Write a row whole or not at all."""
    path = _part(folder, task)
    path.parent.mkdir(exist_ok=True)
    draft = path.with_suffix(".part")
    pd.DataFrame([row]).to_parquet(draft, index=False)
    draft.replace(path)


def _part(folder: Path, task: tuple[int, int]) -> Path:
    return folder / "springs" / f"way{task[0]:02d}-spring{task[1]:04d}.parquet"
