"""Changes by what is behind them, so that a person reads one cause and its blocks, not one sentence for each block.

Question answered: *what did each piece of news, each silence and the weather do to the plan?* Blocks that a cause is about
come first; then those that only share a machine, a person or the field with them, which may have moved for any reason.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from scheduler.planning.diff import Change, Changes

BESIDE, OTHERS = "With the same machines, people or fields", "Other work"
"""Headings of what moved along with the blocks that a report, and that the weather or the search, is about."""


@dataclass(frozen=True)
class ChangeGroup:
    """A cause and what it changed.

    Attributes
    ----------
    cause : str
        A piece of news, silence, the forecast ...; with a capital, without a full stop.
    own, beside : tuple of Change
        What it is about, and what follows from that; each by time.
    """

    cause: str
    own: tuple[Change, ...]
    beside: tuple[Change, ...]

    @property
    def told(self) -> bool:
        """Whether somebody told it, or should have told; else it is the weather's or the search's."""
        return any(row.event_id is not None or row.unreported for row in self.rows)

    @property
    def rows(self) -> tuple[Change, ...]:
        """All of it, what the cause is about first."""
        return self.own + self.beside

    def lines(self) -> list[tuple[str, list[str]]]:
        """Return (heading, sentences) of what it is about and of what follows; the first heading is empty."""
        parts = [("", self.own), (BESIDE if self.told else OTHERS, self.beside)]
        return [(head, [line(row) for row in rows]) for head, rows in parts if rows]


def grouped(changes: Changes | None) -> tuple[ChangeGroup, ...]:
    """Return all changes by cause: first what somebody told or did not tell, the earliest work first; then weather and search."""
    rows: dict[tuple[str | None, str], list[Change]] = {}
    for row in () if changes is None else changes.rows:
        rows.setdefault((row.event_id, row.cause), []).append(row)
    found = [_group(cause, of_it) for (_, cause), of_it in rows.items()]
    return tuple(sorted(found, key=lambda group: (not group.told, not group.own, _first(group.rows))))


def line(row: Change) -> str:
    """Return what is different about a block, for a list under its cause."""
    return f"{row.text.removesuffix('.')}; {row.detail}." if row.detail else row.text


def _group(cause: str, rows: Sequence[Change]) -> ChangeGroup:
    own, beside = (tuple(row for row in rows if row.direct is direct) for direct in (True, False))
    group = ChangeGroup(_capital(cause), own, beside)
    # Of a new forecast, a new day or a better plan that nothing is about itself, all is as much its own.
    return group if own or group.told else ChangeGroup(group.cause, beside, ())


def _first(rows: Sequence[Change]) -> datetime:
    return min(moment for row in rows if (moment := row.to_start or row.from_start) is not None)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
