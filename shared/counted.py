"""Numbers of things in plain words."""

from __future__ import annotations


def counted(number: int, noun: str, plural: str = "") -> str:
    """Return a number with its noun: ``1 field``, ``12 fields``, ``1,200 rows``."""
    return f"{number:,} {noun if number == 1 else plural or f'{noun}s'}"
