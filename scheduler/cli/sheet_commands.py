"""`fitground sheet-out` and `sheet-in`: fields, machines, people and products as one workbook, and back."""

from __future__ import annotations

from pathlib import Path

import click

from scheduler.cli.frame import farm_argument, json_option, print_json, sentences, utc_now
from shared.counted import counted

SHOWN = 40
WHAT = {"fields": "field", "machine": "machine", "operator": "operator", "product": "product"}


@click.command("sheet-out")
@farm_argument
@click.argument("workbook", default="farm.xlsx", type=click.Path(path_type=Path, dir_okay=False))
@sentences
def sheet_out(farm: Path, workbook: Path) -> None:
    """Write fields, machines, operators and products into an .xlsx WORKBOOK with drop-downs and notes."""
    from scheduler.wiring.sheets import write_sheet

    count = write_sheet(_folder(farm), workbook)
    click.echo(
        f"{counted(count, 'row')} written to {workbook}; change them there, then: fitground sheet-in {farm} {workbook}"
    )


@click.command("sheet-in")
@farm_argument
@click.argument("workbook", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--dry-run", is_flag=True, help="Only say what would change.")
@json_option
@sentences
def sheet_in(farm: Path, workbook: Path, dry_run: bool, as_json: bool) -> None:
    """Take a WORKBOOK back into the farm's files; faults are named by sheet and cell, and then nothing changes."""
    from scheduler.wiring.sheets import read_sheet

    changes, kept = read_sheet(_folder(farm), workbook, utc_now(), dry_run)
    if as_json:
        rows = [
            {"list": one.name, "id": one.id, "key": one.key, "before": one.before, "after": one.after}
            for one in changes
        ]
        print_json(
            {
                "changes": rows,
                "written": bool(changes) and not dry_run,
                "kept": None if kept is None else str(kept),
            }
        )
        return
    for one in changes[:SHOWN]:
        what = f"{WHAT[one.name]} {one.id}".strip()
        if one.key:
            click.echo(
                f"{what}: {one.key.replace('_', ' ')}"
                + (f" {one.before or '(none)'} -> {one.after or '(none)'}" if one.before or one.after else "")
            )
        else:
            click.echo(f"{what}: {'new' if one.after else 'taken out'}")
    if len(changes) > SHOWN:
        click.echo(f"... and {len(changes) - SHOWN} more.")
    if not changes:
        click.echo("Nothing reads otherwise.")
    elif dry_run:
        click.echo("Nothing was written (--dry-run).")
    else:
        click.echo("Written." + (f" The old files are kept in {kept}." if kept else ""))


def _folder(farm: Path) -> Path:
    return farm.parent if farm.name == "farm.toml" else farm
