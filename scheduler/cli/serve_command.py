"""`fitground serve`: the pages for manager and crew, with the service beside them."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click

from scheduler.cli.frame import farm_argument, now_option, open_workspace, read_now, sentences, utc_now
from scheduler.service.clockwork import wound_up
from scheduler.service.logs import open_log, sayer
from scheduler.wiring.office import Office
from scheduler.wiring.service import open_service
from shared.errors import FitgroundError

LOCAL = ("127.0.0.1", "localhost", "::1")


def _clock(start: datetime) -> Callable[[], datetime]:
    """Return a clock that began at a pretended moment."""
    begun = datetime.now(UTC)
    return lambda: start.astimezone(UTC) + (datetime.now(UTC) - begun)


@click.command()
@farm_argument
@click.option(
    "--host",
    default="127.0.0.1",
    show_default=True,
    help="Address to listen on; this computer only unless you say so.",
)
@click.option("--port", default=8765, show_default=True, type=click.IntRange(1, 65535))
@click.option("--seconds", default=None, type=click.FloatRange(0.1, 3600), help="Thinking time of a plan.")
@click.option(
    "--pages-only", is_flag=True, help="Without the service: nothing is issued or polled by itself."
)
@click.option("--https", is_flag=True, help="Cookies over HTTPS only, for pages behind a proxy.")
@click.option("--set-password", is_flag=True, help="Ask for a new password of the manager, then end.")
@now_option
@sentences
def serve(
    farm: Path, host: str, port: int, seconds: float | None, pages_only: bool, https: bool, set_password: bool, now: str | None
) -> None:  # fmt: skip
    """Open the pages for manager and crew, and run the service beside them.

    The first visit, on this computer, asks for a password. Crew members need none: each has a link.
    """
    from scheduler.web.app import make_app
    from scheduler.web.door import Door

    workspace = open_workspace(farm)
    door = Door(workspace.book)
    if set_password:
        door.set_password(click.prompt("New password", hide_input=True, confirmation_prompt=True))
        click.echo("The password is set; every session ended.")
        return
    if host not in LOCAL and not door.has_password:
        raise FitgroundError(
            "nobody set a password yet, so the pages stay on this computer; set one with --set-password."
        )
    clock = utc_now if now is None else _clock(read_now(now, workspace))
    say = sayer(open_log("plain"))
    if pages_only:
        office = Office(farm, clock, seconds)
        _serve(make_app(office, https), host, port)
        return
    service, desk = open_service(farm, say, seconds=seconds)
    office = Office(farm, clock, seconds, hand_out=service.delivery.add, desk=desk)
    scheduler = wound_up(service, clock)
    scheduler.start()
    try:
        _serve(make_app(office, https), host, port)
    finally:
        service.stop()
        scheduler.shutdown(wait=True)
        service.close()


def _serve(app: Any, host: str, port: int) -> None:
    import uvicorn

    click.echo(f"Open http://{'localhost' if host in LOCAL else host}:{port} (Ctrl-C ends it)")
    threading.current_thread().name = "pages"
    uvicorn.run(
        app, host=host, port=port, log_level="warning", server_header=False, timeout_graceful_shutdown=5
    )  # type: ignore[attr-defined]
