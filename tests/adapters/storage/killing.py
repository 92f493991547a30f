"""Writers killed at random instants while they report: what the suite and the bench count."""

from __future__ import annotations

import random
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

from adapters.storage.database import open_database
from adapters.storage.sql_log import SqlEventLog

WRITER = """
import sys
from datetime import UTC, datetime
from adapters.storage.database import open_database
from adapters.storage.sql_log import SqlEventLog
from shared.event_record import EventRecord

where, farm, start = sys.argv[1:4]
log = SqlEventLog(open_database(where, farm))
moment = datetime(2027, 5, 10, tzinfo=UTC)
for number in range(100000):
    name = f"{start}-{number}"
    event = EventRecord(name, "rain_measured", moment, moment, {"rain_mm": 1.0, "pad": "x" * 2000})
    log.append([event])
    print(name, flush=True)
    log.append([event])  # a phone that did not hear the answer sends again
"""


@dataclass
class Count:
    """What became of the events over all cycles."""

    cycles: int = 0
    acknowledged: int = 0
    lost: int = 0
    doubled: int = 0
    out_of_order: int = 0
    unread: int = 0
    more_than_one_under_way: int = 0


def kill_writers(where: str, farm: str, cycles: int, seed: int) -> Count:
    """Start a writer, kill it (signal 9) at a random instant, hold the log against what was acknowledged; again."""
    root, chance = Path(__file__).resolve().parents[3], random.Random(seed)
    count, acknowledged = Count(), set[str]()
    for cycle in range(cycles):
        acknowledged |= _one_life(root, where, farm, cycle, chance.uniform(0.0, 0.12))
        database = open_database(where, farm)
        log = SqlEventLog(database)
        events = log.read()
        database.close()
        stored = [event.id for event in events]
        count.cycles += 1
        count.acknowledged = len(acknowledged)
        count.lost = len(acknowledged - set(stored))
        count.doubled = len(stored) - len(set(stored))
        count.out_of_order += [event.sequence for event in events] != list(range(1, len(stored) + 1))
        count.unread += len(log.damaged)
        # At most the one event under way at each kill is there without its acknowledgement.
        count.more_than_one_under_way += len(stored) - len(acknowledged) > cycle + 1
    return count


def _one_life(root: Path, where: str, farm: str, cycle: int, seconds: float) -> set[str]:
    child = subprocess.Popen(
        [sys.executable, "-c", WRITER, where, farm, str(cycle)], stdout=subprocess.PIPE, text=True, cwd=root
    )
    assert child.stdout is not None
    first = child.stdout.readline()
    time.sleep(seconds)
    child.kill()
    rest = child.stdout.read()
    child.wait()
    # A torn last line was not acknowledged; whole lines were.
    return {line.strip() for line in (first + rest).splitlines(keepends=True) if line.endswith("\n")}
