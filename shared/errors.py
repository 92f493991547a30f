"""The error tree, and the one shape that every complaint about an input file has.

    FitgroundError                 anything a person can put right; its text is one clear sentence
    ├── FarmFileError              the farm description has faults (all of them, as `faults`)
    ├── ReportRefused              a report cannot become an event; says why, nothing is stored
    ├── EventLogError              the log cannot be read or written (locked, torn, full)
    ├── WeatherUnavailable         no usable weather from a source
    ├── SoilUnavailable            no usable soil from a source
    └── PlanRefused                the checker found a broken rule; the plan does not leave the program

Faces print ``str(error)`` and end with the error's ``exit_code``; they never show a traceback for one of these.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """One thing wrong with one value in one file.

    Attributes
    ----------
    file : str
        File name as the person knows it, e.g. ``farm.toml``.
    key : str
        Path of the key, e.g. ``machines[2].width`` or ``row 4, area``.
    value : str
        The offending value as written; empty when the key is missing.
    problem : str
        What is wrong, e.g. ``is not a length``.
    allowed : str
        What is allowed, e.g. ``a length above 0 such as "30 ft" or "9 m"``.
    warning : bool
        True when planning can go on all the same.
    """

    file: str
    key: str
    value: str
    problem: str
    allowed: str
    warning: bool = False

    def sentence(self) -> str:
        """Return the fault as one sentence."""
        shown = f" {self.value!r}" if self.value else ""
        allowed = f"; allowed: {self.allowed}" if self.allowed else ""
        return f"{self.file}: {self.key}:{shown} {self.problem}{allowed}."


class FitgroundError(Exception):
    """Base of every error that a user can cause or must know of."""

    exit_code = 1


class FarmFileError(FitgroundError):
    """The farm description has faults; all of them are listed in `faults`."""

    exit_code = 2

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(fault.sentence() for fault in self.faults))


class ReportRefused(FitgroundError):
    """A report was understood as wrong, and is refused with the reason; nothing was stored.

    Parameters
    ----------
    text : str
        The reason; with values in braces where `about` gives them, so that it can be said in another language.
    **about
        The values by name.
    """

    exit_code = 3

    def __init__(self, text: str, **about: object) -> None:
        super().__init__(text.format(**about) if about else text)
        self.text, self.about = text, about


class EventLogError(FitgroundError):
    """The event log cannot be read or written now."""

    exit_code = 4


class LogMoved(EventLogError):
    """Somebody else wrote to the log since it was read; reading it again and trying once more will do."""


class WeatherUnavailable(FitgroundError):
    """A weather source has nothing usable; the message says what was tried."""

    exit_code = 5


class SoilUnavailable(FitgroundError):
    """A soil source has nothing usable; the message says what was tried."""

    exit_code = 5


class PlanRefused(FitgroundError):
    """The independent checker found a broken rule, so the plan is not handed out."""

    exit_code = 6


class OutletFailed(FitgroundError):
    """A list did not get out; one sentence. `again`: whether trying later may help."""

    def __init__(self, message: str, again: bool = True) -> None:
        super().__init__(message)
        self.again = again
