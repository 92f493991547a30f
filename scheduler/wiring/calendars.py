"""Calendar feeds of a farm's people and machines, out of the plans that were issued."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from adapters.export.calendar_feed import feed
from scheduler.crew.assignments import machines_at_work, of_machine, of_person
from scheduler.planning.plan import Plan
from scheduler.wiring.news import situation_now
from scheduler.wiring.workspace import Workspace
from shared.errors import FitgroundError

PLANS_MOST = 400


def issued_plans(workspace: Workspace) -> list[Plan]:
    """Return the plans that were issued, oldest first."""
    return [Plan.model_validate_json(text) for text in reversed(workspace.shelf.last(PLANS_MOST))]


def person_feed(workspace: Workspace, person: str, now: datetime) -> bytes:
    """Return the feed of a person."""
    farm = situation_now(workspace, now)[1].farm
    found = of_person(issued_plans(workspace), farm, person, now)
    return feed(found, f"{farm.operator_label(person)}, {farm.name}", farm.name)


def write_feeds(workspace: Workspace, folder: Path, now: datetime) -> list[Path]:
    """Write a feed for every person and every machine; a file that would be the same is left as it is.

    Raises
    ------
    FitgroundError
        No plan was issued yet.
    """
    plans, farm = issued_plans(workspace), situation_now(workspace, now)[1].farm
    if not plans:
        raise FitgroundError(f"no plan was issued yet; run: fitground plan {workspace.folder}")
    feeds = {f"{one.id}.ics": person_feed(workspace, one.id, now) for one in farm.operators}
    for name in machines_at_work(plans):
        if name in farm.machine_by_id:
            title = f"{farm.machine_label(name)}, {farm.name}"
            feeds[f"rig-{name}.ics"] = feed(of_machine(plans, farm, name, now), title, farm.name)
    folder.mkdir(parents=True, exist_ok=True)
    for file, content in feeds.items():
        path = folder / file
        if not path.exists() or path.read_bytes() != content:
            path.write_bytes(content)
    return [folder / file for file in feeds]
