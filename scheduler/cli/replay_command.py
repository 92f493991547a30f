"""`fitground replay`: play a scenario's news morning by morning, with a plan, its changes and a page for each."""

from __future__ import annotations

import shutil
from datetime import date, datetime
from pathlib import Path
from time import perf_counter

import click

from scheduler.cli.frame import Thinking, json_option, print_json, sentences
from scheduler.crew.day_list import day_lists
from scheduler.crew.page import morning_page
from scheduler.crew.paper import day_list_page
from scheduler.crew.plan_text import plan_text
from scheduler.wiring.mornings import Morning, issue, plan_morning
from scheduler.wiring.news import news_files, take_news_file
from scheduler.wiring.workspace import Workspace, open_farm


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@click.option(
    "--out", default=Path("out"), show_default=True, type=click.Path(path_type=Path), help="Where pages go."
)
@click.option("--mornings", default=None, type=click.IntRange(1), help="Only the first so many.")
@click.option("--seconds", default=None, type=click.FloatRange(0.1, 3600), help="Thinking time a morning.")
@json_option
@sentences
def replay(scenario: Path, out: Path, mornings: int | None, seconds: float | None, as_json: bool) -> None:
    """Play SCENARIO (a farm folder with news/DATE.jsonl) day by day; the folder itself stays as it is."""
    farm_copy = out / "farm"
    if farm_copy.exists():
        shutil.rmtree(farm_copy)
    open_farm(scenario, quiet_log=True)
    shutil.copytree(scenario, farm_copy, ignore=shutil.ignore_patterns("*.sqlite*"))
    workspace = open_farm(farm_copy)
    rows = []
    for day, news in news_files(workspace)[:mornings]:
        began = perf_counter()
        morning = _one_morning(workspace, day, news, seconds)
        page, sheets = _write_pages(morning, out, day)
        rows.append(_row(morning, day, page, perf_counter() - began))
        if not as_json:
            click.echo(plan_text(morning.plan, morning.situation.farm, morning.changes, morning.news))
            click.echo(f"Page: {page}   Day lists to print: {sheets}\n")
    if as_json:
        print_json(rows)
        return
    _summary(rows)


def _one_morning(workspace: Workspace, day: date, news: Path | None, seconds: float | None) -> Morning:
    now = datetime.combine(day, workspace.farm.plan.issue_at, workspace.zone)
    if news is not None:
        for line in take_news_file(workspace, news, now):
            click.echo(f"news: {line}", err=True)
    thinking = Thinking()
    morning = plan_morning(workspace, now, seconds=seconds, progress=thinking)
    thinking.done()
    issue(workspace, morning)
    return morning


def _write_pages(morning: Morning, out: Path, day: date) -> tuple[Path, Path]:
    page, sheets = out / f"{day}-morning.html", out / f"{day}-day-lists.html"
    page.write_text(
        morning_page(morning.plan, morning.situation, morning.outlook, morning.changes, morning.news),
        encoding="utf-8",
    )
    sheets.write_text(
        day_list_page(day_lists(morning.plan, morning.situation, morning.outlook, day)), encoding="utf-8"
    )
    return page, sheets


def _row(morning: Morning, day: date, page: Path, seconds: float) -> dict[str, object]:
    value = morning.plan.value
    return {
        "morning": day.isoformat(), "blocks": len(morning.plan.blocks), "changes": len(morning.changes.rows) if morning.changes else 0,
        "value": round(value.total), "dispatch": round(value.dispatch_total), "bound": round(value.bound),
        "gap": round(value.gap, 4), "checked": True, "page": str(page), "seconds": round(seconds, 1),
    }  # fmt: skip


def _summary(rows: list[dict[str, object]]) -> None:
    click.echo("morning      blocks  changes      value   by hand  ratio  not proven  seconds")
    for row in rows:
        value, hand = float(str(row["value"])), float(str(row["dispatch"]))
        ratio = f"{value / hand:.2f}" if hand else "-"
        click.echo(
            f"{row['morning']:<12} {row['blocks']!s:>6}  {row['changes']!s:>7}  {value:>9,.0f} {hand:>9,.0f}"
            f"  {ratio:>5}  {float(str(row['gap'])):>10.1%}  {row['seconds']!s:>7}"
        )
    click.echo(
        "value: expected loss and cost of the remaining season; by hand: the dispatch rule on the same morning"
    )
