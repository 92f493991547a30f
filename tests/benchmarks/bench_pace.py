"""What it is worth to learn how long machines really take: springs played with work that takes longer than the farm file says.

    python -m tests.benchmarks.bench_pace [springs]

Each spring of the wet week is played four times: machines truly as the farm file says and a quarter slower, with what reports
teach used and not used. Forecasts and weather are the same for all four. Played reports teach no pace otherwise; here they do.
"""

from __future__ import annotations

import multiprocessing
import sys
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path

import numpy as np

from scheduler.events import derive, paces
from scheduler.events.situation import Situation
from scheduler.farm.farm import Farm
from scheduler.farm.learned_pace import LearnedPace
from scheduler.planning.execute import carry_out, work_minutes
from scheduler.planning.plan import PlanBlock
from scheduler.whatif import spring
from scheduler.whatif.season import play_task, season_weather
from scheduler.whatif.spring import Rules
from scheduler.whatif.study import PRESENT, Way
from scheduler.wiring.season import open_season
from scheduler.wiring.workspace import open_farm

SCENARIO = Path(__file__).resolve().parents[2] / "scenarios" / "wet-week"
NOW = datetime.fromisoformat("2027-05-10T05:00:00-05:00")
DAYS, EFFORT_S, SPRINGS = 27, 0.4, 5
TRUE = (1.0, 1.25)
with_paces = paces.with_paces


def nominal_minutes(block: PlanBlock, situation: Situation) -> float:
    """Return what the farm file says a block takes, whatever was learned."""
    machines = tuple(m.model_copy(update={"time_factor": 1.0}) for m in situation.farm.machines)
    return work_minutes(
        block, replace(situation, farm=situation.farm.model_copy(update={"machines": machines}))
    )


def as_written(farm: Farm, learned: Mapping[str, LearnedPace]) -> Farm:
    """Return the farm without what was learned."""
    return farm


def played(task: tuple[int, float, bool]) -> tuple[tuple[int, float, bool], float]:
    """Return what one spring comes to [money]; runs in a process of its own, since it changes what springs are played with."""
    number, slower, learn = task
    paces.PLAYED = "nobody"
    spring.work_minutes = nominal_minutes
    spring.carry_out = partial(carry_out, slower=slower)
    derive.with_paces = with_paces if learn else as_written
    rules = Rules((NOW + timedelta(days=DAYS)).date(), members=8)
    season = open_season(
        open_farm(SCENARIO, quiet_log=True), (Way(name=PRESENT),), NOW, rules, 8, "made", 3, EFFORT_S
    )
    return task, float(str(play_task(season, season_weather(season), (0, number))["total"]))


def main(springs: int) -> None:
    """Print what learning saves where machines are slower than thought, and what it costs where they are not."""
    tasks = [(k, slower, learn) for k in range(springs) for slower in TRUE for learn in (False, True)]
    with multiprocessing.get_context("spawn").Pool(2, maxtasksperchild=1) as pool:
        found = dict(pool.imap_unordered(played, tasks))
    for slower in TRUE:
        off, on = (np.array([found[k, slower, learn] for k in range(springs)]) for learn in (False, True))
        saved = off - on
        print(
            f"work takes {slower:.2f} times the farm file's time: loss {off.mean():,.0f}, learning saves {saved.mean():,.0f}"
            f" +- {saved.std(ddof=1) / springs**0.5:,.0f} ({saved.mean() / off.mean():.1%}), {springs} springs"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else SPRINGS)
