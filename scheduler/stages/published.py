"""The published tables this room reads: rows of CSV files kept beside their sources in shared/tables.

The files are part of the program, read once and never written.
"""

from __future__ import annotations

import csv
from functools import cache
from importlib import resources
from io import StringIO


@cache
def rows(file_name: str) -> tuple[dict[str, str], ...]:
    """Return the rows of a table of shared/tables, values as text; lines that begin with # are left out."""
    text = resources.files("shared").joinpath("tables", file_name).read_text(encoding="utf-8")
    kept = "\n".join(line for line in text.splitlines() if line.strip() and not line.startswith("#"))
    return tuple(
        {key: (value or "").strip() for key, value in row.items() if key is not None}
        for row in csv.DictReader(StringIO(kept))
    )
