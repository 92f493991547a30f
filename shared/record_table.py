"""A table to be kept: headings that say the unit, and rows of words and numbers as a person reads them."""

from __future__ import annotations

from dataclasses import dataclass

Cell = str | float | int | None


@dataclass(frozen=True)
class RecordTable:
    """One table.

    Attributes
    ----------
    name : str
        Of its file, without ending.
    title : str
    columns : tuple of str
        Headings, unit in the name (``area_ac``).
    rows : tuple of tuple
        As many cells as headings; None where nothing is known.
    note : str
        What a reader must know of it.
    paper : tuple of (heading, columns)
        On paper these columns stand together under one heading, in this order; all columns as they are where empty.
    """

    name: str
    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    note: str = ""
    paper: tuple[tuple[str, tuple[str, ...]], ...] = ()
