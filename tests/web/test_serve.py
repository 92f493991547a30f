"""The real command: pages and service together from one line, ended with Ctrl-C."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

from scheduler.wiring.plans_known import latest_plan
from scheduler.wiring.workspace import open_farm
from tests.service.farms import wet_week

WAIT_S = 60.0


def command(folder: Path, *more: str) -> list[str]:
    return [sys.executable, "-m", "scheduler.cli.main", "serve", str(folder), *more]


def test_pages_open_while_the_service_issues_beside_them(tmp_path: Path) -> None:
    folder = wet_week(tmp_path)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    more = ["--now", "2027-05-10 04:59:57", "--seconds", "0.5", "--port", str(port)]
    child = subprocess.Popen(
        command(folder, *more),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )
    assert child.stdout is not None
    said, end = "", time.monotonic() + WAIT_S
    while "handed out" not in said and time.monotonic() < end:
        said += child.stdout.readline()
    with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=10) as answer:
        assert answer.geturl().endswith("/welcome")
    child.send_signal(signal.SIGINT)
    child.communicate(timeout=WAIT_S)
    assert child.returncode == 0
    assert "plan: why morning" in said
    plan = latest_plan(open_farm(folder))
    assert plan is not None and (folder / "lists" / "2027-05-10" / "all.html").exists()


def test_pages_without_a_password_stay_on_this_computer(tmp_path: Path) -> None:
    done = subprocess.run(
        command(wet_week(tmp_path), "--host", "0.0.0.0"),
        capture_output=True,
        text=True,
        timeout=WAIT_S,
        check=False,
    )
    assert done.returncode == 1
    assert (
        done.stderr.strip()
        == "nobody set a password yet, so the pages stay on this computer; set one with --set-password."
    )
