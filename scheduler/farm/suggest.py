"""Faults of the farm as a whole, and "did you mean": the nearest known name in every complaint about an unknown one."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

from shared.errors import Fault


def nearest(name: str, known: Iterable[str]) -> str:
    """Return ``did you mean 'x'? `` for the nearest known name, or nothing when none is near."""
    near = get_close_matches(name, list(known), n=1, cutoff=0.6)
    return f"did you mean {near[0]!r}? " if near else ""


def fault(key: str, value: str, problem: str, allowed: str, warning: bool = False) -> Fault:
    """Return a fault at a dotted place of the farm (``machine.2.width``); `build` finds file and key path."""
    return Fault("", key, value, problem, allowed, warning)


def unknown(key: str, value: str, what: str, known: Iterable[str]) -> Fault:
    """Return the fault of a name that stands for nothing."""
    names = sorted(known)
    allowed = f"{nearest(value, names)}one of: {', '.join(names) or '(none described)'}"
    return fault(key, value, f"is no {what} of this farm", allowed)
