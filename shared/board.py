"""A board for the wall: a row for each person or rig, a column for each day."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class BoardRow:
    """One row: who or what, and for each day the lines in its cell."""

    label: str
    cells: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Board:
    """A board of some days.

    Attributes
    ----------
    columns : tuple of str
        Headings of the days.
    parts : tuple of (title, rows)
        People, then rigs.
    foot : str
    """

    title: str
    sub: str
    columns: tuple[str, ...]
    parts: tuple[tuple[str, tuple[BoardRow, ...]], ...]
    foot: str
