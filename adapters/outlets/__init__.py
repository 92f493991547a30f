"""Ways out for day lists and plans, opened by the kinds that the farm file names; other packages may bring more.

A package adds one by an entry point of the group ``fitground.outlets``: its name is the kind, its value a function like
those of `KINDS`. Secrets come from environment variables that the farm file names, never from the file.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, Protocol

from adapters.outlets.folder import open_folder
from adapters.outlets.mail import open_mail
from adapters.outlets.webhook import open_webhook
from shared.errors import OutletFailed
from shared.ports import Outlet
from shared.registry import with_brought

GROUP = "fitground.outlets"


class Settings(Protocol):
    """One ``[[outlet]]`` of the farm file."""

    @property
    def kind(self) -> str:
        """Which outlet."""

    @property
    def name(self) -> str:
        """What people call it."""

    @property
    def options(self) -> Mapping[str, Any]:
        """Its options."""


Opener = Callable[[str, Path, Mapping[str, Any], Mapping[str, str]], Outlet]
KINDS: dict[str, Opener] = {"folder": open_folder, "mail": open_mail, "webhook": open_webhook}
"""Kind -> function of name, farm folder, options and environment."""


def known_kinds() -> dict[str, Opener]:
    """Return every kind, those of other packages with them."""
    return with_brought(KINDS, GROUP)


def open_outlets(
    farm_folder: Path, settings: Sequence[Settings], environment: Mapping[str, str]
) -> list[Outlet]:
    """Open the outlets of a farm, in the order of the farm file.

    Raises
    ------
    OutletFailed
        A kind is not known, two have one name, or an option is missing; one sentence.
    """
    found: dict[str, Outlet] = {}
    for number, one in enumerate(settings, 1):
        opener = known_kinds().get(one.kind)
        if opener is None:
            known = ", ".join(sorted(known_kinds()))
            raise OutletFailed(
                f"farm.toml: outlet[{number}].kind {one.kind!r} is not known; allowed: {known}.", again=False
            )
        name = one.name or one.kind
        if name in found:
            raise OutletFailed(
                f"farm.toml: outlet[{number}].name {name!r} is there twice; allowed: a name of its own.",
                again=False,
            )
        found[name] = opener(name, farm_folder, one.options, environment)
    return list(found.values())
