"""The real process: it starts, plans, hands out, is asked to end while it plans, is killed, and goes on."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from prometheus_client.parser import text_string_to_metric_families

from scheduler.service.clockwork import wound_up
from scheduler.wiring.plans_known import latest_plan
from scheduler.wiring.workspace import open_farm
from tests.service.fakes import House
from tests.service.farms import FOLDER_OUTLET, today_farm

WAIT_S = 60.0
DUE_NOW = '\n[service]\nremind_at = "23:59"\n' + FOLDER_OUTLET


def farm_due_now(tmp_path: Path) -> Path:
    """Return a farm of today whose morning is due at midnight, so at any time."""
    folder = today_farm(tmp_path, DUE_NOW)
    text = (folder / "farm.toml").read_text()
    (folder / "farm.toml").write_text(text.replace("[plan]\n", '[plan]\nissue_at = "00:00"\n', 1))
    return folder


class Running:
    """A service in a process of its own."""

    def __init__(self, folder: Path, *more: str) -> None:
        command = [sys.executable, "-m", "scheduler.cli.main", "run", str(folder), "--log", "json", *more]
        self.child = subprocess.Popen(
            command, stderr=subprocess.PIPE, text=True, env={**os.environ, "PYTHONUNBUFFERED": "1"}
        )
        self.lines: list[dict[str, object]] = []

    def until(self, what: str) -> dict[str, object]:
        """Read its log up to a message."""
        assert self.child.stderr is not None
        end = time.monotonic() + WAIT_S
        while time.monotonic() < end:
            line = self.child.stderr.readline()
            assert line, f"it ended before {what!r}: {self.lines}"
            self.lines.append(json.loads(line))
            if self.lines[-1]["what"] == what:
                return self.lines[-1]
        raise AssertionError(f"{what!r} did not come: {self.lines}")

    def end(self) -> int:
        """Ask it to end; return its exit code."""
        self.child.send_signal(signal.SIGTERM)
        _, rest = self.child.communicate(timeout=WAIT_S)
        self.lines += [json.loads(line) for line in rest.splitlines()]
        return self.child.returncode


def test_it_plans_hands_out_answers_watchers_and_ends_in_good_order(tmp_path: Path) -> None:
    folder = farm_due_now(tmp_path)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    service = Running(folder, "--seconds", "0.5", "--port", str(port))
    assert service.until("plan")["why"] == "morning"
    service.until("handed out")
    door = f"http://127.0.0.1:{port}"
    with urllib.request.urlopen(f"{door}/healthz", timeout=5) as answer:
        assert json.load(answer) == {"ok": True, "role": "issues"}
    with urllib.request.urlopen(f"{door}/metrics", timeout=5) as answer:
        families = {family.name: family for family in text_string_to_metric_families(answer.read().decode())}
    assert families["fitground_plans"].samples[0].value == 1
    assert families["fitground_holds_lease"].samples[0].value == 1
    with urllib.request.urlopen(f"{door}/status", timeout=5) as answer:
        told = json.load(answer)
    assert (told["unplanned"], told["running"]) == (0, True)
    assert not {"worries_text", "service", "farm", "plan_id"} & set(told)
    with pytest.raises(urllib.error.HTTPError, match="404"):
        urllib.request.urlopen(f"{door}/secrets", timeout=5)
    assert service.end() == 0
    assert service.lines[-1]["what"] == "service ended"
    assert list((folder / "lists").rglob("all.html"))


@pytest.mark.clock
def test_asked_to_end_while_it_plans_it_ends_soon_and_the_next_start_issues(
    tmp_path: Path,
) -> None:
    folder = farm_due_now(tmp_path)
    service = Running(folder, "--seconds", "300")
    service.until("weather")
    time.sleep(1.0)
    begun = time.monotonic()
    assert service.end() == 0
    assert time.monotonic() - begun < 20
    space = open_farm(folder)
    assert latest_plan(space) is None and not (folder / "lists").exists()
    again = Running(folder, "--seconds", "0.5")
    again.until("handed out")
    assert again.end() == 0
    assert latest_plan(space) is not None


def test_killed_it_goes_on_and_issues_nothing_twice(tmp_path: Path) -> None:
    folder = farm_due_now(tmp_path)
    service = Running(folder, "--seconds", "0.5")
    service.until("plan")
    service.child.kill()
    service.child.communicate()
    space = open_farm(folder)
    plans = space.shelf.last(9)
    assert len(plans) == 1
    # The lease of the dead one holds for two minutes; nobody waits for it here.
    with space.database.writing() as connection:
        connection.exec_driver_sql("DELETE FROM leases")
    again = Running(folder, "--seconds", "0.5")
    again.until("handed out")
    assert again.end() == 0
    assert space.shelf.last(9) == plans
    assert not [line for line in again.lines if line["what"] == "plan"]


def test_a_job_missed_for_hours_runs_once_on_waking() -> None:
    """The scheduler's own clockwork: every job is overdue since eight hours when it starts."""
    house = House()
    service, looks = house.service(), []
    service.look = lambda now: looks.append(now) or []  # type: ignore[method-assign,func-returns-value]
    scheduler = wound_up(service, lambda: datetime.now(service.times.zone))
    assert {job.id for job in scheduler.get_jobs()} == {"first", "look", "lease", "issue", "remind"}
    scheduler.start(paused=True)
    overdue = datetime.now(service.times.zone) - timedelta(hours=8)
    for job in scheduler.get_jobs():
        job.modify(next_run_time=overdue)
        assert (job.coalesce, job.misfire_grace_time, job.max_instances) == (True, None, 1)
    scheduler.resume()
    time.sleep(1.5)
    scheduler.shutdown(wait=True)
    # First, look, issue and remind: once each, not once for every five seconds that were slept over.
    assert len(looks) == 4
