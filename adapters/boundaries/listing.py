"""Fields out of a list: CSV or the first sheet of a workbook, with areas and, if known, places."""

from __future__ import annotations

from pathlib import Path

from adapters.boundaries.found import RawFeature, RawFile, Words
from adapters.files.cells import as_dict, read_rows


def read_listing(path: Path, words: Words) -> RawFile:
    """Read a list; `words` are judged later, with the rows.

    Raises
    ------
    FarmFileError
        It is no table.
    """
    headings, rows, notes = read_rows(path)
    found = [RawFeature(f"row {number}", None, as_dict(headings, cells)) for number, cells in rows]
    return RawFile(tuple(one for one in found if one.values), tuple(notes), listed=True)
