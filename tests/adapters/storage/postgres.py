"""A real PostgreSQL server for tests: started where its programs are, on a socket in a temporary folder."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest


def _program(name: str) -> str | None:
    found = shutil.which(name)
    if found:
        return found
    places = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), reverse=True)
    return str(places[0]) if places else None


def _as_whom() -> list[str]:
    """Return the words that run a command as somebody else: the server refuses to run as root."""
    if os.geteuid() != 0:
        return []
    for name in ("postgres", "nobody"):
        try:
            who = pwd.getpwnam(name)
        except KeyError:
            continue
        if shutil.which("setpriv"):
            return ["setpriv", f"--reuid={who.pw_uid}", f"--regid={who.pw_gid}", "--clear-groups"]
        if shutil.which("runuser"):
            return ["runuser", "-u", name, "--"]
    pytest.skip("PostgreSQL refuses to run as root, and there is nobody else to run it as")


@contextmanager
def server() -> Iterator[str]:
    """Give the address of a fresh server; skip with the reason where it cannot be had."""
    pytest.importorskip("psycopg", reason="the PostgreSQL driver (psycopg) is not installed")
    programs = {name: _program(name) for name in ("initdb", "pg_ctl", "postgres")}
    missing = [name for name, path in programs.items() if path is None]
    if missing:
        pytest.skip(f"PostgreSQL's server is not installed ({', '.join(missing)} missing)")
    # A short path: the name of a socket may have 107 characters at most.
    folder = Path(tempfile.mkdtemp(prefix="fgpg"))
    folder.chmod(0o777)
    whom, data = _as_whom(), folder / "data"
    # It needs neither speed nor safety here, and must never listen on the network.
    options = f"-c listen_addresses= -c unix_socket_directories={folder} -c fsync=off -c full_page_writes=off"
    try:
        _run(
            [
                *whom,
                str(programs["initdb"]),
                "-D",
                str(data),
                "-U",
                "fitground",
                "-A",
                "trust",
                "-E",
                "UTF8",
                "--no-sync",
            ]
        )
        _run(
            [
                *whom,
                str(programs["pg_ctl"]),
                "-D",
                str(data),
                "-o",
                options,
                "-l",
                str(folder / "log"),
                "-w",
                "-t",
                "60",
                "start",
            ]
        )
        try:
            yield f"postgresql://fitground@/postgres?host={folder}"
        finally:
            _run([*whom, str(programs["pg_ctl"]), "-D", str(data), "-m", "immediate", "-w", "stop"])
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _run(command: list[str]) -> None:
    done = subprocess.run(
        command, capture_output=True, text=True, stdin=subprocess.DEVNULL, timeout=120, check=False
    )
    if done.returncode != 0:
        raise RuntimeError(f"{command}: {done.stdout[-500:]}{done.stderr[-500:]}")
