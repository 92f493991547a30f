"""`fitground export`: plan, fit hours, odds and fields as open files."""

from __future__ import annotations

from pathlib import Path

import click

from scheduler.cli.frame import farm_argument, now_option, open_workspace, read_now, sentences
from scheduler.wiring.export import export_farm


@click.command()
@farm_argument
@click.option(
    "--out", default=Path("export"), show_default=True, type=click.Path(path_type=Path, file_okay=False)
)
@now_option
@sentences
def export(farm: Path, out: Path, now: str | None) -> None:
    """Write plan, fit hours and fields as CSV, Parquet, JSON (with its schema) and GeoJSON."""
    workspace = open_workspace(farm)
    for path in export_farm(workspace, out, read_now(now, workspace)):
        click.echo(str(path))
