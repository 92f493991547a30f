"""From a zipped shapefile to a checked farm folder, and to its first plan: seconds by step, and 200 fields against 15.

    python -m tests.benchmarks.bench_intake [seconds of search]

The steps are those of ``fitground init --from FILE --plan``, in one process after the compiled parts are warm.
"""

from __future__ import annotations

import sys
import tempfile
import time
from datetime import datetime
from pathlib import Path

from adapters.boundaries import Words, read_fields
from scheduler.solver.rigday import warm_up
from scheduler.wiring.intake import Wish, write_farm
from scheduler.wiring.mornings import issue, plan_morning
from scheduler.wiring.workspace import open_farm
from tests.adapters.boundaries.files import grid, shape_zip

SIZES = (15, 200)


def steps(fields: int, seconds: float) -> dict[str, float]:
    """Return the seconds of each step."""
    took, began = {}, time.monotonic()

    def lap(name: str) -> None:
        nonlocal began
        took[name], began = time.monotonic() - began, time.monotonic()

    with tempfile.TemporaryDirectory() as name:
        source = shape_zip(Path(name) / "fields.zip", grid(fields))
        began = time.monotonic()
        intake = read_fields(source, Words())
        lap("read, check, measure")
        write_farm(Path(name) / "farm", Wish(defaults={"cover": "rye"}), intake)
        lap("write and check the folder")
        workspace = open_farm(Path(name) / "farm")
        lap("open it")
        morning = plan_morning(workspace, datetime(2027, 5, 10, 5, tzinfo=workspace.zone), seconds)
        issue(workspace, morning)
        lap(f"plan ({seconds:g} s of search) and issue")
        workspace.database.close()
    return took


def main(seconds: float) -> None:
    """Print a line for each step."""
    warm_up()
    steps(SIZES[0], 0.5)
    small, large = (steps(size, seconds) for size in SIZES)
    print(f"{'':<32} {SIZES[0]:>6} fields {SIZES[1]:>6} fields   ratio")
    for name, value in small.items():
        print(f"{name:<32} {value:>11.2f} s {large[name]:>11.2f} s {large[name] / max(value, 1e-9):>7.1f}")
    print(
        f"{'all':<32} {sum(small.values()):>11.2f} s {sum(large.values()):>11.2f} s {sum(large.values()) / sum(small.values()):>7.1f}"
    )


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 20.0)
