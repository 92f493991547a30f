"""An acknowledged event survives a kill at any instant (200 cycles: `tests.benchmarks.bench_kill`)."""

from __future__ import annotations

from pathlib import Path

from tests.adapters.storage.killing import Count, kill_writers

CYCLES = 20


def _check(count: Count, cycles: int) -> None:
    assert count.acknowledged > cycles
    assert count == Count(cycles=cycles, acknowledged=count.acknowledged)


def test_no_acknowledged_event_is_lost_from_a_file_when_the_writer_is_killed(tmp_path: Path) -> None:
    _check(kill_writers(str(tmp_path / "farm.sqlite"), "farm", CYCLES, seed=7), CYCLES)


def test_no_acknowledged_event_is_lost_from_a_server_when_the_writer_is_killed(postgres: str) -> None:
    _check(kill_writers(postgres, "killed", CYCLES // 4, seed=8), CYCLES // 4)
