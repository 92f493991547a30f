"""Invented weather for a starter farm, so that a first plan can be made before real weather is at hand.

Question answered: *what could stand in the weather folder of a farm that has none yet?* Output: texts of
``normals.csv``, ``observed.csv`` and one forecast, in the shape that recorded weather is read in. Seeded: the same
days give the same text. Wet days follow a two-state chain with exponential amounts, temperatures a yearly wave with
day-to-day memory; the numbers are of no station and are said to be invented wherever the starter is explained.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from math import cos, pi
from random import Random

HEAD = "date,rain_mm,rain_from_h,rain_hours,tmax_c,tmin_c,rh_max_pct,rh_min_pct,wind_m_s"
NORMAL_YEARS = 6
DAYS_BEHIND, DAYS_ON = 120, 14
FORECAST_DAYS, MEMBERS = 15, 12
SEED = 27
WET_AFTER_WET, WET_AFTER_DRY = 0.45, 0.26
MEAN_RAIN_MM = 8.0


def starter_weather(today: date) -> dict[str, str]:
    """Return the files of the weather folder by name.

    Parameters
    ----------
    today : date
        Day of the forecast; observed days go on for two weeks, so that the first days can be played.
    """
    first = today - timedelta(days=DAYS_BEHIND)
    past = date(first.year - NORMAL_YEARS, 1, 1)
    rng = Random(SEED)
    normals = list(_days(rng, past, (date(first.year - 1, 12, 31) - past).days + 1))
    seen = list(_days(rng, first, DAYS_BEHIND + DAYS_ON))
    ahead = [
        f"{row},{member}" for member in range(1, MEMBERS + 1) for row in _days(rng, today, FORECAST_DAYS)
    ]
    return {
        "normals.csv": _table(HEAD, normals),
        "observed.csv": _table(HEAD, seen),
        f"forecasts/{today}T0430.csv": _table(f"{HEAD},member", ahead),
    }


def _table(head: str, rows: list[str]) -> str:
    return "\n".join([head, *rows]) + "\n"


def _days(rng: Random, first: date, count: int) -> Iterator[str]:
    """Yield consecutive days as rows."""
    wet, memory = False, 0.0
    for offset in range(count):
        day = first + timedelta(days=offset)
        wet = rng.random() < (WET_AFTER_WET if wet else WET_AFTER_DRY)
        memory = 0.65 * memory + rng.gauss(0.0, 2.5)
        yield _row(rng, day, wet, memory)


def _row(rng: Random, day: date, wet: bool, memory: float) -> str:
    """Return one day; `memory` is the departure of the temperature [degC]."""
    wave = -cos(2 * pi * (day.timetuple().tm_yday - 22) / 365.25)
    rain_mm = rng.expovariate(1 / MEAN_RAIN_MM) + 0.3 if wet else 0.0
    hours = rng.randint(1, 8)
    start = rng.randint(0, 24 - hours)
    high = 14.5 + 15.5 * wave + memory - (2.5 if wet else 0.0)
    low = min(3.5 + 14.0 * wave + memory + (1.5 if wet else 0.0), high - 3.0)
    dry_air = rng.gauss(44.0, 7.0) + (18.0 if wet else 0.0)
    spell = f"{start},{hours}" if rain_mm else ","
    humid = f"{min(100.0, rng.gauss(93.0, 3.0)):.0f},{min(max(dry_air, 22.0), 88.0):.0f}"
    return f"{day},{rain_mm:.1f},{spell},{high:.1f},{low:.1f},{humid},{max(0.8, rng.gauss(2.8, 0.8)):.1f}"
