"""Day lists as one printable, self-contained page: a sheet a person, black on white, tick boxes, large type."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from scheduler.crew.day_list import DayList
from scheduler.crew.language import Words
from scheduler.crew.remarks import load_rest, remarks, role_name

FORMS: dict[str, Any] = {"remarks": remarks, "role_name": role_name, "load_rest": load_rest}
"""What templates of day lists call."""


@lru_cache(maxsize=1)
def templates() -> Environment:
    """Return the environment of this room's templates; everything is escaped."""
    return Environment(
        loader=PackageLoader("scheduler.crew", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def day_list_page(lists: Iterable[DayList]) -> str:
    """Return an HTML page with one sheet for every list; opens without a network."""
    sheets = [(one, Words(one.language)) for one in lists]
    return templates().get_template("day_list.html").render(sheets=sheets, **FORMS)
