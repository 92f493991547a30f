"""An acknowledged event survives a kill at any instant."""

from __future__ import annotations

import random
import subprocess
import sys
import time
from pathlib import Path

from adapters.storage.sqlite_log import SqliteEventLog

CYCLES = 10
WRITER = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from adapters.storage.sqlite_log import SqliteEventLog
from shared.event_record import EventRecord

log, start = SqliteEventLog(Path(sys.argv[1])), sys.argv[2]
moment = datetime(2027, 5, 10, tzinfo=UTC)
for number in range(100000):
    name = f"{start}-{number}"
    log.append([EventRecord(name, "rain_measured", moment, moment, {"rain_mm": 1.0, "pad": "x" * 2000})])
    print(name, flush=True)
"""


def test_no_acknowledged_event_is_lost_when_the_writer_is_killed(tmp_path: Path) -> None:
    path, chance = tmp_path / "farm.sqlite", random.Random(7)
    root = Path(__file__).resolve().parents[2]
    acknowledged: list[str] = []
    for cycle in range(CYCLES):
        child = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path), str(cycle)], stdout=subprocess.PIPE, text=True, cwd=root
        )
        assert child.stdout is not None
        first = child.stdout.readline()
        time.sleep(chance.uniform(0.0, 0.15))
        child.kill()
        rest = child.stdout.read()
        child.wait()
        # A torn last line was not acknowledged; whole lines were.
        acknowledged += [
            line.strip() for line in (first + rest).splitlines(keepends=True) if line.endswith("\n")
        ]
        log = SqliteEventLog(path)
        stored = [event.id for event in log.read()]
        assert log.damaged == ()
        assert set(acknowledged) <= set(stored)
        assert [event.sequence for event in log.read()] == list(range(1, len(stored) + 1))
        # At most the one event under way at the kill is there without its acknowledgement.
        assert len(stored) - len(acknowledged) <= cycle + 1
    assert len(acknowledged) > CYCLES
