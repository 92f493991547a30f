"""`fitground records`: what a farm must keep, filled from the reports, with a list of what is missing."""

from __future__ import annotations

from pathlib import Path

import click

from scheduler.cli.frame import (
    farm_argument,
    json_option,
    now_option,
    open_workspace,
    print_json,
    read_date,
    read_now,
    sentences,
)
from shared.counted import counted

SHOWN = 12


@click.command()
@farm_argument
@click.option(
    "--out", default=Path("records"), show_default=True, type=click.Path(path_type=Path, file_okay=False)
)
@click.option("--from", "first", default=None, metavar="DATE", help="Only work from this day on.")
@click.option("--to", "last", default=None, metavar="DATE", help="Only work up to this day.")
@click.option("--size", default="letter", show_default=True, type=click.Choice(["letter", "a4"]))
@json_option
@now_option
@sentences
def records(
    farm: Path, out: Path, first: str | None, last: str | None, size: str, as_json: bool, now: str | None
) -> None:
    """Write planting, acreage, applications and nitrogen as CSV and PDF, and say what is missing in them."""
    from scheduler.wiring.records import record_tables, write_farm_records

    workspace = open_workspace(farm)
    moment, days = read_now(now, workspace), (read_date("--from", first), read_date("--to", last))
    if as_json:
        tables, notes = record_tables(workspace, moment, *days)
        rows = {
            table.name: [dict(zip(table.columns, row, strict=True)) for row in table.rows] for table in tables
        }
        print_json({**rows, "notes": notes})
        return
    paths, tables, notes = write_farm_records(workspace, out, moment, *days, size)
    for path in paths:
        click.echo(str(path))
    for table in tables[:-1]:
        click.echo(f"{table.title}: {counted(len(table.rows), 'row')}")
    lacking = tables[-1].rows
    click.echo(f"{len(lacking)} things are missing:" if lacking else "Nothing is missing.")
    for row in lacking[:SHOWN]:
        click.echo(f"  {row[1]}: {row[2]}  ({row[3]})")
    if len(lacking) > SHOWN:
        click.echo(f"  ... and {len(lacking) - SHOWN} more in {out / 'missing.csv'}")
    for note in notes:
        click.echo(f"note: {note}")
