"""Farms as written, for tests: the starter farm with single values changed, as files give them to the core."""

from __future__ import annotations

import copy
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from adapters.storage.farm_files import RawFarm, read_farm_folder
from scheduler.farm.starter import starter_farm
from shared.errors import FarmFileError

Place = tuple[str | int, ...]


@lru_cache(maxsize=1)
def starter_as_written() -> RawFarm:
    """Return the starter farm as its files say it."""
    with TemporaryDirectory() as folder:
        for file, text in starter_farm("Test").items():
            if "/" not in file:
                (Path(folder) / file).write_text(text, encoding="utf-8")
        return read_farm_folder(Path(folder))


def changed_farm(*changes: Any) -> RawFarm:
    """Return the starter farm with values put in: place, value, place, value."""
    raw = starter_as_written()
    values = copy.deepcopy(raw.values)
    for place, value in zip(changes[::2], changes[1::2], strict=True):
        inner: Any = values
        for part in place[:-1]:
            inner = inner[part]
        inner[place[-1]] = value
    return RawFarm(values, raw.origin)


def sentences(error: FarmFileError) -> list[str]:
    """Return the sentences of all faults."""
    return [fault.sentence() for fault in error.faults]
