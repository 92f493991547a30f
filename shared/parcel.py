"""What is handed out: a person's day list, or the manager's morning page."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any


@dataclass(frozen=True)
class Parcel:
    """One thing to hand out.

    Attributes
    ----------
    name : str
        Such as a plan's id and a person: known by it, handed out once.
    to : str
        The person's id; ``all`` for the manager.
    title : str
        One line: the subject of a letter.
    text, html : str
        The same in both forms; `html` may be empty.
    day : date
    address : str
        Where the person wants it (an e-mail address); empty where not known.
    data : mapping
        JSON-ready values for programs.
    kind : str
        ``list`` or ``reminder``; a newer one of the same kind, person and day takes an older one's place.
    """

    name: str
    to: str
    title: str
    text: str
    html: str
    day: date
    address: str = ""
    data: Mapping[str, Any] = field(default_factory=dict)
    kind: str = "list"
