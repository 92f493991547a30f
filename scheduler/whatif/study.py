"""A study: a question, what holds in every case, and the ways to compare; read from a file that people write.

question = "The planter is down for four days. What now?"
always = ["out planter until 2027-05-16"]

[[way]]
name = "Hire a planter"
changes = ['hire "Lent planter" like planter until 2027-05-16 cost "900 $/day"']
"""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationError
from pydantic import Field as Key

from scheduler.whatif.wish import read_wish
from shared.errors import FarmFileError, Fault, ReportRefused

PRESENT = "As it stands"
WAYS_MOST = 60


class StudyRecord(BaseModel):
    """Base of study records: frozen, unknown keys refused."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Way(StudyRecord):
    """One way to go on: its name and its changes, a line each (see `whatif.wish`).

    `again` searches with other random numbers: how far two searches for the same thing lie apart.
    """

    name: str = Key(min_length=1, max_length=80)
    changes: tuple[str, ...] = ()
    again: int = Key(default=0, ge=0, exclude=True)


class Study(StudyRecord):
    """What is asked.

    Attributes
    ----------
    question : str
    always : tuple of str
        Changes that hold in every way, the present one too.
    ways : tuple of Way
        What is compared with doing nothing more than `always`.
    """

    question: str = ""
    always: tuple[str, ...] = ()
    ways: tuple[Way, ...] = Key(alias="way", default=(), max_length=WAYS_MOST)

    def all_ways(self) -> tuple[Way, ...]:
        """Return every way with what always holds in front; the present one first."""
        first = Way(name=PRESENT, changes=self.always)
        return (first, *(Way(name=way.name, changes=self.always + way.changes) for way in self.ways))


KNOWN = {"question", "always", "way"}


def read_study(values: Mapping[str, Any], file: str) -> Study:
    """Return the study that a file's values make.

    Raises
    ------
    FarmFileError
        Every fault at once, each a sentence with file, key, value and what is allowed.
    """
    faults = [
        Fault(file, key, "", "is not a known key", _near(key)) for key in values if key not in KNOWN
    ]  # fmt: skip
    try:
        study = Study.model_validate({key: value for key, value in values.items() if key in KNOWN})
    except ValidationError as error:
        for item in error.errors():
            place = ".".join(str(part) for part in item["loc"])
            faults.append(
                Fault(file, place, "", f"is not usable ({item['msg'].lower()})", "see README, What if")
            )
        raise FarmFileError(faults) from error
    names = [way.name.casefold() for way in study.ways]
    for number, way in enumerate(study.ways):
        if names.index(way.name.casefold()) != number or way.name == PRESENT:
            faults.append(
                Fault(file, f"way[{number}].name", way.name, "stands there twice", "a name of its own")
            )
        faults += _line_faults(file, f"way[{number}].changes", way.changes)
    faults += _line_faults(file, "always", study.always)
    if not study.ways and not study.always:
        faults.append(Fault(file, "way", "", "is missing", "at least one [[way]] with a name and changes"))
    if faults:
        raise FarmFileError(faults)
    return study


def _line_faults(file: str, key: str, lines: tuple[str, ...]) -> list[Fault]:
    found = []
    for number, line in enumerate(lines):
        try:
            read_wish(line)
        except ReportRefused as error:
            found.append(Fault(file, f"{key}[{number}]", line, "cannot be read", str(error).rstrip(".")))
    return found


def _near(key: str) -> str:
    near = get_close_matches(key, sorted(KNOWN), n=1, cutoff=0.5)
    return (f"did you mean {near[0]!r}? " if near else "") + "question, always, way"
