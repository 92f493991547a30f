"""Farm folders for service tests: copies of a scenario, and a starter farm whose weather is about today."""

from __future__ import annotations

import shutil
from datetime import date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from scheduler.farm.starter import starter_farm
from tests.data_paths import CHECKOUT

ZONE = ZoneInfo("America/Chicago")
FOLDER_OUTLET = '\n[[outlet]]\nkind = "folder"\noptions = {path = "lists"}\n'


def wet_week(to: Path, more: str = FOLDER_OUTLET) -> Path:
    """Copy the wet week, with something more in its farm file."""
    folder = to / "farm"
    shutil.copytree(CHECKOUT / "scenarios/wet-week", folder, ignore=shutil.ignore_patterns("*.sqlite*"))
    with (folder / "farm.toml").open("a", encoding="utf-8") as file:
        file.write(more)
    return folder


def today_farm(to: Path, more: str = FOLDER_OUTLET) -> Path:
    """Write a starter farm whose forecast is of today and whose morning is due at once."""
    folder = to / "farm"
    for name, text in starter_farm("Today", date.today()).items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    with (folder / "farm.toml").open("a", encoding="utf-8") as file:
        file.write(more)
    return folder


def at(day: int, clock: str) -> datetime:
    """Return a farm-local moment in May 2027."""
    return datetime.fromisoformat(f"2027-05-{day:02}T{clock}").replace(tzinfo=ZONE)
