"""Three weeks of a spring in fast time through the service: plans issued, seconds from news to plan, the search's share.

The wet week's weather goes on to the end of May; forecasts are made for each morning as the scenario's own are. Crews report
in heaps at noon and in the evening; gauges are read after rain; a tractor fails, somebody is ill, the service is killed
twice, and for three days no forecast comes.
"""

from __future__ import annotations

import argparse
import random
import tempfile
import time
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

import numpy as np

from scenarios.make_weather import COLUMNS, MEMBERS, STORIES, blurred, row, truth, write
from scheduler.events.report import Report
from scheduler.planning.plan import Plan
from scheduler.service.service import Service
from scheduler.wiring.desk import FarmDesk
from scheduler.wiring.news import take
from scheduler.wiring.plans_known import latest_plan
from scheduler.wiring.service import open_service
from shared.errors import FitgroundError
from shared.vocabulary import EventKind
from tests.service.farms import ZONE, wet_week

FIRST, LAST = date(2027, 5, 10), date(2027, 5, 30)
NO_FORECAST = {date(2027, 5, 18), date(2027, 5, 19), date(2027, 5, 20)}
KILLED = {datetime(2027, 5, 14, 12, 10, tzinfo=ZONE), datetime(2027, 5, 22, 4, 30, tzinfo=ZONE)}


def add_forecasts(folder: Path) -> None:
    """Write a forecast for each morning that has none."""
    story = replace(next(one for one in STORIES if one.folder == "wet-week"))
    known, day = truth(story), FIRST
    while day <= LAST:
        path = folder / "weather" / "forecasts" / f"{day}T0430.csv"
        if day in NO_FORECAST:
            path.unlink(missing_ok=True)
        elif not path.exists():
            rng = np.random.default_rng(day.toordinal())
            rows = [
                (*row(day + timedelta(days=lead), one), member)
                for member in range(1, MEMBERS + 1)
                for lead, one in enumerate(blurred(rng, story, known, day))
            ]
            write(path, rows, (*COLUMNS, "member"))
        day += timedelta(days=1)


class Crew:
    """People who report what the plan had them do, as far as it did not rain."""

    def __init__(self, desk: FarmDesk, seed: int) -> None:
        self.desk, self.luck = desk, random.Random(seed)
        self.rain = {FIRST + timedelta(days=k): one for k, one in enumerate(truth(next(s for s in STORIES if s.folder == "wet-week"))[(FIRST - date(2027, 1, 1)).days :])}  # fmt: skip
        self.sent = self.refused = 0

    def tell(self, kind: EventKind, body: dict[str, object], now: datetime) -> None:
        """Report; a refusal is counted, as a phone would show it."""
        self.sent += 1
        try:
            take(self.desk.workspace, Report(kind, body, now, "crew", "page", f"bench-{self.sent}"), now)
        except FitgroundError:
            self.refused += 1

    def report(self, plan: Plan, since: datetime, now: datetime) -> None:
        """Report every block that ended since, whole on a dry day and half on a wet one."""
        share = 1.0 if self.rain[now.date()].rain_mm < 2 else 0.5
        for block in plan.of_day(now.date()):
            if since < block.end <= now:
                body = {
                    "field": block.field,
                    "pass_id": block.pass_id,
                    "area_ha": block.area_ha * share,
                    "rig": block.rig,
                }
                self.tell(EventKind.PASS_PROGRESSED, {k: v for k, v in body.items() if v is not None}, now)

    def gauges(self, now: datetime) -> None:
        """Read the gauges after a wet day."""
        fell = self.rain[now.date()].rain_mm
        if fell >= 1:
            for field in self.luck.sample([field.id for field in self.desk.workspace.farm.fields], 3):
                self.tell(
                    EventKind.RAIN_MEASURED,
                    {"field": field, "rain_mm": round(fell * self.luck.uniform(0.7, 1.3), 1)},
                    now,
                )


def main() -> None:
    """Play and print."""
    wanted = argparse.ArgumentParser(description=__doc__)
    wanted.add_argument("--seconds", type=float, default=2.0, help="effort of a plan")
    wanted.add_argument("--days", type=int, default=(LAST - FIRST).days + 1)
    seconds, days = (asked := wanted.parse_args()).seconds, asked.days
    with tempfile.TemporaryDirectory() as place:
        folder = wet_week(Path(place))
        add_forecasts(folder)
        play(folder, seconds, days)


def play(folder: Path, seconds: float, days: int) -> None:
    """Look every five minutes by a made clock, more often when there is news."""
    plans: list[dict[str, object]] = []
    failures: list[str] = []

    def say(text: str, facts: object) -> None:
        if text == "plan":
            plans.append(dict(facts))  # type: ignore[call-overload]
        elif "failed" in text:
            failures.append(f"{text}: {facts}")

    def begin() -> tuple[Service, FarmDesk]:
        return open_service(folder, say, {}, seconds=seconds, holder="bench")

    began = time.perf_counter()
    service, desk = begin()
    crew, now = Crew(desk, 5), datetime.combine(FIRST, datetime.min.time(), ZONE)
    end = now + timedelta(days=days)
    while now < end:
        wall = now.timetz().replace(tzinfo=None)
        if now in KILLED:
            service, desk = begin()
            crew.desk = desk
        plan = latest_plan(desk.workspace)
        if plan is not None and (wall.hour, wall.minute) in ((12, 0), (18, 30)):
            crew.report(plan, now - timedelta(hours=7), now)
        if (wall.hour, wall.minute) == (6, 30):
            crew.gauges(now)
        if now == datetime(2027, 5, 13, 9, 0, tzinfo=ZONE):
            crew.tell(
                EventKind.MACHINE_DOWN, {"machine": desk.workspace.farm.machines[0].id, "why": "pump"}, now
            )
        if now == datetime(2027, 5, 15, 7, 0, tzinfo=ZONE):
            crew.tell(EventKind.MACHINE_BACK, {"machine": desk.workspace.farm.machines[0].id}, now)
        service.look(now)
        now += timedelta(minutes=5)
    tell(desk, plans, failures, crew, days, time.perf_counter() - began)


def tell(
    desk: FarmDesk, plans: list[dict[str, object]], failures: list[str], crew: Crew, days: int, wall_s: float
) -> None:
    """Print the figures."""
    kept = [Plan.model_validate_json(text) for text in desk.workspace.shelf.last(1000)]
    mornings = {
        plan.made_at.astimezone(ZONE).date() for plan in kept if plan.made_at.astimezone(ZONE).hour == 5
    }
    missing = [FIRST + timedelta(days=k) for k in range(days) if FIRST + timedelta(days=k) not in mornings]
    seconds = np.array([float(str(plan["seconds"])) for plan in plans])
    after_news = np.array([float(str(plan["seconds"])) for plan in plans if plan["why"] == "news"])
    methods: dict[str, int] = {}
    for plan in plans:
        methods[str(plan["method"])] = methods.get(str(plan["method"]), 0) + 1
    print(
        f"{days} days, {crew.sent} reports ({crew.refused} refused with a reason), {wall_s:.0f} s of computing"
    )
    print(
        f"plans issued {len(plans)} ({methods}), mornings without one: {missing or 'none'}, failures: {len(failures)}"
    )
    for line in sorted(set(failures))[:5]:
        print(f"  {line}")
    for name, values in (("all plans", seconds), ("after news", after_news)):
        if len(values):
            print(f"{name}: seconds from the decision to the checked plan and its lists: median {np.median(values):.1f}, 95th {np.percentile(values, 95):.1f}")  # fmt: skip
    print(
        f"share of the time spent in the process that plans: {sum(float(str(p['search'])) for p in plans) / wall_s:.0%}"
    )


if __name__ == "__main__":
    main()
