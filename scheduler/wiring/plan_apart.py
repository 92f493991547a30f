"""A plan made in a process of its own, so that a search that hangs, crashes or eats all memory takes nobody with it.

The child prints one JSON object; the parent waits up to a deadline and ends it then. When the child has no plan to give,
the simple rule plans in the parent: a morning is never without a checked plan.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from scheduler.planning.diff import Changes
from scheduler.planning.plan import Plan
from scheduler.wiring.mornings import Morning, plan_morning
from scheduler.wiring.workspace import Workspace, open_farm
from shared.errors import FitgroundError

START_S = 30.0
"""Time for a process to begin, besides its search."""
POLL_S = 0.1
MARK = "fitground plan: "


@dataclass(frozen=True)
class Apart:
    """A plan out of another process."""

    plan: Plan
    changes: Changes | None
    news: tuple[str, ...]


def plan_apart(
    folder: Path, now: datetime, seconds: float, deadline_s: float, stopping: threading.Event
) -> tuple[Apart | None, str]:
    """Return a plan made in a process of its own, or why there is none.

    Parameters
    ----------
    seconds : float
        Effort of the search [s].
    deadline_s : float
        After so long the process is ended [s].
    stopping : Event
        Ends it early.
    """
    command = [
        sys.executable,
        "-m",
        "scheduler.wiring.plan_apart",
        str(folder),
        now.isoformat(),
        repr(seconds),
    ]
    with subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        stdin=subprocess.DEVNULL,
        text=True,
        start_new_session=True,
    ) as child:
        waited = 0.0
        while True:
            try:
                out, said = child.communicate(timeout=POLL_S)
                break
            except subprocess.TimeoutExpired:
                waited += POLL_S
                if waited < deadline_s and not stopping.is_set():
                    continue
                _end(child)
                return None, "the service is stopping" if stopping.is_set() else f"the search had no answer after {deadline_s:.0f} s"  # fmt: skip
    if child.returncode != 0:
        last = said.strip().splitlines()[-1:] or [f"signal {-child.returncode}" if child.returncode < 0 else f"code {child.returncode}"]  # fmt: skip
        return None, f"the search ended without a plan ({last[0][:300]})"
    try:
        told = json.loads(out[out.rindex(MARK) + len(MARK) :])
        return Apart(Plan.model_validate(told["plan"]), _changes(told["changes"]), tuple(told["news"])), ""
    except (ValueError, KeyError) as error:
        return None, f"the search gave an answer that cannot be read ({type(error).__name__})"


def _changes(told: object) -> Changes | None:
    return None if told is None else Changes.model_validate(told)


def _end(child: subprocess.Popen[str]) -> None:
    """End a process and all that it started: one that is left would hold the pipes open."""
    if hasattr(os, "killpg"):
        os.killpg(child.pid, signal.SIGKILL)
    child.kill()
    child.communicate()


def plan_by_rule(workspace: Workspace, now: datetime) -> Morning:
    """Make a checked plan by the simple rule, at once."""
    return plan_morning(workspace, now, use_engine=False)


def main(arguments: list[str]) -> int:
    """Make the plan and print it; an error is one sentence."""
    folder, now, seconds = arguments
    if hasattr(os, "nice"):
        # The service itself must stay quick to hear and to answer.
        os.nice(5)
    try:
        morning = plan_morning(open_farm(Path(folder)), datetime.fromisoformat(now), float(seconds))
    except FitgroundError as error:
        print(error, file=sys.stderr)
        return error.exit_code
    told = {
        "plan": morning.plan.model_dump(mode="json"), "changes": None if morning.changes is None else morning.changes.model_dump(mode="json"), "news": list(morning.news),
    }  # fmt: skip
    print(MARK + json.dumps(told))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
