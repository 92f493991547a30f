"""What all commands share: farm argument, clock option, JSON output, and errors as one sentence with an exit code."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from functools import wraps
from pathlib import Path
from typing import Any

import click

from scheduler.cli.faults import fault_lines
from scheduler.events.report import weekday
from scheduler.solver.result import Progress
from scheduler.wiring.workspace import Workspace, open_farm
from shared.errors import FitgroundError
from shared.vocabulary import DayOrder

farm_argument = click.argument("farm", type=click.Path(path_type=Path, file_okay=True, exists=False))
json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON for programs.")
now_option = click.option(
    "--now", default=None, metavar="TIME", help="Pretend it is this farm-local time, e.g. '2027-05-11 05:00'."
)

day_option = click.option(
    "--date",
    "day_text",
    default=None,
    metavar="DAY",
    help="A date, tomorrow, yesterday or a weekday to come (default: today, or the plan's first day).",
)
NEAR = {"yesterday": -1, "today": 0, "tomorrow": 1}
dates_option = click.option(
    "--dates",
    type=click.Choice([order.value for order in DayOrder]),
    callback=lambda _context, _option, said: None if said is None else DayOrder(said),
    default=None,
    help="What comes first in dates such as 5/11/2027 (default: what the column tells).",
)


def sentences(function: Callable[..., Any]) -> Callable[..., Any]:
    """Turn every error a person can put right into its sentence and exit code."""

    @wraps(function)
    def run(*args: Any, **kwargs: Any) -> Any:
        try:
            return function(*args, **kwargs)
        except FitgroundError as error:
            click.echo(str(error), err=True)
            sys.exit(error.exit_code)
        except BrokenPipeError:
            sys.exit(0)

    return run


def utc_now() -> datetime:
    """Return the computer's time."""
    return datetime.now(UTC)


def read_now(text: str | None, workspace: Workspace) -> datetime:
    """Return the moment to plan for: the given farm-local time, or the clock."""
    if text is None:
        return datetime.now(UTC).replace(second=0, microsecond=0)
    try:
        given = datetime.fromisoformat(text)
    except ValueError as error:
        raise click.BadParameter(f"{text!r} is not a time; write it like '2027-05-11 05:00'") from error
    return given.replace(tzinfo=workspace.zone) if given.tzinfo is None else given


def read_day(text: str) -> date:
    """Return the day of a ``--now`` text."""
    try:
        return datetime.fromisoformat(text).date()
    except ValueError as error:
        raise click.BadParameter(f"{text!r} is not a time; write it like '2027-05-11 05:00'") from error


def read_date(option: str, text: str | None, today: date | None = None) -> date | None:
    """Return the day of an option, None where it is not given; where `today` is known also by a word or a weekday to come."""
    if text is None:
        return None
    if today is not None:
        said, named = text.strip().casefold(), weekday(text)
        if said in NEAR:
            return today + timedelta(days=NEAR[said])
        if named is not None:
            return today + timedelta(days=(named - today.weekday()) % 7 or 7)
    try:
        return date.fromisoformat(text.strip())
    except ValueError as error:
        words = "" if today is None else ", today, tomorrow, yesterday or a weekday such as fri"
        raise FitgroundError(
            f"{option} {text!r} is not a date; allowed: a date such as 2027-05-11{words}."
        ) from error


def open_workspace(farm: Path) -> Workspace:
    """Open a farm folder; warnings go to the error stream."""
    workspace = open_farm(farm)
    for line in fault_lines(workspace.warnings):
        click.echo(line, err=True)
    return workspace


def warn(line: str) -> None:
    """Say something on the error stream, where there is something to say."""
    if line:
        click.echo(line, err=True)


def print_json(value: Any) -> None:
    """Print JSON-ready data."""
    click.echo(json.dumps(value, ensure_ascii=False, indent=1, default=str))


class Thinking:
    """One line that moves while the engine thinks; silent when the error stream is no terminal."""

    def __init__(self) -> None:
        self.live = sys.stderr.isatty()

    def __call__(self, progress: Progress) -> None:
        """Show one step."""
        if not self.live:
            return
        value, bound = progress.value / 100, progress.bound / 100
        gap = f"{(value - bound) / value:.0%}" if value > 0 and bound > float("-inf") else "?"
        line = f"  {progress.step:<28.28} value ${value:,.0f}  not proven {gap}  {max(0.0, progress.left_s):.0f} s left"
        click.echo(f"\r{line:<78}", nl=False, err=True)

    def done(self) -> None:
        """Clear the line."""
        if self.live:
            click.echo("\r" + " " * 78 + "\r", nl=False, err=True)
