"""Springs played: forecasts that know no more than stated, days carried out truly, studies that can be stopped and shared."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from datetime import time as time_of_day
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

from scheduler.cli.main import main
from scheduler.events.situation import Situation
from scheduler.planning.execute import carry_out
from scheduler.planning.plan import Plan, PlanBlock, Value
from scheduler.planning.schedule import make_plan
from scheduler.whatif import spring
from scheduler.whatif.forecaster import Pool, forecast_of, seen
from scheduler.whatif.season import Season, season_weather, summarise
from scheduler.whatif.spring import Rules
from scheduler.whatif.study import PRESENT, Way
from scheduler.whatif.tell_season import season_text
from scheduler.wiring.season import open_season, run_season
from scheduler.wiring.workspace import open_farm
from shared.errors import FitgroundError
from shared.weather_records import HourlyWeather

WET_WEEK = Path(__file__).resolve().parents[2] / "scenarios" / "wet-week"
NOW = datetime.fromisoformat("2027-05-10T05:00:00-05:00")


def season(springs: int = 2, days: int = 1, ways: tuple[Way, ...] = (), weather: str = "made") -> Season:
    workspace = open_farm(WET_WEEK, quiet_log=True)
    all_ways = (Way(name=PRESENT), *ways)
    rules = Rules(NOW.date() + timedelta(days=days), members=4, forecast_days=6)
    return open_season(workspace, all_ways, NOW, rules, springs, weather, 3, 0.1)


# ---- what could be known ---------------------------------------------------------------------------------


def rainy_pool(years: int, days: int, seed: int) -> HourlyWeather:
    """Return years in which each day rains with odds of 0.35, one hour at noon."""
    rng = np.random.default_rng(seed)
    rain = np.zeros((years, days * 24))
    rain[:, 12::24] = 5.0 * (rng.random((years, days)) < 0.35)
    flat = np.full_like(rain, 15.0)
    return HourlyWeather(datetime(2027, 5, 1, tzinfo=UTC), rain, flat, flat, flat, flat)


def test_forecasts_are_reliable_and_know_less_the_further_they_look() -> None:
    """Of the days on which a share p of the members has rain, a share near p has rain (sampling error below 0.04)."""
    said: list[list[float]] = [[] for _ in range(8)]
    came: list[list[bool]] = [[] for _ in range(8)]
    rng = np.random.default_rng(11)
    weather = rainy_pool(60, 8, 5)
    for k in range(900):
        pool = Pool(weather, k % weather.members)
        told = forecast_of(pool, weather.start_utc, 8, 40, 5.0, rng)
        for lead in range(8):
            said[lead].append(float((told.rain_mm[:, lead * 24 + 12] > 0).mean()))
            came[lead].append(bool(weather.rain_mm[pool.truth, lead * 24 + 12] > 0))
    p, rained = np.concatenate(said), np.concatenate(came)
    for low, high in ((0.0, 0.2), (0.2, 0.4), (0.4, 0.6), (0.6, 0.8), (0.8, 1.01)):
        rows = (p >= low) & (p < high)
        assert rained[rows].mean() == pytest.approx(p[rows].mean(), abs=0.06)
    brier = [float(np.mean((np.array(s) - np.array(c)) ** 2)) for s, c in zip(said, came, strict=True)]
    base = [float(np.mean(c)) for c in came]
    usual = [b * (1 - b) for b in base]  # Brier score of the climatological chance of that day in this pool
    skill = [1 - score / none for score, none in zip(brier, usual, strict=True)]
    assert skill[0] > 0.5 and skill[0] > skill[3] > skill[7] > -0.1


def test_nobody_sees_the_truth_ahead() -> None:
    """With a skill of nearly nothing no member follows the truth, and what was observed ends now."""
    weather = rainy_pool(20, 6, 2)
    pool = Pool(replace(weather, temp_c=np.arange(20.0)[:, None] + np.zeros_like(weather.rain_mm)), 4)
    blind = forecast_of(pool, weather.start_utc, 6, 30, 1e-6, np.random.default_rng(1))
    assert not (blind.temp_c == 4.0).any()
    now = weather.start_utc + timedelta(hours=29)
    before = HourlyWeather(weather.start_utc - timedelta(hours=5), *(np.zeros((1, 5)) for _ in range(5)))
    assert seen(pool, before, now).end_utc == now


# ---- a day carried out -----------------------------------------------------------------------------------


def two_blocks() -> Plan:
    day = date(2027, 5, 10)

    def block(name: str, first: int, last: int, waits: tuple[str, ...] = ()) -> PlanBlock:
        start, end = (NOW.replace(hour=hour) for hour in (first, last))
        return PlanBlock(
            id=name,
            field="f",
            pass_id=name,
            start=start,
            end=end,
            rig=None,
            operator="ann",
            area_ha=20.0,
            waits_for=waits,
        )

    value = Value(total=0, bound=0, gap=0, dispatch_total=0, parts={}, status="FEASIBLE")
    return Plan(
        id="p", farm="x", made_at=NOW, first_day=day, days=1, time_zone="America/Chicago",
        blocks=(block("band", 7, 11), block("plant", 12, 16, ("band",))), value=value,
    )  # fmt: skip


def test_a_block_runs_in_truly_fit_quarters_and_its_follower_waits() -> None:
    plan, midnight = two_blocks(), NOW.replace(hour=0)
    every = np.ones(24, bool)
    late = every.copy()
    late[:9] = False
    dry = carry_out(plan, plan.first_day, {"band": every, "plant": every}, midnight)
    assert [(d.area_ha, d.lost_h, d.finished) for d in dry] == [(20.0, 0.0, True)] * 2
    wet = carry_out(plan, plan.first_day, {"band": late, "plant": every}, midnight)
    assert (wet[0].area_ha, wet[0].lost_h, wet[0].started_at) == (10.0, 2.0, NOW.replace(hour=9))
    assert (wet[1].area_ha, wet[1].lost_h) == (0.0, 4.0)
    none = carry_out(plan, plan.first_day, {}, midnight)
    assert all(d.area_ha == 0.0 and d.started_at is None for d in none)


def test_a_day_cut_at_a_time_leaves_the_rest_to_the_next_plan() -> None:
    plan, midnight = two_blocks(), NOW.replace(hour=0)
    every = np.ones(24, bool)
    late = every.copy()
    late[:9] = False
    cut = carry_out(
        plan, plan.first_day, {"band": every, "plant": every}, midnight, until=NOW.replace(hour=10)
    )
    (band,) = cut
    assert band.area_ha == pytest.approx(20.0 * 3 / 4)
    assert (band.lost_h, band.ended_at, band.block.end) == (0.0, NOW.replace(hour=10), NOW.replace(hour=10))
    (wet,) = carry_out(plan, plan.first_day, {"band": late}, midnight, until=NOW.replace(hour=8))
    assert (wet.area_ha, wet.lost_h, wet.started_at) == (0.0, 1.0, None)
    both = carry_out(
        plan, plan.first_day, {"band": every, "plant": every}, midnight, until=NOW.replace(hour=13)
    )
    assert [one.area_ha for one in both] == pytest.approx([20.0, 5.0])


def test_a_machine_that_is_truly_slower_gets_less_done_and_people_on_foot_do_not() -> None:
    plan, midnight = two_blocks(), NOW.replace(hour=0)
    by_rig = plan.model_copy(
        update={"blocks": tuple(b.model_copy(update={"rig": "big+bar"}) for b in plan.blocks[:1])}
    )
    every = {"band": np.ones(24, bool)}
    slow, walk = (carry_out(one, plan.first_day, every, midnight, slower=1.25)[0] for one in (by_rig, plan))
    assert (slow.area_ha, walk.area_ha) == (pytest.approx(20.0 / 1.25), 20.0)
    # Three hours of work in a block of four, a quarter slower: fifteen quarter hours of sixteen.
    (spare,) = carry_out(by_rig, plan.first_day, every, midnight, {"band": 180.0}, slower=1.25)
    assert (spare.area_ha, spare.ended_at) == (20.0, NOW.replace(hour=10, minute=45))


def test_a_day_planned_again_goes_on_from_what_was_reported(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two plans a day, the second with the work of the morning in it; nothing is done twice."""
    seen_by: list[tuple[datetime, float]] = []

    def noted(situation: Situation, *args: Any, **more: Any) -> Plan:
        done = sum(state.done_ha for state in situation.passes.values())
        seen_by.append((situation.now, done))
        return make_plan(situation, *args, **more)

    monkeypatch.setattr(spring, "make_plan", noted)
    study = season(springs=1)
    rules = replace(study.rules, again=(time_of_day(13), time_of_day(10)))
    (row,) = run_season(replace(study, rules=rules), None, 1)
    clocks = [moment.astimezone(NOW.tzinfo).hour for moment, _ in seen_by]
    assert clocks == [5, 10, 13] * row["days"]
    done = [area for _, area in seen_by]
    assert done == sorted(done) and done[2] > done[0]
    farm = study.start.farm
    for name, value in row.items():
        if name.startswith("left_ha:"):
            assert 0 <= value <= sum(field.area_ha for field in farm.fields)
    text = season_text("", summarise([row], PRESENT), farm, "", rules.again)
    assert "planned every morning and at 10:00 and at 13:00 on forecasts" in " ".join(text.split())
    # Plans of the morning alone are another study.
    assert replace(study, rules=rules).mark() != study.mark()


@pytest.mark.parametrize("text", ["noon", "25:99", "10"])
def test_an_hour_that_is_none_is_refused_in_a_sentence(text: str) -> None:
    found = CliRunner().invoke(main, ["season", str(WET_WEEK), "--again", text])
    assert found.exit_code == 2
    assert f"{text!r} is no time of day; allowed: hours and minutes such as 10:00." in found.output


# ---- studies ---------------------------------------------------------------------------------------------


def test_played_twice_the_same_and_no_change_is_no_difference() -> None:
    study = season(
        springs=1, ways=(Way(name="nothing"), Way(name="down", changes=("out planter", "out sprayer")))
    )
    rows = run_season(study, None, 1)
    assert run_season(study, None, 2) == rows
    by_way = {row["way"]: row for row in rows}
    assert {k: v for k, v in by_way["nothing"].items() if k != "way"} == {
        k: v for k, v in by_way[PRESENT].items() if k != "way"
    }
    assert by_way["down"]["left_ha:plant"] > by_way[PRESENT]["left_ha:plant"]
    found = summarise(rows, PRESENT)
    assert found[0].name == PRESENT and found[0].saves == 0.0
    assert {one.name: one.saves for one in found}["nothing"] == 0.0


def test_a_stopped_study_goes_on_where_it_was(tmp_path: Path) -> None:
    study, whole = season(), played_here()

    def stop(done: int, total: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run_season(study, tmp_path, 1, tell=stop)
    assert len(list((tmp_path / "springs").glob("*.parquet"))) == 1
    told: list[int] = []
    rows = run_season(study, tmp_path, 1, tell=lambda done, total: told.append(done))
    assert told == [2]
    assert [row["total"] for row in rows] == [row["total"] for row in whole]
    assert (tmp_path / "season.parquet").exists()
    with pytest.raises(FitgroundError, match="holds another season study"):
        run_season(season(days=3), tmp_path, 1)


def test_past_years_are_played_as_they_were() -> None:
    study = season(springs=3, weather="past")
    hours = season_weather(study)
    normals = study.start.normals
    newest = max(
        k
        for k, day in enumerate(normals.dates())
        if (day.month, day.day) == (5, 10) and k + 20 <= normals.days
    )
    day_two = hours.rain_mm[0, 19 : 19 + 24].sum()
    assert day_two == pytest.approx(normals.rain_mm[0, newest + 1])
    with pytest.raises(FitgroundError, match="whole springs"):
        season_weather(season(springs=500, weather="past"))


class LosingCluster:
    """Stands for Dask's client: of the first `rounds` handings-out one spring comes back cancelled."""

    def __init__(self, rounds: int) -> None:
        self.rounds, self.handed_out = rounds, 0
        self.work: dict[object, Callable[[], Any]] = {}

    def __call__(self, address: str, timeout: int) -> LosingCluster:
        return self

    def __enter__(self) -> LosingCluster:
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def submit(self, work: Any, *args: Any, pure: bool, retries: int = 0) -> object:
        future = object()
        self.handed_out += retries == 0
        # What is lost is never worked on, as far as anybody can see.
        self.work[future] = cache(lambda: work(*(self.work[x]() if type(x) is object else x for x in args)))
        return future

    def as_completed(self, futures: list[Any], with_results: bool) -> Iterator[tuple[Any, Any]]:
        for k, future in enumerate(futures):
            lost = k == 0 and self.handed_out <= self.rounds
            yield future, CancelledError() if lost else self.work[future]()


@cache
def played_here() -> list[dict[str, Any]]:
    """Return what two springs come to without a cluster; never changed by those who ask."""
    return run_season(season(), None, 1)


def test_springs_that_a_cluster_loses_are_handed_out_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """The only worker that holds what all springs share may die: Dask then cancels them and says no more."""
    distributed = pytest.importorskip("distributed", reason="Dask is not installed")
    study, alone = season(), played_here()
    for rounds in (1, 9):
        client = LosingCluster(rounds)
        monkeypatch.setattr(distributed, "Client", client)
        monkeypatch.setattr(distributed, "as_completed", client.as_completed)
        if rounds == 1:
            assert run_season(study, None, 1, cluster="somewhere") == alone
            assert client.handed_out == 2
        else:
            with pytest.raises(FitgroundError, match="lost 1 springs 4 times"):
                run_season(study, None, 1, cluster="somewhere")


@pytest.mark.slow
def test_a_cluster_that_loses_a_worker_gives_the_same_answer() -> None:
    """A scheduler and two workers on loopback; one is killed in the middle."""
    pytest.importorskip("distributed", reason="Dask is not installed")
    study, alone = season(), played_here()
    env = {**os.environ, "DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "5"}
    run = [sys.executable, "-m"]
    started = []
    try:
        boss = subprocess.Popen(
            [*run, "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard"],
            stderr=subprocess.PIPE, text=True, env=env,
        )  # fmt: skip
        started.append(boss)
        assert boss.stderr is not None
        line = next(line for line in boss.stderr if "Scheduler at:" in line)
        address = line.split("Scheduler at:")[1].strip()
        for _ in range(2):
            worker = [
                *run,
                "distributed.cli.dask_worker",
                address,
                "--nthreads",
                "1",
                "--no-nanny",
                "--no-dashboard",
            ]
            started.append(subprocess.Popen(worker, stderr=subprocess.DEVNULL, env=env))
        killed = []

        def kill_one(done: int, total: int) -> None:
            if not killed:
                started[1].send_signal(signal.SIGKILL)
                killed.append(time.monotonic())

        rows = run_season(study, None, 1, cluster=address, tell=kill_one)
        assert killed and rows == alone
    finally:
        for process in reversed(started):
            process.kill()
            process.wait()
