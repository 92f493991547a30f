"""Day lists on paper, out of the issued plan."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime

from adapters.export.board_sheet import board_pdf
from adapters.export.paper import sheets_pdf
from scheduler.crew.sheets import sheets
from scheduler.crew.week_board import week_board
from scheduler.planning.still_there import still_there
from scheduler.wiring.lists import lists_of
from scheduler.wiring.news import situation_now
from scheduler.wiring.plans_known import latest_plan
from scheduler.wiring.workspace import Workspace
from shared.errors import FitgroundError


def day_pdf(
    workspace: Workspace, wanted: date | None, size: str, links: Mapping[str, str], now: datetime
) -> tuple[bytes, int]:
    """Return a PDF of everybody's day, and its pages.

    Parameters
    ----------
    wanted : date or None
        Default: today where the plan reaches it, else the plan's first day.
    links : mapping of operator to address
        Where the square code on each sheet leads; none for people who are left out.

    Raises
    ------
    FitgroundError
        No plan was issued by that day.
    """
    lists = lists_of(workspace, wanted, now)
    return sheets_pdf(sheets(lists, links), size), len(lists)


def week_pdf(workspace: Workspace, first: date | None, size: str, language: str) -> bytes:
    """Return the week board of the issued plan as PDF, from its first day or another one.

    Raises
    ------
    FitgroundError
        No plan was issued yet.
    """
    plan = latest_plan(workspace)
    if plan is None:
        raise FitgroundError(f"no plan was issued yet; run: fitground plan {workspace.folder}")
    farm = situation_now(workspace, plan.made_at)[1].farm
    return board_pdf(
        week_board(still_there(plan, farm, plan.made_at), farm, first or plan.first_day, language=language),
        size,
    )
