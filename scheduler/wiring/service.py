"""The service of a farm folder, put together: desk, lease, outlets, times, metrics."""

from __future__ import annotations

import os
import socket
import threading
from collections.abc import Callable, Mapping
from datetime import timedelta
from pathlib import Path
from uuid import uuid4

from adapters.outlets import open_outlets
from adapters.storage.lease import SqlLease
from scheduler.service.clockwork import LEASE_LASTS
from scheduler.service.delivery import Delivery
from scheduler.service.duties import Times
from scheduler.service.metrics import Metrics
from scheduler.service.service import Service
from scheduler.wiring.desk import FarmDesk, Planner
from scheduler.wiring.plan_apart import plan_apart
from scheduler.wiring.status import ISSUE_LEASE
from scheduler.wiring.workspace import Workspace

Say = Callable[[str, Mapping[str, object]], None]


def open_service(
    folder: Path, say: Say, environment: Mapping[str, str] | None = None, seconds: float | None = None, holder: str = "",
    planner: Planner = plan_apart,
) -> tuple[Service, FarmDesk]:  # fmt: skip
    """Put the service of a farm together.

    Parameters
    ----------
    say : callable
        Takes what happens: a short message and its facts.
    environment : mapping, optional
        Where outlets find their secrets; the process's own environment where not given.
    seconds : float, optional
        Effort of a plan; the farm file's where not given.
    holder : str
        Name of this service among others; made from host and process where not given.

    Raises
    ------
    FitgroundError
        Farm file, outlets or log cannot be used; one sentence each.
    """
    stopping = threading.Event()
    desk = FarmDesk(folder, seconds, stopping, planner)
    workspace = desk.workspace
    outlets = open_outlets(
        workspace.folder, workspace.farm.outlets, os.environ if environment is None else environment
    )
    people = {one.name or one.kind: one.people for one in workspace.farm.outlets}
    lease = SqlLease(workspace.database, ISSUE_LEASE, holder or own_name(), LEASE_LASTS)
    service = Service(
        desk, workspace.book, lease, Delivery(outlets, workspace.book, people), times_of(workspace), Metrics(), say,
        drafts=workspace.farm.service.after_news == "draft", stopping=stopping,
    )  # fmt: skip
    return service, desk


def own_name() -> str:
    """Return a name that no other service has."""
    return f"{socket.gethostname()}, process {os.getpid()}, {uuid4().hex[:6]}"


def times_of(workspace: Workspace) -> Times:
    """Return when things happen on a farm."""
    said = workspace.farm.service
    return Times(
        workspace.zone, workspace.farm.plan.issue_at, said.remind_at, timedelta(minutes=said.poll_minutes),
        timedelta(minutes=said.quiet_minutes), timedelta(minutes=said.wait_most_minutes),
    )  # fmt: skip
