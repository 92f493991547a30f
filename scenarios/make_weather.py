"""Invented weather for the scenarios: many past years, an observed spring, and ensemble forecasts as issued.

Seeded and deterministic: ``python -m scenarios.make_weather`` writes the same files again. Wet and dry days follow a
two-state Markov chain, amounts a gamma law, temperatures a yearly wave with day-to-day memory (in the manner of
Richardson 1981); the numbers are of no real station. The observed weeks of each story are written by hand on top,
and each forecast is the truth blurred more the further it looks: wet days are missed or made up, shifted by a
day, and scaled.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

import numpy as np

COLUMNS = (
    "date",
    "rain_mm",
    "rain_from_h",
    "rain_hours",
    "tmax_c",
    "tmin_c",
    "rh_max_pct",
    "rh_min_pct",
    "wind_m_s",
)
MEMBERS, FORECAST_DAYS = 20, 16
HERE = Path(__file__).resolve().parent


@dataclass(frozen=True)
class Day:
    """One day of weather."""

    rain_mm: float
    rain_from_h: float
    rain_hours: float
    tmax_c: float
    tmin_c: float
    rh_max_pct: float
    rh_min_pct: float
    wind_m_s: float


@dataclass(frozen=True)
class Story:
    """What is told: (rain mm, from hour, hours) by date, and departures of temperature by date [degC]."""

    folder: str
    seed: int
    first: date
    last: date
    mornings: tuple[date, ...]
    rain: dict[date, tuple[float, float, float]]
    warmer_c: dict[date, float] = field(default_factory=dict)


def usual_c(day: date) -> tuple[float, float]:
    """Return usual maximum and minimum temperature of a day of the year [degC]."""
    wave = -np.cos(2 * np.pi * (day.timetuple().tm_yday - 22) / 365.25)
    return 14.5 + 15.5 * wave, 3.5 + 14.0 * wave


def wet_chance(day: date, wet_before: bool) -> float:
    """Return the chance of a wet day."""
    season = 0.5 - 0.5 * np.cos(2 * np.pi * (day.timetuple().tm_yday - 30) / 365.25)
    return float((0.20 + 0.12 * season) if not wet_before else (0.36 + 0.14 * season))


def wet_day(rng: np.random.Generator, day: date) -> tuple[float, float, float]:
    """Draw amount, first hour and duration of a day's rain."""
    summer = 0.5 - 0.5 * np.cos(2 * np.pi * (day.timetuple().tm_yday - 15) / 365.25)
    amount = float(rng.gamma(0.75, 7.0 + 6.0 * summer)) + 0.3
    hours = float(np.clip(rng.gamma(2.0, 1.8), 1, 12))
    return amount, float(rng.uniform(0, 24 - hours)), hours


def one_day(
    rng: np.random.Generator, day: date, rain: tuple[float, float, float], memory: float, shift: float
) -> Day:
    """Return a whole day around its rain; `memory` carries the temperature's departure."""
    high, low = usual_c(day)
    cloudy = 2.5 if rain[0] > 1 else 0.0
    top = high + memory + shift - cloudy
    bottom = min(low + memory + shift + cloudy * 0.6, top - 3.0)
    dry = float(np.clip(rng.normal(44, 8), 22, 70)) + (18 if rain[0] > 1 else 0)
    return Day(
        round(rain[0], 1), round(rain[1]), max(1.0, round(rain[2])), round(top, 1), round(bottom, 1),
        round(float(np.clip(rng.normal(93, 4), 75, 100))), round(min(dry, 90)), round(float(rng.gamma(9, 0.30)), 1),
    )  # fmt: skip


def run_of_days(rng: np.random.Generator, first: date, days: int) -> list[Day]:
    """Draw consecutive days."""
    out, wet, memory = [], False, 0.0
    for offset in range(days):
        day = first + timedelta(days=offset)
        wet = bool(rng.random() < wet_chance(day, wet))
        rain = wet_day(rng, day) if wet else (0.0, 12.0, 1.0)
        memory = 0.65 * memory + float(rng.normal(0, 3.0))
        out.append(one_day(rng, day, rain, memory, 0.0))
    return out


def truth(story: Story) -> list[Day]:
    """Return the observed days: drawn, with the story's own days written over them."""
    rng = np.random.default_rng(story.seed)
    days = run_of_days(rng, story.first, (story.last - story.first).days + 1)
    for offset in range(len(days)):
        day = story.first + timedelta(days=offset)
        if day in story.rain:
            days[offset] = one_day(rng, day, story.rain[day], 0.0, story.warmer_c.get(day, 0.0))
    return days


def blurred(rng: np.random.Generator, story: Story, known: list[Day], morning: date) -> list[Day]:
    """Return one member of the forecast issued on a morning."""
    out: list[Day] = []
    memory, wet = 0.0, False
    for lead in range(FORECAST_DAYS):
        day = morning + timedelta(days=lead)
        trust = float(np.exp(-((lead / 6.0) ** 1.4)))
        offset = (day - story.first).days
        slip = int(rng.choice([-1, 0, 1], p=[0.25 * (1 - trust), 1 - 0.5 * (1 - trust), 0.25 * (1 - trust)]))
        source = known[min(max(offset + slip, 0), len(known) - 1)] if offset < len(known) else None
        memory = 0.65 * memory + float(rng.normal(0, 0.6 + 2.2 * (1 - trust)))
        if source is not None and rng.random() < 0.25 + 0.75 * trust:
            factor = float(np.exp(rng.normal(0, 0.15 + 0.7 * (1 - trust))))
            start = float(np.clip(source.rain_from_h + rng.normal(0, 1 + 5 * (1 - trust)), 0, 22))
            rain = (source.rain_mm * factor, start, source.rain_hours)
        else:
            rain = wet_day(rng, day) if rng.random() < wet_chance(day, wet) else (0.0, 12.0, 1.0)
        wet = rain[0] >= 0.3
        usual_high, _ = usual_c(day)
        true_shift = (
            0.0
            if source is None
            else (source.tmax_c - usual_high + (2.5 if source.rain_mm > 1 else 0)) * trust
        )
        out.append(one_day(rng, day, rain, memory, true_shift))
    return out


def write(path: Path, rows: list[tuple[object, ...]], head: tuple[str, ...]) -> None:
    """Write a table."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(head)
        writer.writerows(rows)


def row(day: date, one: Day) -> tuple[object, ...]:
    """Return a day as a table row."""
    return (
        day.isoformat(), one.rain_mm, int(one.rain_from_h) if one.rain_mm else "", int(one.rain_hours) if one.rain_mm else "",
        one.tmax_c, one.tmin_c, int(one.rh_max_pct), int(one.rh_min_pct), one.wind_m_s,
    )  # fmt: skip


def tell(story: Story, normal_years: int = 20) -> None:
    """Write all files of a story."""
    folder = HERE / story.folder / "weather"
    past = date(story.first.year - normal_years, 1, 1)
    days = (date(story.first.year - 1, 12, 31) - past).days + 1
    drawn = run_of_days(np.random.default_rng(story.seed + 1), past, days)
    keep = ("date", "rain_mm", "tmax_c", "tmin_c", "rh_max_pct", "rh_min_pct", "wind_m_s")
    normals = [
        (
            (past + timedelta(days=k)).isoformat(), one.rain_mm, one.tmax_c, one.tmin_c,
            int(one.rh_max_pct), int(one.rh_min_pct), one.wind_m_s,
        )
        for k, one in enumerate(drawn)
    ]  # fmt: skip
    write(folder / "normals.csv", normals, keep)
    known = truth(story)
    write(
        folder / "observed.csv",
        [row(story.first + timedelta(days=k), one) for k, one in enumerate(known)],
        COLUMNS,
    )
    for place, morning in enumerate(story.mornings):
        rng = np.random.default_rng(story.seed + 100 + place)
        rows = [
            (*row(morning + timedelta(days=lead), one), member)
            for member in range(1, MEMBERS + 1)
            for lead, one in enumerate(blurred(rng, story, known, morning))
        ]
        write(folder / "forecasts" / f"{morning}T0430.csv", rows, (*COLUMNS, "member"))


def _dry(*days: date) -> dict[date, tuple[float, float, float]]:
    return {day: (0.0, 12.0, 1.0) for day in days}


def _may(day: int) -> date:
    return date(2027, 5, day)


def _june(day: int) -> date:
    return date(2027, 6, day)


STORIES = (
    Story(
        "wet-week", 11, date(2027, 1, 1), date(2027, 5, 31), tuple(_may(day) for day in range(10, 16)),
        rain={
            _may(2): (14.0, 3, 8), _may(3): (6.0, 0, 5), _may(6): (11.0, 15, 6), _may(8): (17.0, 2, 9),
            **_dry(_may(1), _may(4), _may(5), _may(7), _may(9), _may(10), _may(11), _may(12)),
            _may(13): (19.0, 2, 5), **_dry(_may(14), _may(15), _may(16), _may(17)),
            _may(18): (9.0, 16, 5), _may(19): (22.0, 1, 10), **_dry(_may(20), _may(21), _may(22), _may(23)),
        },
        warmer_c={_may(9): 2.0, _may(10): 3.5, _may(11): 4.0, _may(12): 4.0, _may(14): 1.0, _may(16): 3.0},
    ),
    Story(
        "closing-window", 23, date(2027, 1, 1), date(2027, 6, 30), tuple(_june(day) for day in range(7, 12)),
        rain={
            _june(3): (8.0, 17, 4), _june(5): (21.0, 1, 7),
            **_dry(_june(4), _june(6), _june(7), _june(8)), _june(9): (13.0, 14, 4),
            **_dry(_june(10), _june(11), _june(12)), _june(13): (16.0, 5, 8), **_dry(_june(14), _june(15), _june(16)),
        },
        warmer_c={_june(day): 3.0 for day in range(6, 13)},
    ),
    Story(
        "short-handed", 37, date(2027, 1, 1), date(2027, 5, 31), tuple(_may(day) for day in range(11, 15)),
        rain={
            _may(1): (9.0, 4, 6), _may(4): (16.0, 13, 7), _may(7): (12.0, 2, 8), _may(9): (7.0, 1, 5),
            **_dry(_may(2), _may(3), _may(5), _may(6), _may(8), _may(10), _may(11), _may(12), _may(13), _may(14)),
            _may(15): (18.0, 19, 5), _may(16): (11.0, 0, 8), **_dry(_may(17), _may(18)), _may(19): (24.0, 3, 9),
            **_dry(_may(20), _may(21), _may(22)),
        },
        warmer_c={_may(day): 3.5 for day in range(10, 15)},
    ),
)  # fmt: skip


def main() -> None:
    """Write the weather of every scenario."""
    for story in STORIES:
        tell(story)
        print(f"wrote scenarios/{story.folder}/weather")


if __name__ == "__main__":
    main()
