"""How fast the ground is run: 200 fields x 50 members x 16 days by the hour, on one core, with the share
of each part.

Run by hand: ``python -m tests.benchmarks.bench_soil_water``. Prints seconds, the ratio to the ceiling of 2
s, and memory against 1 GB; ends with 1 if a ceiling is passed or if the fast path disagrees with a field
run alone.
"""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import TypeVar

import numpy as np

from scheduler.workability.evapotranspiration import et0_of_hours
from scheduler.workability.fit_rules import fit_rule
from scheduler.workability.ground import Ground, ground_parameters
from scheduler.workability.soil_water import run_soil_water
from scheduler.workability.verdicts import judge
from shared.day_to_hours import hours_from_days
from shared.vocabulary import Operation, Texture
from shared.weather_records import DailyWeather, Place

FIELDS, MEMBERS, DAYS = 200, 50, 16
CEILING_S, CEILING_MB = 2.0, 1024.0
PLACE = Place(42.0, -93.6, 300.0)
Result = TypeVar("Result")


def timed(task: Callable[[], Result]) -> tuple[float, Result]:
    """Best of three runs [s], and the result."""
    best, result = float("inf"), task()
    for _ in range(3):
        begin = time.perf_counter()
        result = task()
        best = min(best, time.perf_counter() - begin)
    return best, result


def main() -> int:
    """Run, print, compare with the ceilings."""
    draw = np.random.default_rng(1)
    shape = (MEMBERS, DAYS)
    rain = np.where(draw.random(shape) < 0.35, draw.gamma(0.8, 10.0, shape), 0.0)
    tmax = draw.normal(19, 5, shape)
    days = DailyWeather(date(2026, 4, 20), rain, tmax, tmax - 11)
    textures = list(Texture)
    grounds = [
        Ground(texture=textures[k % len(textures)], residue_pct=float(draw.uniform(0, 100)))
        for k in range(FIELDS)
    ]
    begin = time.perf_counter()
    first_weather = hours_from_days(days, PLACE, "America/Chicago")
    run_soil_water(grounds[:1], first_weather, PLACE)
    print(f"first call with compiling or loading machine code: {time.perf_counter() - begin:.2f} s")
    parts = {}
    parts["days to hours"], weather = timed(lambda: hours_from_days(days, PLACE, "America/Chicago"))
    parts["(of it) reference evapotranspiration"], _ = timed(lambda: et0_of_hours(weather, PLACE))
    parts["(of it) parameters"], _ = timed(lambda: ground_parameters(grounds))
    parts["soil water, all fields and members"], trace = timed(
        lambda: run_soil_water(grounds, weather, PLACE)
    )
    rule = fit_rule(Operation.SPRAY)
    parts["one fit rule"], _ = timed(lambda: judge(rule, trace, weather, PLACE))
    soil_s = parts["soil water, all fields and members"]
    for name, seconds in parts.items():
        print(f"{name:42s} {seconds:7.3f} s  {seconds / soil_s:6.1%} of soil water")
    memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"soil water: {soil_s / CEILING_S:.1%} of the ceiling of {CEILING_S:g} s")
    print(f"largest memory {memory_mb:.0f} MB: {memory_mb / CEILING_MB:.1%} of the ceiling")
    alone = run_soil_water([grounds[7]], replace(weather), PLACE)
    agrees = bool(np.array_equal(alone.surface_wetness[0], trace.surface_wetness[7]))
    print("a field run alone agrees to the last digit:", agrees)
    return 0 if soil_s <= CEILING_S and memory_mb <= CEILING_MB and agrees else 1


if __name__ == "__main__":
    sys.exit(main())
