"""Values of a column with their unit in the heading: ``area [ac]`` over plain numbers, where all of a column are in one unit.

A number is taken out of its text only if text and number say exactly the same, so that what goes out comes back letter by letter.
A cell with a unit of its own keeps it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

WITH_UNIT = re.compile(r"(-?\d+(?:\.\d+)?) (\S.*)")
HEADING = re.compile(r"(?P<key>[^\[\]]+?)\s*(?:\[(?P<unit>[^\[\]]+)\])?")
FORMULA_MARKS = ("=", "+", "@", "\t", "\r")
DIGITS_MOST = 15
"""As many digits as a spreadsheet keeps of a number."""


class NoCell(ValueError):
    """A cell holds what a farm file cannot; `problem` and `allowed` say it."""

    def __init__(self, problem: str, allowed: str) -> None:
        super().__init__(problem)
        self.problem, self.allowed = problem, allowed


def split_unit(text: str) -> tuple[float | int, str] | None:
    """Return number and unit of ``"62 ac"``; None where the number would not come back as it was written."""
    found = WITH_UNIT.fullmatch(text)
    if found is None or len(found[1].replace(".", "").lstrip("-0")) > DIGITS_MOST:
        return None
    number = float(found[1]) if "." in found[1] else int(found[1])
    return (number, found[2]) if plain_number(number) == found[1] else None


def plain_number(number: float | int) -> str:
    """Return a number as people write it: no exponent, no trailing zeros."""
    if isinstance(number, int):
        return str(number)
    text = f"{number:.15f}".rstrip("0").rstrip(".") if abs(number) < 1e15 else str(number)
    return text if float(text) == number else repr(number)


def unit_of(texts: Iterable[Any]) -> str:
    """Return the unit that every text of a column has; empty where they differ or are no quantities."""
    units = {
        found[1] if isinstance(text, str) and (found := split_unit(text)) else ""
        for text in texts
        if text not in (None, "")
    }
    return units.pop() if len(units) == 1 else ""


def cell_of(value: Any, unit: str) -> Any:
    """Return what a cell holds for a value of a farm file."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        return "; ".join(str(part) for part in value)
    if isinstance(value, str) and unit and (found := split_unit(value)) is not None and found[1] == unit:
        return found[0]
    return value


def text_of(cell: Any, unit: str, number_keys: bool) -> Any:
    """Return the value of a farm file for what a cell holds; None for an empty one.

    Parameters
    ----------
    number_keys : bool
        The key is a bare number (rows, degrees, seeds), so a number stays one.

    Raises
    ------
    NoCell
        Text that a spreadsheet would take for a formula.
    """
    if cell is None or cell == "":
        return None
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, int | float):
        if unit:
            return f"{plain_number(cell)} {unit}"
        whole = int(cell) if float(cell).is_integer() else cell
        return whole if number_keys else plain_number(whole)
    text = str(cell).strip()
    if text.startswith(FORMULA_MARKS):
        raise NoCell("begins as a formula does", "plain text")
    return text or None
