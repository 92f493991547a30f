"""Things by name, those that other packages bring by entry points among them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from importlib.metadata import entry_points
from typing import Any


def with_brought(own: Mapping[str, Callable[..., Any]], group: str) -> dict[str, Callable[..., Any]]:
    """Return our own makers and those of a group of entry points; ours go first, others are loaded when they are called."""
    found = dict(own)
    for entry in entry_points(group=group):
        found.setdefault(entry.name, _lazy(entry))
    return found


def late(where: str) -> Callable[..., Any]:
    """Return a maker of our own, written ``module:function``, that is loaded when it is called."""
    module, name = where.split(":")
    return lambda *what: getattr(import_module(module), name)(*what)


def _lazy(entry: Any) -> Callable[..., Any]:
    return lambda *what: entry.load()(*what)
