"""News as lines for people: what is told of several fields in the same words stands in one line.

Question answered: *what is new, in as few lines as it takes?* A good day on a large farm is forty reports of the same pass.
"""

from __future__ import annotations

from collections.abc import Iterable

from scheduler.events.news import ALL, News
from scheduler.farm.farm import Farm
from scheduler.planning.wording import listed

MARK = "\u241f"
"""Stands where the field's name was; no name has it."""


def news_lines(news: Iterable[News], farm: Farm) -> list[str]:
    """Return the news, oldest first, each sentence with a capital; alike ones name all their fields where the first stood."""
    fields: dict[str, list[str]] = {}
    for one in news:
        label = _field(one, farm)
        blank = one.sentence.replace(label, MARK, 1) if label else one.sentence
        names = fields.setdefault(blank, [])
        if label and label not in names:
            names.append(label)
    lines = [blank.replace(MARK, listed(names)) for blank, names in fields.items()]
    return [line[:1].upper() + line[1:] for line in lines]


def _field(one: News, farm: Farm) -> str:
    """Return the name of the only field that a sentence is about, where it stands in it; else nothing."""
    about = ({field for field, _ in one.work} | one.ground | one.fields) - {ALL}
    field = farm.field_by_id.get(next(iter(about))) if len(about) == 1 else None
    return field.label if field is not None and field.label in one.sentence else ""
