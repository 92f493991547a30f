"""The one place that joins adapters to the core. Faces call this; nothing below knows it.

`workspace` opens a farm folder, `news` takes reports, `mornings` makes and issues plans. Time comes in as an argument
of every call; only the faces read a clock.
"""

from scheduler.wiring.mornings import (
    Morning,
    issue,
    last_changes,
    latest_plan,
    look_ahead,
    plan_morning,
)
from scheduler.wiring.news import history_rows, news_files, read_state, take, take_news_file, take_report
from scheduler.wiring.workspace import Workspace, check_farm, open_farm, read_daily_weather

__all__ = [
    "Morning",
    "Workspace",
    "check_farm",
    "history_rows",
    "issue",
    "last_changes",
    "latest_plan",
    "look_ahead",
    "news_files",
    "open_farm",
    "plan_morning",
    "read_daily_weather",
    "read_state",
    "take",
    "take_news_file",
    "take_report",
]
