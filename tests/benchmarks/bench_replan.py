"""After one piece of news: seconds to the new plan, and how much moves of what the news does not touch.

    python -m tests.benchmarks.bench_replan [seconds] [first plans]

Each piece of news is told at ten o'clock of the wet week's first morning and is all that was reported; the forecast is the same,
so everything that moves does so because of it. Touched: blocks in a field, on a machine, by a person or with a product that the news names, blocks that no longer
can stand where they were (a neighbouring field got wet too), and what follows any of these in its field.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from datetime import datetime
from itertools import product
from pathlib import Path

from scheduler.events.codec import Event
from scheduler.events.decide import decide
from scheduler.events.derive import situation as derive_situation
from scheduler.events.news import news_of
from scheduler.events.situation import Situation
from scheduler.events.state import State, fold
from scheduler.events.words import report_from_words
from scheduler.planning.compile import compile_problem
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.planning.presumed import Known, known_now
from scheduler.planning.schedule import make_plan
from scheduler.solver.dispatch import dispatch
from scheduler.solver.result import Limits
from scheduler.solver.rigday import warm_up
from scheduler.windows.build import build_outlook
from scheduler.windows.records import Outlook
from scheduler.wiring.mornings import horizon_at, known_weather
from scheduler.wiring.workspace import open_farm
from shared.clock import Horizon

SCENARIO = Path(__file__).resolve().parents[2] / "scenarios" / "wet-week"
MORNING = datetime.fromisoformat("2027-05-10T05:00:00-05:00")
LATER = MORNING.replace(hour=10)
NEWS = (
    ["down", "row"], ["down", "planter"], ["away", "oskari"], ["ground", "mill-flat", "unfit"],
    ["late", "n32", "n-2", "2027-05-17"], ["rain", "heron", "0.6 in"], ["cancel", "kiln", "post"], ["done", "sand-loop", "plant", "30 ac"],
)  # fmt: skip


def main(seconds: float, firsts: int) -> None:
    """Print a line for each piece of news, for so many first plans with a luck of their own."""
    warm_up()
    workspace = open_farm(SCENARIO, quiet_log=True)
    farm, horizon = workspace.farm, horizon_at(workspace.farm, MORNING)

    def situation_of(state: State, now: datetime) -> tuple[Situation, Outlook]:
        situation = derive_situation(farm, state, now)
        return situation, build_outlook(situation, horizon, *known_weather(workspace, now))

    def planned(state: State, now: datetime, before: Plan | None, luck: int, longer: float = 1.0) -> Plan:
        situation, outlook = situation_of(state, now)
        return make_plan(situation, outlook, horizon, Limits(seconds * longer, 2, luck), before)

    moved_all = stood_all = loose_moved = loose_all = 0
    plans = [planned(State(), MORNING, None, luck, 4.0) for luck in range(1, firsts + 1)]
    for (luck, first), words in product(enumerate(plans, 1), NEWS):
        state = State()
        now_situation = derive_situation(farm, state, LATER)
        record = decide(report_from_words(words, {}, farm, LATER), state, now_situation).record
        state = fold(state, [replace(record, sequence=1)])
        began = time.monotonic()
        second = planned(state, LATER, first, luck)
        took = time.monotonic() - began
        situation, outlook = situation_of(state, LATER)
        known = known_now(situation, first, outlook)
        alone = make_plan(known.situation, outlook, horizon, Limits(seconds, 2, luck))
        event = state.told[record.id]
        named, touching = touched_blocks(first, known, outlook, event)
        ahead = [b for b in first.blocks if b.start > LATER and (b.field, b.start) not in touching]
        unnamed = [b for b in first.blocks if b.start > LATER and (b.field, b.start) not in named]
        kept = {_where(b) for b in second.blocks}
        moved = [b for b in ahead if _where(b) not in kept]
        near = [b for b in moved if (b.start.date() - MORNING.date()).days <= 1]
        moved_all, stood_all = moved_all + len(moved), stood_all + len(ahead)
        loose_moved += sum(_where(b) not in kept for b in unnamed)
        loose_all += len(unnamed)
        print(
            f"{' '.join(words):<36} {took:5.1f} s  {second.method:<7} untouched {len(ahead):3d}  moved {len(moved):3d} "
            f"({len(moved) / max(1, len(ahead)):.0%}), of today and tomorrow {len(near)}  value {second.value.total:,.0f}, "
            f"without regard to what people know {alone.value.total:,.0f}"
        )
    print(f"of {stood_all} untouched blocks {moved_all} moved: {moved_all / max(1, stood_all):.1%}")
    print(f"of {loose_all} that the news does not name {loose_moved}: {loose_moved / max(1, loose_all):.1%}")


def touched_blocks(
    first: Plan, known: Known, outlook: Outlook, event: Event
) -> tuple[set[tuple[str, datetime]], set[tuple[str, datetime]]]:
    """Return field and start of the blocks whose field, machine or person the news names, and of all that it touches."""
    names = news_of(event, "").names
    horizon = Horizon(first.first_day, first.days, first.time_zone)
    found = compile_problem(known.situation, outlook, horizon, known.situation.farm.plan, known.plan)
    assert found.start is not None
    sound = set(dispatch(found.problem, start=found.start).blocks)
    stands = {
        (found.jobs[b.task].field.id, found.jobs[b.task].spec.id, found.grid.moment(b.start))
        for b in found.start.blocks
        if b in sound
    }
    products = {
        (job.field.id, job.spec.id): {rate.product for rate in job.spec.products} for job in found.jobs
    }
    named = [b for b in first.blocks if names & {b.field, b.operator, b.support or "", *b.machines, "all"}]
    hit = [
        b
        for b in first.blocks
        if names & products.get((b.field, b.pass_id), set()) or (b.field, b.pass_id, b.start) not in stands
    ]

    def followed(blocks: list[PlanBlock]) -> set[tuple[str, datetime]]:
        return {
            (b.field, b.start)
            for b in first.blocks
            for h in blocks
            if b.field == h.field and b.start >= h.start
        }

    return followed(named), followed(named + hit)


def _where(block: PlanBlock) -> tuple[object, ...]:
    return block.field, block.pass_id, block.start.date(), block.rig, block.operator


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 5.0, int(sys.argv[2]) if len(sys.argv) > 2 else 1)
