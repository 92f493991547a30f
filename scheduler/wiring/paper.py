"""Day lists on paper, out of the issued plan."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime

from adapters.export.board_sheet import board_pdf
from adapters.export.paper import sheets_pdf
from scheduler.crew.day_list import day_lists
from scheduler.crew.sheets import sheets
from scheduler.crew.week_board import week_board
from scheduler.wiring.issued import latest_plan
from scheduler.wiring.mornings import look_ahead
from scheduler.wiring.news import situation_now
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
    return board_pdf(week_board(plan, farm, first or plan.first_day, language=language), size)
