"""`fitground changes`: what moved between the last two plans, and why."""

from __future__ import annotations

from pathlib import Path

import click

from scheduler.cli.frame import farm_argument, json_option, open_workspace, print_json, sentences
from scheduler.crew.changes_text import changes_text
from scheduler.planning.wording import when
from scheduler.wiring.issued import changes_between, last_two

WIDTH = 100


@click.command()
@farm_argument
@json_option
@sentences
def changes(farm: Path, as_json: bool) -> None:
    """What moved between the last two issued plans, from whom to whom, and why."""
    workspace = open_workspace(farm)
    plans = last_two(workspace)
    if plans is None:
        raise click.ClickException("fewer than two plans were issued, so nothing can be compared yet")
    old, new = plans
    found = changes_between(workspace, old, new)
    if as_json:
        print_json(found.model_dump(mode="json"))
        return
    made, before = (when(one.made_at.astimezone(workspace.zone)) for one in (new, old))
    click.echo(
        f"{new.farm}: the plan of {made} against that of {before}: {len(found.rows) or 'no'} "
        f"change{'s' * (len(found.rows) != 1)}, {found.unchanged} as before."
    )
    for line in changes_text(found, WIDTH):
        click.echo(line)
