"""What is left of a stock, worked out by hand: 100 there, 50 come at quarter 6, blocks and a later week take of it."""

from __future__ import annotations

import numpy as np

from scheduler.planning.room_stock import stock_room
from scheduler.solver.problem import Mode, Need, Problem, Task
from scheduler.solver.resources import Bucket, Resource, Stock
from scheduler.solver.result import Block, CorePlan, Later

SPRAY = Task("spray", (Mode(2, (Need((0,)),), consumes={0: 40}),), size=4, min_chunk=1)
SEED = Stock("seed", 100, ((6, 50), (12, 1000)))
PROBLEM = Problem(
    (SPRAY, SPRAY), (Resource("rig"),), 10, stocks=(SEED,), buckets=(Bucket(10, 20, {0: 9}), Bucket(20, 30, {0: 9}))
)  # fmt: skip
BLOCK = Block(3, 5, 0, 0, 4, (0,))


def test_what_is_taken_later_is_not_there_before() -> None:
    # 100 less the 40 of the block at quarter 3; 50 more from quarter 6.
    room = stock_room(PROBLEM, CorePlan((BLOCK,)), 0)
    assert room.tolist() == [60] * 6 + [110] * 4
    assert stock_room(PROBLEM, CorePlan((BLOCK,)), 0, BLOCK).tolist() == [100] * 6 + [150] * 4


def test_a_week_behind_the_horizon_takes_its_share_at_its_beginning() -> None:
    # Half of a task, 20, at quarter 10: what may be taken before is 20 less. The delivery at 12 comes too late for it.
    room = stock_room(PROBLEM, CorePlan((BLOCK,), (Later(1, 0, 0, 2),)), 0)
    assert room.tolist() == [60] * 6 + [90] * 4
    # The week after that has the delivery, so that it takes nothing from anybody before.
    room = stock_room(PROBLEM, CorePlan((BLOCK,), (Later(1, 0, 1, 2),)), 0)
    assert np.array_equal(room, [60] * 6 + [110] * 4)
