"""Changes as text, by what is behind them: a cause, the blocks it is about, and what moved beside them."""

from __future__ import annotations

from textwrap import wrap

from scheduler.planning.diff import Changes
from scheduler.planning.diff_groups import grouped


def changes_text(changes: Changes, width: int, most: int | None = None) -> list[str]:
    """Return lines.

    Parameters
    ----------
    width : int
        Characters of a line.
    most : int, optional
        Blocks shown under each heading, the nearest first; the rest is counted.
    """
    out: list[str] = []
    for group in grouped(changes):
        out += wrap(group.cause, width, initial_indent="  ", subsequent_indent="  ")
        for heading, rows in group.lines():
            if heading:
                out.append(f"    {heading}:")
            for row in rows[:most]:
                out += wrap(row, width, initial_indent="    - ", subsequent_indent="      ")
            if most is not None and len(rows) > most:
                out.append(f"      ... and {len(rows) - most} more (fitground changes shows all)")
    return out
