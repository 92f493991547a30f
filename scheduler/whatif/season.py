"""Season odds: many springs, every way in each of them, on the same weathers and the same forecasts.

Common random numbers: spring number k has one weather and one stream of forecasts, whatever the way, so that the
difference between two ways is not that between two weathers.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import numpy as np

from scheduler.whatif.forecaster import Pool
from scheduler.whatif.run import Morning
from scheduler.whatif.spring import Rules, play
from scheduler.whatif.spring_books import Spring
from scheduler.whatif.study import Way
from scheduler.whatif.weather_maker import WET_MM, fit_maker
from shared.day_to_hours import hours_from_days
from shared.errors import WeatherUnavailable
from shared.weather_records import DAILY_QUANTITIES, DailyWeather, HourlyWeather

POOL_LEAST = 12
"""Weathers that forecasts are mixed of, at least."""
SPARE_DAYS = 17
"""Days behind the last one that its forecast still reaches."""
Row = dict[str, Any]


@dataclass(frozen=True)
class Season:
    """A season study.

    Attributes
    ----------
    weather : str
        ``made`` (the generator fitted to the farm's past years) or ``past`` (those years themselves).
    springs : int
    seed : int
    """

    start: Morning
    ways: tuple[Way, ...]
    rules: Rules
    springs: int
    weather: str = "made"
    seed: int = 1

    def tasks(self) -> list[tuple[int, int]]:
        """Return (way, spring), springs outermost, so that what is done first can be compared first."""
        return [(way, spring) for spring in range(self.springs) for way in range(len(self.ways))]

    def mark(self) -> str:
        """Return a mark of everything the rows depend on: rows of another study are never mixed in."""
        start = self.start
        said = [
            start.farm.model_dump_json(), [record.id for record in start.records], start.now.isoformat(),
            repr(start.limits), [way.model_dump() for way in self.ways], repr(self.rules), self.weather, self.seed,
            float(np.nansum(start.normals.rain_mm)), float(np.nansum(start.observed.rain_mm)),
        ]  # fmt: skip
        return hashlib.sha256(repr(said).encode()).hexdigest()[:16]


def season_weather(season: Season) -> HourlyWeather:
    """Return the weathers of the season by the hour, from the first morning on; spring k is member k.

    Raises
    ------
    WeatherUnavailable
        Too few past years.
    """
    start, rules = season.start, season.rules
    zone = start.horizon.zone
    first = start.now.astimezone(zone).date()
    last = rules.last_day + timedelta(days=SPARE_DAYS)
    if season.weather == "past":
        daily = past_years(start.normals, first.month, first.day, (last - first).days + 1, season)
    else:
        count = max(season.springs, POOL_LEAST)
        wet_before = bool(start.observed.rain_mm[0, -24:].sum() >= WET_MM)
        rng = np.random.default_rng(season.seed)
        daily = fit_maker(start.normals).years(first, last, count, rng, wet_before)
    hours = hours_from_days(daily, start.farm.place, start.horizon.time_zone)
    return hours.between(start.now, hours.end_utc)


def past_years(normals: DailyWeather, month: int, day: int, days: int, season: Season) -> DailyWeather:
    """Return the farm's own past years as weathers of the coming season, the newest first."""
    dates = normals.dates()
    firsts = [
        k for k, date in enumerate(dates) if (date.month, date.day) == (month, day) and k + days <= len(dates)
    ]
    if len(firsts) < max(2, season.springs):
        raise WeatherUnavailable(
            f"the history holds {len(firsts)} whole springs; allowed: --springs up to that (at least 2), or --weather made."
        )
    rows = np.array([np.arange(k, k + days) for k in reversed(firsts)])
    parts: dict[str, Any] = {}
    for name in DAILY_QUANTITIES:
        values = getattr(normals, name)
        parts[name] = None if values is None else values[0][rows]
    first = season.start.now.astimezone(season.start.horizon.zone).date()
    return DailyWeather(first, source="past years", **parts)


def play_task(season: Season, weather: HourlyWeather, task: tuple[int, int]) -> Row:
    """Return the row of one way in one spring."""
    way, spring = task
    pool = Pool(weather, spring)
    found = play(season.start, season.ways[way].changes, pool, season.rules, 7919 * season.seed + spring)
    whole = (season.rules.last_day - found.first_day).days + 1
    rain = float(weather.rain_mm[spring, : whole * 24].sum())
    return {**row_of(season.ways[way].name, spring, found), "rain_mm": round(rain, 1)}


def row_of(name: str, spring: int, found: Spring) -> Row:
    """Return a spring as one flat row."""
    row: Row = {"way": name, "spring": spring, "days": found.days, "total": round(found.total, 2)}
    for kind, values in (
        ("loss", found.loss), ("left_ha", found.left_ha), ("hours", found.hours), ("overtime", found.overtime),
        ("fit_days", found.fit_days), ("used_days", found.used_days),
    ):  # fmt: skip
        row |= {f"{kind}:{key}": float(round(value, 3)) for key, value in sorted(values.items())}
    row |= {f"finished:{key}": day.isoformat() for key, day in sorted(found.finished.items())}
    return row


@dataclass(frozen=True)
class WaySummary:
    """A way over all springs.

    Attributes
    ----------
    mean, p10, p90 : float
        Loss [money].
    saves, saves_error : float
        Mean loss of the present way less this one's, spring by spring, and the standard error of that mean.
    finished : mapping of pass to (share of springs finished, 10 %, 50 %, 90 % date or None)
    left_ha : mapping of pass to mean area never done [ha]
    hours, overtime : mapping of operator to mean hours
    wettest : mapping
        The row of the spring with the most rain.
    """

    name: str
    springs: int
    mean: float
    p10: float
    p90: float
    saves: float
    saves_error: float
    finished: dict[str, tuple[float, str | None, str | None, str | None]]
    left_ha: dict[str, float]
    hours: dict[str, float]
    overtime: dict[str, float]
    fit_days: dict[str, float]
    used_days: dict[str, float]
    wettest: Row


def summarise(rows: Sequence[Row], present: str) -> list[WaySummary]:
    """Return every way over the springs that all ways have played, the present one first, then best first."""
    by_way: dict[str, dict[int, Row]] = {}
    for row in rows:
        by_way.setdefault(row["way"], {})[row["spring"]] = row
    common = sorted(set.intersection(*(set(found) for found in by_way.values()))) if by_way else []
    if not common:
        return []
    base = np.array([by_way[present][k]["total"] for k in common]) if present in by_way else None
    out = [_summary(name, [found[k] for k in common], base) for name, found in by_way.items()]
    return sorted(out, key=lambda one: (one.name != present, one.mean))


def _summary(name: str, rows: list[Row], base: Any) -> WaySummary:
    totals = np.array([row["total"] for row in rows])
    gap = np.zeros(len(rows)) if base is None else base - totals
    error = float(gap.std(ddof=1) / np.sqrt(len(gap))) if len(gap) > 1 else 0.0
    keys = sorted({key for row in rows for key in row})

    def means(kind: str) -> dict[str, float]:
        return {
            key.partition(":")[2]: float(np.mean([row.get(key) or 0.0 for row in rows]))
            for key in keys
            if key.startswith(f"{kind}:")
        }

    passes = sorted({key.partition(":")[2] for key in keys if key.startswith(("finished:", "left_ha:"))})
    return WaySummary(
        name, len(rows), float(totals.mean()), float(np.quantile(totals, 0.1)), float(np.quantile(totals, 0.9)),
        float(gap.mean()), error, {key: _finish(key, rows) for key in passes}, means("left_ha"), means("hours"),
        means("overtime"), means("fit_days"), means("used_days"), max(rows, key=lambda row: row.get("rain_mm", 0.0)),
    )  # fmt: skip


def _finish(key: str, rows: list[Row]) -> tuple[float, str | None, str | None, str | None]:
    """Return the share of springs in which a pass was all done, and the dates by which it was in 10, 50, 90 of 100."""
    days = sorted(row[f"finished:{key}"] for row in rows if row.get(f"finished:{key}"))

    def by(share: float) -> str | None:
        place = int(np.ceil(share * len(rows))) - 1
        return days[place] if 0 <= place < len(days) else None

    return len(days) / len(rows), by(0.1), by(0.5), by(0.9)
