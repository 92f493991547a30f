"""`fitground paper`, `calendar` and `export`: the plan on paper, in calendars, and as open files for analysis.

What they need is loaded when they are called: the other commands should not wait for it.
"""

from __future__ import annotations

from pathlib import Path

import click

from scheduler.cli.frame import (
    day_option,
    farm_argument,
    now_option,
    open_workspace,
    read_date,
    read_now,
    sentences,
    warn,
)
from shared.counted import counted


@click.command()
@farm_argument
@click.option(
    "--out",
    default=None,
    type=click.Path(path_type=Path, dir_okay=False),
    help="Default: day-lists.pdf or week.pdf.",
)
@click.option("--week", is_flag=True, help="The week board for the wall instead: who is where on which day.")
@click.option(
    "--language", default="en", show_default=True, type=click.Choice(["en", "es"]), help="Of the week board."
)
@click.option("--size", default="letter", show_default=True, type=click.Choice(["letter", "a4"]))
@day_option
@click.option(
    "--link",
    default="",
    metavar="ADDRESS",
    help="Address of the pages: a square code on each sheet opens that person's own.",
)
@now_option
@sentences
def paper(
    farm: Path, out: Path | None, week: bool, language: str, size: str, day_text: str | None, link: str, now: str | None
) -> None:  # fmt: skip
    """Write everybody's day list, or the week board, as PDF: black and white, one page a person."""
    from scheduler.web.door import Door
    from scheduler.wiring.lists import not_shown
    from scheduler.wiring.news import situation_now
    from scheduler.wiring.paper import day_pdf, week_pdf

    workspace = open_workspace(farm)
    moment = read_now(now, workspace)
    day = read_date("--date", day_text, moment.astimezone(workspace.zone).date())
    warn(not_shown(workspace, moment))
    out = out or Path("week.pdf" if week else "day-lists.pdf")
    out.parent.mkdir(parents=True, exist_ok=True)
    if week:
        out.write_bytes(week_pdf(workspace, day, size, language))
        click.echo(f"Week board written to {out}")
        return
    door, base = Door(workspace.book), link.rstrip("/")
    people = situation_now(workspace, moment)[1].farm.operators
    links = {one.id: f"{base}/crew/{door.link(one.id)}" for one in people} if base else {}
    content, pages = day_pdf(workspace, day, size, links, moment)
    out.write_bytes(content)
    click.echo(f"{counted(pages, 'page')} written to {out}")


@click.command()
@farm_argument
@click.option(
    "--out", default=Path("calendars"), show_default=True, type=click.Path(path_type=Path, file_okay=False)
)
@now_option
@sentences
def calendar(farm: Path, out: Path, now: str | None) -> None:
    """Write calendar files (.ics) of the issued plans: moved work moves, work called off is marked so."""
    from scheduler.wiring.calendars import write_feeds

    workspace = open_workspace(farm)
    for path in write_feeds(workspace, out, read_now(now, workspace)):
        click.echo(str(path))


@click.command()
@farm_argument
@click.option(
    "--out", default=Path("export"), show_default=True, type=click.Path(path_type=Path, file_okay=False)
)
@now_option
@sentences
def export(farm: Path, out: Path, now: str | None) -> None:
    """Write plan, fit hours and fields as CSV, Parquet, JSON (with its schema) and GeoJSON."""
    from scheduler.wiring.export import export_farm

    workspace = open_workspace(farm)
    for path in export_farm(workspace, out, read_now(now, workspace)):
        click.echo(str(path))
