"""Options of outlets: present, of the right kind, secrets out of the environment; a fault is one sentence."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from shared.errors import OutletFailed


def option(name: str, options: Mapping[str, Any], key: str, allowed: str, default: str | None = None) -> str:
    """Return a text option.

    Raises
    ------
    OutletFailed
        It is missing and has no default.
    """
    if key in options and str(options[key]).strip():
        return str(options[key]).strip()
    if default is None:
        raise OutletFailed(
            f"farm.toml: outlet {name!r}: options.{key} is missing; allowed: {allowed}.", again=False
        )
    return default


def only_known(name: str, options: Mapping[str, Any], known: Collection[str]) -> None:
    """Refuse options that nobody reads: a misspelt one would be silently without effect."""
    for key in options:
        if key not in known:
            raise OutletFailed(
                f"farm.toml: outlet {name!r}: options.{key} is not known; allowed: {', '.join(sorted(known))}.",
                again=False,
            )


def secret(name: str, options: Mapping[str, Any], key: str, environment: Mapping[str, str]) -> str:
    """Return a secret out of the environment variable that an option names; empty when no option names one."""
    variable = str(options.get(key, "")).strip()
    if not variable:
        return ""
    if variable not in environment:
        raise OutletFailed(
            f"farm.toml: outlet {name!r}: options.{key} names the environment variable {variable}, which is not set.", again=False
        )  # fmt: skip
    return environment[variable]
