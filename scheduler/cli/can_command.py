"""`fitground can`: whether work can be done by a time, how surely, what it costs, or what stands against it."""

from __future__ import annotations

from itertools import count
from pathlib import Path

import click

from scheduler.cli.bars import Bar
from scheduler.cli.frame import (
    farm_argument,
    json_option,
    now_option,
    open_workspace,
    print_json,
    read_now,
    sentences,
)
from scheduler.whatif.can import can as answer_demands
from scheduler.whatif.tell_can import can_json, can_text
from scheduler.wiring.whatif import effort_s, what_if_morning

STEPS = 6
SECONDS = 2.0
HELP = """Can it be done by then? Say what is wanted, in one or several DEMANDS.

\b
  fitground can FARM 'plant in heron, far-west by fri'
  fitground can FARM 'plant by 2027-05-20' --with 'longer all "2 h"'
  fitground can FARM 'band in kiln by "2027-05-13 12:00"' 'plant in kiln by sat'

Yes comes with who, when, how surely, and what it costs elsewhere. No comes with the few rules that cannot
hold together, and with how near a plan comes. A day or weekday means its end; without fields all are meant
in which the pass is open. Nothing is stored: the plan that people work by stays.
"""


@click.command(help=HELP)
@farm_argument
@click.argument("demands", nargs=-1, required=True)
@click.option(
    "--with",
    "changes",
    multiple=True,
    metavar="WORDS",
    help="A change that is true (see fitground whatif); repeat it.",
)
@click.option(
    "--seconds",
    default=None,
    type=click.FloatRange(0.2, 600),
    help="Effort per plan (default: 2 for 15 fields, more for more).",
)
@json_option
@now_option
@sentences
def can(
    farm: Path, demands: tuple[str, ...], changes: tuple[str, ...], seconds: float | None, as_json: bool, now: str | None
) -> None:  # fmt: skip
    """Tell whether work can be done by a time (the help text is `HELP`)."""
    workspace = open_workspace(farm)
    moment = read_now(now, workspace)
    bar, done = Bar("steps"), count(1)
    answer = answer_demands(
        what_if_morning(workspace, moment, seconds or effort_s(len(workspace.farm.fields), SECONDS)),
        demands,
        changes,
        lambda step: bar(next(done), STEPS, step),
    )
    # A yes takes fewer steps than a no: the line is wiped all the same.
    bar(STEPS, STEPS)
    if as_json:
        print_json(can_json(answer))
        return
    local = moment.astimezone(workspace.zone)
    changed = f", with {'; '.join(changes)}" if changes else ""
    click.echo(can_text(answer, f"{workspace.farm.name}, as of {local:%a %d %b %H:%M}{changed}"), nl=False)
