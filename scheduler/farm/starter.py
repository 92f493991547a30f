"""A starter farm: commented files that pass the check and make a plan at once, to be changed into one's own.

Input: the farm's name and the day on which its story begins; output: the text of every file by its path in the farm
folder. Nothing is written here.
"""

from __future__ import annotations

import json
from datetime import date, timedelta
from importlib.resources import files

from scheduler.farm.starter_weather import DAYS_ON, starter_weather

STORY_BEGINS = date(2027, 5, 10)
NAME_MOST = 80


def starter_farm(name: str, today: date = STORY_BEGINS) -> dict[str, str]:
    """Return the files of a starter farm.

    Parameters
    ----------
    name : str
        Name of the farm; control characters are left out.
    today : date
        Day for which the invented weather holds a forecast.

    Returns
    -------
    dict of str to str
        Text by path within the farm folder: ``farm.toml``, ``fields.csv`` and the weather folder.
    """
    shown = "".join(mark for mark in name if mark.isprintable()).strip()[:NAME_MOST] or "Our farm"
    text = _template("starter.toml").replace("@FIRST@", str(today))
    text = text.replace("@LAST@", str(today + timedelta(days=DAYS_ON - 1)))
    head, body = text.split("@NAME_TEXT@")
    toml = head.replace("@NAME@", shown) + json.dumps(shown, ensure_ascii=False) + body
    out = {"farm.toml": toml, "fields.csv": _template("starter_fields.csv")}
    return out | {f"weather/{file}": rows for file, rows in starter_weather(today).items()}


def _template(file: str) -> str:
    return (files("scheduler.farm") / "templates" / file).read_text(encoding="utf-8")
