"""Words of a report that were typed apart, put together: ``done Home Piece plant 40 ac`` without a quotation mark.

Tried only where the words as they stand make no report: what is understood without is never read otherwise.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from scheduler.farm.farm import Farm

MOST_WORDS = 6
NUMBER, UNIT = re.compile(r"[+-]?[\d.,]*\d"), re.compile(r"[^\d\s][^\s]*")


def joined(words: Sequence[str], farm: Farm) -> list[str]:
    """Return the words with names of the farm, and quantities with their units, as one word each."""
    names = _names(farm)
    out: list[str] = []
    place = 0
    while place < len(words):
        for count in range(min(MOST_WORDS, len(words) - place), 1, -1):
            part = words[place : place + count]
            together = names.get(plain(" ".join(part))) or _quantity(part)
            if together:
                break
        else:
            together, count = words[place], 1
        out.append(together)
        place += count
    return out


def _quantity(part: Sequence[str]) -> str:
    if len(part) == 2 and NUMBER.fullmatch(part[0]) and UNIT.fullmatch(part[1]):
        return " ".join(part)
    return ""


def plain(text: str) -> str:
    """Return a name without what people vary: small letters, no hyphens, one space."""
    return " ".join(text.casefold().replace("-", " ").split())


def _names(farm: Farm) -> dict[str, str]:
    """Return plain words -> name of everything on the farm whose name has more than one word."""
    passes = [spec for programme in farm.programmes for spec in programme.passes]
    things: list[Any] = [*farm.fields, *farm.machines, *farm.operators, *farm.products, *passes]
    return {plain(name): name for one in things for name in (one.label, one.id) if " " in plain(name)}
