"""After one piece of news: seconds to the new plan, and how much moves of what the news does not touch.

    python -m tests.benchmarks.bench_replan [seconds]

Each piece of news is told at ten o'clock of the wet week's first morning; the forecast is the same, so everything that moves does
so because of it. Touched: blocks in a field, on a machine or by a person that the news names, and their followers in the field.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from scheduler.events.decide import decide
from scheduler.events.derive import situation as derive_situation
from scheduler.events.describe import touched
from scheduler.events.state import State, fold
from scheduler.events.words import report_from_words
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.planning.schedule import make_plan
from scheduler.solver.result import Limits
from scheduler.solver.rigday import warm_up
from scheduler.windows.build import build_outlook
from scheduler.wiring import open_farm
from scheduler.wiring.mornings import horizon_at, known_weather

SCENARIO = Path(__file__).resolve().parents[2] / "scenarios" / "wet-week"
MORNING = datetime.fromisoformat("2027-05-10T05:00:00-05:00")
LATER = MORNING.replace(hour=10)
NEWS = (
    ["down", "row"], ["down", "planter"], ["away", "oskari"], ["ground", "mill-flat", "unfit"],
    ["late", "n32", "n-2", "2027-05-17"], ["rain", "heron", "0.6 in"], ["cancel", "kiln", "post"], ["done", "sand-loop", "plant", "30 ac"],
)  # fmt: skip


def main(seconds: float) -> None:
    """Print a line for each piece of news."""
    warm_up()
    workspace = open_farm(SCENARIO, quiet_log=True)
    farm, horizon = workspace.farm, horizon_at(workspace, MORNING)

    def planned(state: State, now: datetime, before: Plan | None, longer: float = 1.0) -> Plan:
        observed, forecast, normals = known_weather(workspace, now)
        situation = derive_situation(farm, state, now)
        return make_plan(
            situation,
            build_outlook(situation, horizon, observed, forecast, normals),
            horizon,
            Limits(seconds * longer, 2, 1),
            before,
        )

    first = planned(State(), MORNING, None, 4.0)
    moved_all = stood_all = 0
    for words in NEWS:
        state = State()
        now_situation = derive_situation(farm, state, LATER)
        record = decide(report_from_words(words, {}, farm, LATER), state, now_situation).record
        state = fold(state, [replace(record, sequence=1)])
        began = time.monotonic()
        second = planned(state, LATER, first)
        took = time.monotonic() - began
        alone = planned(state, LATER, None)
        names = touched(next(iter(state.told.values())))
        hit = {(b.field, b.start) for b in first.blocks if _touched(b, names)}
        follow = {
            (b.field, b.start)
            for b in first.blocks
            for field, start in hit
            if b.field == field and b.start >= start
        }
        ahead = [b for b in first.blocks if b.start > LATER and (b.field, b.start) not in follow]
        kept = {_where(b) for b in second.blocks}
        moved = [b for b in ahead if _where(b) not in kept]
        near = [b for b in moved if (b.start.date() - MORNING.date()).days <= 1]
        moved_all, stood_all = moved_all + len(moved), stood_all + len(ahead)
        print(
            f"{' '.join(words):<36} {took:5.1f} s  {second.method:<7} untouched {len(ahead):3d}  moved {len(moved):3d} "
            f"({len(moved) / max(1, len(ahead)):.0%}), of today and tomorrow {len(near)}  value {second.value.total:,.0f}, "
            f"without regard to what people know {alone.value.total:,.0f}"
        )
    print(f"of {stood_all} untouched blocks {moved_all} moved: {moved_all / max(1, stood_all):.1%}")


def _touched(block: PlanBlock, names: frozenset[str]) -> bool:
    return bool(names & {block.field, block.operator, block.support or "", *block.machines, "all"})


def _where(block: PlanBlock) -> tuple[object, ...]:
    return block.field, block.pass_id, block.start.date(), block.rig, block.operator


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 5.0)
