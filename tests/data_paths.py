"""Where tests find the open data that is not part of the repository; they skip, visibly, where it is absent.

The folder is named by the environment variable FITGROUND_DATA, or is ``../shared/data`` beside the checkout.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parents[1]


def data_folder() -> Path:
    """The folder of open data, which may not exist."""
    named = os.environ.get("FITGROUND_DATA")
    return Path(named) if named else CHECKOUT.parent / "shared" / "data"


def open_data(name: str) -> Path:
    """Path of one data file; skips the calling test with the reason where it is absent."""
    path = data_folder() / name
    if not path.is_file():
        pytest.skip(f"open data {name} not found in {data_folder()} (set FITGROUND_DATA)")
    return path
