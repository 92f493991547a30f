"""`fitground taskdata` and `import-work`: tasks out to the terminals, work done back in."""

from __future__ import annotations

from pathlib import Path

import click

from scheduler.cli.frame import (
    dates_option,
    day_option,
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
from shared.vocabulary import DayOrder

SHOWN = 20


@click.command()
@farm_argument
@click.option(
    "--out",
    default=Path("taskdata.zip"),
    show_default=True,
    type=click.Path(path_type=Path),
    help="A .zip, or a folder that gets TASKDATA/.",
)
@day_option
@click.option("--days", default=1, show_default=True, type=click.IntRange(1, 28))
@now_option
@sentences
def taskdata(farm: Path, out: Path, day_text: str | None, days: int, now: str | None) -> None:
    """Write the issued plan's tasks for tractor terminals (ISO 11783-10, TASKDATA.XML): fields, products, rates, people."""
    from scheduler.wiring.terminals import write_tasks

    workspace = open_workspace(farm)
    today = read_now(now, workspace).astimezone(workspace.zone).date()
    path, count, notes = write_tasks(workspace, out, read_date("--date", day_text, today), days, today)
    click.echo(f"{counted(count, 'task')} written to {path}")
    for note in notes:
        click.echo(f"note: {note}")
    click.echo(
        "Rates are the plan's: whoever drives checks them against label and load sheet before the job."
    )


@click.command("import-work")
@farm_argument
@click.argument("source", type=click.Path(path_type=Path))
@click.option("--dry-run", is_flag=True, help="Only say what would be noted.")
@click.option("--sound-ones", is_flag=True, help="Note the sound rows even if others are refused.")
@dates_option
@json_option
@now_option
@sentences
def import_work(
    farm: Path,
    source: Path,
    dry_run: bool,
    sound_ones: bool,
    dates: DayOrder | None,
    as_json: bool,
    now: str | None,
) -> None:
    """Note work done out of a table (CSV, xlsx) or a terminal's TASKDATA (folder, zip or XML); each row counts once.

    A table has the columns date, field, pass, area and, if known, start, end, operator, rig.
    """
    from scheduler.wiring.work_done import bring_in

    workspace = open_workspace(farm)
    found = bring_in(workspace, source, read_now(now, workspace), sound_ones, dry_run, dates)
    if as_json:
        refused = [fault.sentence() for fault in found.refused]
        print_json(
            {
                "noted": list(found.told),
                "known_before": found.known,
                "refused": refused,
                "notes": list(found.notes),
                "stored": not dry_run,
            }
        )
        return
    for line in found.told[:SHOWN]:
        click.echo(("Would note: " if dry_run else "Noted: ") + line)
    if len(found.told) > SHOWN:
        click.echo(f"... and {len(found.told) - SHOWN} more.")
    if found.known:
        click.echo(f"{counted(found.known, 'row was', 'rows were')} counted before.")
    for fault in found.refused[:SHOWN]:
        click.echo(f"refused: {fault.sentence()}")
    for note in found.notes:
        click.echo(f"note: {note}")
    if not (found.told or found.known or found.refused):
        click.echo("Nothing new.")
