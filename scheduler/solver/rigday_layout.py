"""Where things lie in the flat arrays that the compiled search reads.

A problem is two arrays, `fi` (whole numbers) and `ff` (floats); a plan being worked on is two more,
`si` and `sf`. The first slots of `fi` and `si` hold counts and, for each list, where it begins:
``fi[fi[at.T_SIZE] + t]`` is the size of task t, ``ff[fi[at.M_COST] + m]`` the cost of mode m. Two
arrays instead of eighty keep the compiled functions small and quick to build (a tuple of eighty arrays
took minutes to compile and ran ten times slower).

Prefixes: t task, m mode, w window, n need, o option, u use of a stock, l lag, r resource, b block or
bucket, p block of the plan that people know.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
CASE: dict[str, Any] = {"cache": True, "nogil": True, "error_model": "numpy"}

MOST_BLOCKS = 14
DAY_LENGTH = 40
LOG_LENGTH = 4096
MOST_TASKS = 160
TRAIL_LENGTH = 32
NEAR_SITES = 24

# fmt: off
FARM_COUNTS = ("tasks", "resources", "days", "needs", "buckets", "sites", "families", "near_count", "day_span")
(TASKS, RESOURCES, DAYS, NEEDS, BUCKETS, SITES, FAMILIES, NEAR_COUNT, DAY_SPAN) = range(9)

FARM_INTS = (
    "t_size", "t_chunk", "t_release", "t_start_most", "t_end_most", "t_later", "t_minutes", "t_site",
    "end_ptr", "end_time", "start_ptr", "start_time",
    "m_ptr", "m_minutes", "m_fixed", "m_site", "m_family", "m_lead", "m_led", "w_ptr", "w_day", "w_start", "w_end",
    "n_ptr", "n_amount", "o_ptr", "option", "u_ptr", "u_stock",
    "before_ptr", "before", "after_ptr", "after", "l_least", "l_most", "l_kind", "l_loose",
    "r_cumulative", "r_capacity", "r_matrix", "r_change", "r_depot", "r_home", "r_all_pairs", "r_initial",
    "r_hours", "r_week", "open_ptr", "open_start", "open_end", "matrix", "change", "initial",
    "cell_ptr", "cell_time", "bucket_start", "bucket_end", "p_ptr", "p_day", "p_res",
    "near", "site_ptr", "site_task",
)
(
    T_SIZE, T_CHUNK, T_RELEASE, T_START_MOST, T_END_MOST, T_LATER, T_MINUTES, T_SITE,
    END_PTR, END_TIME, START_PTR, START_TIME,
    M_PTR, M_MINUTES, M_FIXED, M_SITE, M_FAMILY, M_LEAD, M_LED, W_PTR, W_DAY, W_START, W_END,
    N_PTR, N_AMOUNT, O_PTR, OPTION, U_PTR, U_STOCK,
    BEFORE_PTR, BEFORE, AFTER_PTR, AFTER, L_LEAST, L_MOST, L_KIND, L_LOOSE,
    R_CUMULATIVE, R_CAPACITY, R_MATRIX, R_CHANGE, R_DEPOT, R_HOME, R_ALL_PAIRS, R_INITIAL,
    R_HOURS, R_WEEK, OPEN_PTR, OPEN_START, OPEN_END, MATRIX, CHANGE, INITIAL,
    CELL_PTR, CELL_TIME, BUCKET_START, BUCKET_END, P_PTR, P_DAY, P_RES,
    NEAR, SITE_PTR, SITE_TASK,
) = range(9, 72)

FARM_FLOATS = (
    "t_drop", "t_own", "t_pot", "t_price", "end_cost", "end_slopes", "start_cost", "start_slopes",
    "m_cost", "w_risk", "u_take", "r_move_cost", "r_handover", "r_pay", "cell_have",
)
(
    T_DROP, T_OWN, T_POT, T_PRICE, END_COST, END_SLOPES, START_COST, START_SLOPES,
    M_COST, W_RISK, U_TAKE, R_MOVE_COST, R_HANDOVER, R_PAY, CELL_HAVE,
) = range(72, 87)
FARM_HEAD = 87

STATE_COUNTS = ("n_free", "n_log", "logging", "most", "rng")
(N_FREE, N_LOG, LOGGING, MOST, RNG) = range(5)
STATE_INTS = (
    "left", "first", "last", "count", "own",
    "b_task", "b_mode", "b_day", "b_start", "b_end", "b_amount", "b_pin", "b_alive", "b_res",
    "stack", "rows", "row_count", "week_left", "bucket_left", "kept", "log", "pick", "crew", "marks",
    "todo", "pool", "trail", "widest", "crew_end", "b_site", "b_family",
)
(
    LEFT, FIRST, LAST, COUNT, OWN,
    B_TASK, B_MODE, B_DAY, B_START, B_END, B_AMOUNT, B_PIN, B_ALIVE, B_RES,
    STACK, ROWS, ROW_COUNT, WEEK_LEFT, BUCKET_LEFT, KEPT, LOG, PICK, CREW, MARKS,
    TODO, POOL, TRAIL, WIDEST, CREW_END, B_SITE, B_FAMILY,
) = range(5, 36)
CELL_USED, KEYS = 36, 37
STATE_HEAD = 38
WHOLE, WHOLE_NOW, FLOATS_HEAD = 2, 3, 4
# fmt: on

assert len(FARM_INTS) == 71 - 8 and len(FARM_FLOATS) == 15 and len(STATE_INTS) == 31
