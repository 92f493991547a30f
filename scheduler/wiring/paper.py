"""Day lists on paper, out of the issued plan."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime

from adapters.export.paper import sheets_pdf
from scheduler.crew.day_list import day_lists
from scheduler.crew.sheets import sheets
from scheduler.wiring.mornings import latest_plan, look_ahead
from scheduler.wiring.workspace import Workspace
from shared.errors import FitgroundError


def day_pdf(
    workspace: Workspace, day: date | None, size: str, links: Mapping[str, str], now: datetime | None
) -> tuple[bytes, int]:
    """Return a PDF of everybody's day, and its pages.

    Parameters
    ----------
    day : date or None
        The plan's first day where not given.
    links : mapping of operator to address
        Where the square code on each sheet leads; none for people who are left out.

    Raises
    ------
    FitgroundError
        No plan was issued yet.
    """
    plan = latest_plan(workspace)
    if plan is None:
        raise FitgroundError(f"no plan was issued yet; run: fitground plan {workspace.folder}")
    situation, outlook = look_ahead(workspace, now or plan.made_at)
    lists = day_lists(plan, situation, outlook, day or plan.first_day)
    return sheets_pdf(sheets(lists, links), size), len(lists)
