"""How many acknowledged events are lost when writers are killed: 200 cycles on a file, 50 on a server where there is one."""

from __future__ import annotations

import tempfile
import time
from dataclasses import asdict
from pathlib import Path

import pytest

from tests.adapters.storage.killing import kill_writers
from tests.adapters.storage.postgres import server


def main(cycles: int = 200) -> None:
    """Print one line a database."""
    with tempfile.TemporaryDirectory() as folder:
        _say("file", str(Path(folder) / "farm.sqlite"), cycles)
    try:
        with server() as address:
            _say("server", address, cycles // 4)
    except pytest.skip.Exception as reason:
        print(f"server: left out, {reason}")


def _say(name: str, where: str, cycles: int) -> None:
    start = time.perf_counter()
    count = asdict(kill_writers(where, "killed", cycles, seed=1))
    print(f"{name}: {count}, {time.perf_counter() - start:.0f} s")


if __name__ == "__main__":
    main()
