"""`fitground run` and `fitground status`: the service that goes on by itself, and how things stand."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path

import click

from scheduler.cli.frame import (
    farm_argument,
    json_option,
    now_option,
    open_workspace,
    print_json,
    read_now,
    sentences,
    utc_now,
)
from scheduler.service.clockwork import run_until_stopped
from scheduler.service.health import HealthDoor
from scheduler.service.logs import open_log, sayer
from scheduler.wiring.status import Status, next_duties
from scheduler.wiring.status import status as status_of
from scheduler.wiring.workspace import Workspace
from shared.counted import counted
from shared.errors import FitgroundError

NEEDS_SOMEBODY = 1


@click.command()
@farm_argument
@click.option("--once", is_flag=True, help="Do what is due now, then end (for cron).")
@click.option("--seconds", default=None, type=click.FloatRange(0.1, 3600), help="Thinking time of a plan.")
@click.option("--log", "form", default="plain", show_default=True, type=click.Choice(["plain", "json"]))
@click.option(
    "--port", default=0, type=click.IntRange(0, 65535), help="Answer /healthz, /metrics and /status here."
)
@click.option("--host", default="127.0.0.1", show_default=True, help="Address of that port.")
@now_option
@sentences
def run(
    farm: Path, once: bool, seconds: float | None, form: str, port: int, host: str, now: str | None
) -> None:
    """Run by itself: look at the weather, take news in, plan, issue every morning, hand out, remind.

    Ends in good order on Ctrl-C or SIGTERM. Two services on one farm do no harm: one issues, the other stands by.
    """
    from scheduler.wiring.service import open_service

    say = sayer(open_log(form))
    service, desk = open_service(farm, say, seconds=seconds)
    for warning in desk.workspace.warnings:
        say("note", {"told": warning.sentence()})
    if once or now is not None:
        done = service.look(read_now(now, desk.workspace))
        service.close()
        click.echo(", ".join(done) if done else "nothing was due")
        return
    door = None
    if port:
        try:
            door = HealthDoor(
                service.metrics, lambda: status_of(desk.workspace, utc_now()).outward(), utc_now, host, port
            )
        except OSError as error:
            raise FitgroundError(f"--port {port} on {host} cannot be used: {error.strerror}.") from error
    try:
        run_until_stopped(service, utc_now)
    finally:
        if door is not None:
            door.close()


@click.command()
@farm_argument
@json_option
@now_option
@sentences
def status(farm: Path, as_json: bool, now: str | None) -> None:
    """How things stand: forecast, plan, news not planned in, and what needs a person (exit code 1)."""
    workspace = open_workspace(farm)
    moment = read_now(now, workspace)
    found = status_of(workspace, moment)
    if as_json:
        print_json(found.plain() | {"next": dict(next_duties(workspace, moment))})
    else:
        click.echo("\n".join(_text(found, workspace, moment)))
    if found.needs:
        sys.exit(NEEDS_SOMEBODY)


def _text(found: Status, workspace: Workspace, now: datetime) -> list[str]:
    zone = workspace.zone
    made, issued = found.plan_made_at, found.forecast_issued_at
    plan = "none yet"
    if made is not None and found.plan_age_h is not None and found.plan_gap is not None:
        plan = (
            f"of {made.astimezone(zone):%a %d %b %H:%M}, {found.plan_age_h:.0f} h old, at most {found.plan_gap:.0%} above the "
            f"proven least loss ({found.plan_method})"
        )
    forecast = "none"
    if found.forecast_source:
        when = (
            ""
            if issued is None
            else f" of {issued.astimezone(zone):%a %d %b %H:%M}, {found.forecast_age_h:.0f} h old"
        )
        forecast = f"{found.forecast_source}{when}"
    out = [
        f"{found.farm}, {now.astimezone(zone):%a %d %b %Y %H:%M}",
        f"Plan      {plan}",
        f"News      {counted(found.events, 'event')} in the log, {found.unplanned} not planned in yet",
        f"Forecast  {forecast}",
        f"Service   {found.service + ' issues' if found.service else 'none is running'}",
    ]
    if found.service:
        out += [
            f"Next      {name} {moment.astimezone(zone):%a %d %b %H:%M}"
            for name, moment in next_duties(workspace, now)
        ]
    out += (
        ["", "Needs somebody:", *(f"  ! {text}" for text in found.needs)]
        if found.needs
        else ["", "Nothing needs anybody."]
    )
    if found.at_work:
        out += ["", "At work now:", *(f"  - {text}" for text in found.at_work)]
    if found.worries:
        out += ["", "Worries of the plan:", *(f"  - {text}" for text in found.worries)]
    return out
