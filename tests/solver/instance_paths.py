"""Where tests find the published scheduling instances, which are not part of the repository.

The folder holds ``cases/*.json``. It is FITGROUND_DATA, or ``instances`` in or beside FITGROUND_DATA, or
``../shared/instances`` beside the checkout.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parents[2]


def instances_folder() -> Path:
    """Return the folder of instances, which may not exist."""
    places = [CHECKOUT.parent / "shared" / "instances"]
    named = os.environ.get("FITGROUND_DATA")
    if named:
        places = [Path(named), Path(named) / "instances", Path(named).parent / "instances", *places]
    return next((place for place in places if (place / "cases").is_dir()), places[-1])


def instance_file(name: str) -> Path:
    """Return one file of the instances; skips the calling test, with the reason, where it is absent."""
    path = instances_folder() / name
    if not path.is_file():
        pytest.skip(f"published instance {name} not found in {instances_folder()} (set FITGROUND_DATA)")
    return path
