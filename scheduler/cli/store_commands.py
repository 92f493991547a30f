"""`fitground backup`, `restore`, `export-log` and `import-log`: keeping the log, and carrying it elsewhere."""

from __future__ import annotations

from pathlib import Path

import click

from scheduler.cli.frame import farm_argument, open_workspace, sentences
from scheduler.wiring.store import backup_farm, export_log, import_log, restore_farm
from shared.counted import counted

file_argument = click.argument("file", type=click.Path(path_type=Path, dir_okay=False))


@click.command()
@farm_argument
@file_argument
@sentences
def backup(farm: Path, file: Path) -> None:
    """Copy a farm's log and issued plans to FILE while others go on writing."""
    click.echo(f"{counted(backup_farm(farm, file), 'event')} copied to {file}")


@click.command()
@file_argument
@farm_argument
@sentences
def restore(file: Path, farm: Path) -> None:
    """Put a backup into a farm folder that has no log; nothing is ever overwritten."""
    click.echo(f"{counted(restore_farm(file, farm), 'event')} restored into {farm}")


@click.command("export-log")
@farm_argument
@click.option(
    "--out", default=None, type=click.Path(path_type=Path), help="Write to this file (default: print)."
)
@sentences
def export_command(farm: Path, out: Path | None) -> None:
    """Write the whole log as JSON lines, oldest first."""
    text = export_log(open_workspace(farm))
    if out is None:
        click.echo(text, nl=False)
        return
    out.write_text(text, encoding="utf-8")
    click.echo(f"{counted(len(text.splitlines()), 'event')} written to {out}")


@click.command("import-log")
@farm_argument
@file_argument
@click.option("--dry-run", is_flag=True, help="Say what would be taken; store nothing.")
@sentences
def import_command(farm: Path, file: Path, dry_run: bool) -> None:
    """Take the events of an export that the log does not hold; each counts once."""
    found = import_log(open_workspace(farm), file, dry_run)
    for line in found.refused:
        click.echo(f"  {line}", err=True)
    verb = "would be taken" if dry_run else "taken"
    click.echo(
        f"{counted(found.new, 'event')} {verb}, {found.known} known before, {len(found.refused)} left out"
    )
