"""`fitground season`: how this set of machines and people comes through many springs."""

from __future__ import annotations

import os
import sys
from dataclasses import asdict
from datetime import date, datetime, time, timedelta
from pathlib import Path

import click

from scheduler.cli.bars import Bar
from scheduler.cli.frame import (
    farm_argument,
    json_option,
    now_option,
    open_workspace,
    print_json,
    read_day,
    read_now,
    sentences,
)
from scheduler.whatif.forecaster import SKILL_DAYS
from scheduler.whatif.season import summarise
from scheduler.whatif.spring import Rules
from scheduler.whatif.study import PRESENT, Study, Way
from scheduler.whatif.tell_season import season_text
from scheduler.wiring.news import settings_now
from scheduler.wiring.season import open_season, run_season
from scheduler.wiring.whatif import open_study

SEASON_DAYS = 75

HELP = """Play the coming weeks under many weathers, every morning planned anew, and compare ways.

Each -c is a way of its own (words as in `fitground whatif --help`; join changes of one way with ' + '). Without a study
and without -c only the present set of machines and people is played. A spring takes about half a minute of one core.

\b
  fitground season FARM --springs 10
  fitground season FARM -c 'hire "Second planter" like planter cost "16000 $"' --springs 20 --out second-planter
  fitground season FARM planter-down --out planter-down      (stopped with Ctrl-C? the same line goes on)
"""


@click.command(help=HELP)
@farm_argument
@click.argument("study", required=False)
@click.option(
    "-c", "--change", "changes", multiple=True, metavar="WORDS", help="A way of its own; repeat it."
)
@click.option("--springs", default=10, show_default=True, type=click.IntRange(1, 1000))
@click.option(
    "--until", default=None, metavar="DATE", help=f"Last day played (default: {SEASON_DAYS} days on)."
)
@click.option("--weather", default="made", show_default=True, type=click.Choice(["made", "past"]),
              help="Springs made by a generator fitted to the farm's past years, or those years themselves.")  # fmt: skip
@click.option("--skill-days", default=SKILL_DAYS, show_default=True, type=click.FloatRange(0.1, 60),
              help="How far forecasts see: on day k they follow the truth with odds exp(-k/N).")  # fmt: skip
@click.option(
    "--again",
    multiple=True,
    metavar="HH:MM",
    callback=lambda context, parameter, texts: tuple(sorted({_clock(text) for text in texts})),
    help="Plan each day anew at this hour too, with what got done by then reported; repeat it.",
)
@click.option(
    "--seconds", default=0.3, show_default=True, type=click.FloatRange(0.05, 60), help="Effort per morning."
)
@click.option(
    "--seed", default=1, show_default=True, help="Of all weathers; the same seed, the same springs."
)
@click.option(
    "--processes",
    default=None,
    type=click.IntRange(1, 256),
    help="Springs played at a time (default: cores).",
)
@click.option(
    "--cluster", default=None, metavar="ADDRESS", help="Play on the Dask cluster at this address instead."
)
@click.option(
    "--out",
    default=None,
    type=click.Path(path_type=Path),
    help="Folder for the results (Parquet); goes on there.",
)
@json_option
@now_option
@sentences
def season(
    farm: Path, study: str | None, changes: tuple[str, ...], springs: int, until: str | None, weather: str,
    skill_days: float, again: tuple[time, ...], seconds: float, seed: int, processes: int | None, cluster: str | None, out: Path | None,
    as_json: bool, now: str | None,
) -> None:  # fmt: skip
    """Play many springs (the help text is `HELP`)."""
    workspace = open_workspace(farm)
    asked = open_study(workspace, study) if study is not None else Study()
    ways = tuple(
        Way(name=change[:80], changes=tuple(part.strip() for part in change.split(" + ")))
        for change in changes
    )
    asked = asked.model_copy(update={"ways": asked.ways + ways})
    moment = read_now(now, workspace)
    first = moment.astimezone(workspace.zone).date()
    last = read_day(until) if until else first + timedelta(days=SEASON_DAYS)
    rules = Rules(
        last,
        forecast_days=settings_now(workspace, moment).horizon_days,
        skill_days=skill_days,
        again=again,
    )
    opened = open_season(workspace, asked.all_ways(), moment, rules, springs, weather, seed, seconds)
    try:
        rows = run_season(opened, out, processes or os.cpu_count() or 1, cluster, Bar("springs"))
    except KeyboardInterrupt:
        kept = (
            f"what is done is kept in {out}; the same command goes on"
            if out
            else "nothing was kept (no --out)"
        )
        click.echo(f"\nStopped: {kept}.", err=True)
        sys.exit(130)
    found = summarise(rows, PRESENT)
    if as_json:
        print_json({"question": asked.question, "springs": springs, "weather": weather, "seed": seed,
                    "ways": [asdict(one) for one in found]})  # fmt: skip
        return
    click.echo(
        season_text(asked.question, found, workspace.farm, _as_of(workspace.farm.name, first, last), again)
    )


def _clock(text: str) -> time:
    """Return a time of day."""
    try:
        return datetime.strptime(text, "%H:%M").time()
    except ValueError as error:
        raise click.BadParameter(
            f"{text!r} is no time of day; allowed: hours and minutes such as 10:00."
        ) from error


def _as_of(name: str, first: date, last: date) -> str:
    return f"{name}, {first:%a %d %b} to {last:%d %b %Y}"
