"""`fitground check`: every fault of a farm at once."""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from pathlib import Path

import click

from scheduler.cli.faults import fault_lines
from scheduler.cli.frame import farm_argument, json_option, now_option, print_json, read_day, sentences
from scheduler.wiring.workspace import check_farm
from shared.counted import counted
from shared.errors import Fault


def _row(fault: Fault) -> dict[str, object]:
    return {
        "file": fault.file, "key": fault.key, "value": fault.value, "problem": fault.problem,
        "allowed": fault.allowed, "warning": fault.warning, "sentence": fault.sentence(),
    }  # fmt: skip


@click.command()
@farm_argument
@json_option
@now_option
@sentences
def check(farm: Path, as_json: bool, now: str | None) -> None:
    """Say everything that is wrong with the farm's files, all at once."""
    today = datetime.now(UTC).date() if now is None else read_day(now)
    faults, found = check_farm(farm, today)
    errors = [fault for fault in faults if not fault.warning]
    if as_json:
        print_json({"ok": not errors, "faults": [_row(fault) for fault in faults]})
    else:
        for line in fault_lines(faults):
            click.echo(line)
        if errors:
            click.echo(f"{len(errors)} fault{'s' * (len(errors) != 1)} to put right in {farm}.")
        elif found is not None:
            click.echo(
                f"{found.name} is in order: {counted(len(found.fields), 'field')}, {counted(len(found.machines), 'machine')}, "
                f"{counted(len(found.operators), 'person', 'people')}, {counted(len(found.programmes), 'programme')}."
            )
    if errors:
        sys.exit(2)
