"""What stations write where there is no number: marks for missing and for a trace of rain, damp air above 100 %.

Stands between a cell of a table and its number. Nothing is mended in silence: what was read otherwise than written is counted,
and said in the notes.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

MISSING = frozenset({"m", "na", "n/a", "nan", "null", "none", "missing", "-", "--"})
MISSING_CODES = (-99.0, -99.9, -99.99, -999.0, -999.9, -999.99, -9999.0, -9999.9, 9999.0, 9999.9, 99999.0)
"""Marks and numbers for a missing value in station files (common practice, no source)."""
TRACE = frozenset({"t", "trace"})
"""Rain too little to measure: under 0.005 in (common practice, no source)."""
DAMP_MOST_PCT = 110.0
"""Humidity sensors drift: a little above 100 % is damp air, more is a fault (common practice, no source)."""


@dataclass
class Marks:
    """Reads cells of one file, and counts what it read otherwise than written."""

    counts: Counter[str] = field(default_factory=Counter)

    def plain(self, column: str, cell: str) -> str:
        """Return a cell as an empty text where it says missing, a trace as 0 and damp air as 100; else as it stands."""
        said = cell.casefold()
        if said in MISSING or _code(said):
            self.counts[f"{column} says {cell!r}, taken as missing,"] += 1
            return ""
        if column == "rain_mm" and said in TRACE:
            self.counts[f"{column} says {cell!r} (a trace), taken as 0,"] += 1
            return "0"
        if column.startswith("rh_") and 100.0 < _number(said) <= DAMP_MOST_PCT:
            self.counts[f"{column} above 100 % was taken as 100 %"] += 1
            return "100"
        return cell

    def notes(self, name: str) -> list[str]:
        """Return a sentence for each kind of mark."""
        return [f"{name}: {what} on {days_text(count)}" for what, count in self.counts.items()]


def days_text(count: int) -> str:
    """Return a count of days for a note."""
    return "1 day" if count == 1 else f"{count} days"


def _code(said: str) -> bool:
    return _number(said) in MISSING_CODES


def _number(said: str) -> float:
    try:
        return float(said)
    except ValueError:
        return float("nan")
