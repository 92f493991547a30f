"""`fitground worth`: what one more of each thing is worth, over the coming days and over whole springs."""

from __future__ import annotations

import os
from dataclasses import asdict
from datetime import datetime, timedelta
from pathlib import Path

import click

from scheduler.cli.bars import Bar
from scheduler.cli.frame import (
    farm_argument,
    json_option,
    now_option,
    open_workspace,
    print_json,
    read_now,
    sentences,
)
from scheduler.cli.season_command import SEASON_DAYS
from scheduler.events.derive import situation as derive_situation
from scheduler.events.state import State, fold
from scheduler.whatif.outcome import sure_from
from scheduler.whatif.run import Morning
from scheduler.whatif.season import WaySummary, summarise
from scheduler.whatif.spring import Rules
from scheduler.whatif.study import PRESENT, Way
from scheduler.whatif.tell import worth_text
from scheduler.whatif.tell_season import season_text
from scheduler.whatif.worth import KINDS, Worth, one_more_of_each, worths
from scheduler.wiring.news import settings_now
from scheduler.wiring.season import open_season, run_season
from scheduler.wiring.whatif import Tell, effort_s, run_ways, what_if_morning
from scheduler.wiring.workspace import Workspace

SECONDS = 0.7
"""For one search of a line, up to 15 fields."""


@click.command()
@farm_argument
@click.option(
    "--seconds",
    default=None,
    type=click.FloatRange(0.2, 600),
    help="Effort of each of the two searches per line (default: 0.7 for 15 fields, more for more).",
)
@click.option("--kind", "only", multiple=True, type=click.Choice(KINDS), help="Only this kind; repeat it.")
@click.option(
    "--processes", default=None, type=click.IntRange(1, 256), help="Lines worked at a time (default: cores)."
)
@click.option(
    "--springs", default=0, type=click.IntRange(0, 200), help="Also play the dearest through so many springs."
)
@click.option("--top", default=3, show_default=True, type=click.IntRange(1, 20), help="How many of them.")
@json_option
@now_option
@sentences
def worth(
    farm: Path,
    seconds: float | None,
    only: tuple[str, ...],
    processes: int | None,
    springs: int,
    top: int,
    as_json: bool,
    now: str | None,
) -> None:
    """What one more hour, day, person, machine, width or tank load is worth, dearest first."""
    workspace = open_workspace(farm)
    moment = read_now(now, workspace)
    morning = what_if_morning(workspace, moment, seconds or effort_s(len(workspace.farm.fields), SECONDS))
    kinds = {name: pair for name, pair in _asked(morning).items() if not only or pair[0] in only}
    ways = (Way(name=PRESENT), *(way for _, way in kinds.values()))
    found = run_ways(morning, ways, processes or os.cpu_count() or 1, _ways_bar())
    sure = sure_from(one.total_apart for one in found if not one.refused)
    priced = worths(kinds, found)
    played = _played(workspace, moment, priced[:top], springs, processes) if springs else []
    if as_json:
        print_json(
            {
                "sure_from": sure, "worth": [asdict(one) for one in priced],
                "springs": [asdict(one) for one in played],
            }
        )  # fmt: skip
        return
    as_of = f"{workspace.farm.name}, as of {moment.astimezone(workspace.zone):%a %d %b %H:%M}"
    click.echo(worth_text(priced, sure, as_of, morning.horizon.days))
    if played:
        click.echo(season_text("The same over the season", played, workspace.farm, f"{springs} springs"))


def _asked(morning: Morning) -> dict[str, tuple[str, Way]]:
    """Return what is asked for, of the farm as the news leave it: with what was hired, without what is down."""
    there = derive_situation(morning.farm, fold(State(), morning.records), morning.now)
    missing = {**there.machine_down, **there.operator_away}
    apart = [
        name
        for name, spans in missing.items()
        if any(one.end is None or one.end > there.now for one in spans)
    ]
    return one_more_of_each(there.farm, apart)


def _played(
    workspace: Workspace, moment: datetime, dearest: list[Worth], springs: int, processes: int | None
) -> list[WaySummary]:
    """Return the dearest ways over whole springs, beside the present one."""
    ways = (Way(name=PRESENT), *(Way(name=one.name, changes=one.changes) for one in dearest))
    last = moment.astimezone(workspace.zone).date() + timedelta(days=SEASON_DAYS)
    rules = Rules(last, forecast_days=settings_now(workspace, moment).horizon_days)
    study = open_season(workspace, ways, moment, rules, springs, "made", 1, 0.3)
    rows = run_season(study, None, processes or os.cpu_count() or 1, None, Bar("springs"))
    return summarise(rows, PRESENT)


def _ways_bar() -> Tell:
    bar = Bar("searches")
    return lambda name, done, total: bar(done, total, name)
