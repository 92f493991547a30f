"""`fitground calendar`: the plan as calendar files, one for each person and each machine."""

from __future__ import annotations

from pathlib import Path

import click

from scheduler.cli.frame import farm_argument, now_option, open_workspace, read_now, sentences
from scheduler.wiring.calendars import write_feeds


@click.command()
@farm_argument
@click.option(
    "--out", default=Path("calendars"), show_default=True, type=click.Path(path_type=Path, file_okay=False)
)
@now_option
@sentences
def calendar(farm: Path, out: Path, now: str | None) -> None:
    """Write calendar files (.ics) of the issued plans: moved work moves, work called off is marked so."""
    workspace = open_workspace(farm)
    for path in write_feeds(workspace, out, read_now(now, workspace)):
        click.echo(str(path))
