"""Small pictures as plain numbers for the templates: bars, bands and lines, readable in grey and by words beside them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shared.units import to_people

STEP, TOP, BASE = 22, 20, 120
WET_TOP, WET_BASE = 150, 260


@dataclass(frozen=True)
class RainBar:
    """Rain of a day: what fell or the middle of what may fall, and what nine of ten stay below."""

    x: float
    y: float
    height: float
    top: float
    label: str
    text: str
    ahead: bool


@dataclass(frozen=True)
class Trace:
    """Rain by day above, wetness of the surface below, one scale of days."""

    width: int
    today_x: float
    bars: tuple[RainBar, ...]
    band: str
    middle: str
    full_y: float
    unit: str


def trace(
    days: Sequence[tuple[str, float, float]], past: int, wetness: NDArray[np.float64], system: str
) -> Trace:
    """Return the picture of rain and wetness.

    Parameters
    ----------
    days : sequence of (label, rain_mm, high_mm)
    past : int
        How many of them lie behind.
    wetness : array (3, hours)
        10, 50 and 90 % of the surface wetness from today on [fraction of field capacity].
    """
    unit = to_people(1.0, "rain_mm", system)[1]
    highest = max([high for _, _, high in days] + [10.0])
    scale = (BASE - TOP) / highest
    bars = []
    for k, (label, rain, high) in enumerate(days):
        x = 30 + STEP * k
        text = f"{to_people(rain, 'rain_mm', system)[0]:.2f}" if rain >= 1 else ""
        bars.append(
            RainBar(
                x,
                round(BASE - rain * scale, 1),
                round(rain * scale, 1),
                round(BASE - high * scale, 1),
                label,
                text,
                k >= past,
            )
        )
    today = 30 + STEP * past
    hours = np.asarray(range(0, wetness.shape[1], 3))
    along: NDArray[np.float64] = today + hours / 24 * STEP

    def y(row: int) -> NDArray[np.float64]:
        return np.asarray(WET_BASE - np.clip(wetness[row, hours], 0, 1.6) / 1.6 * (WET_BASE - WET_TOP))

    up = " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(along, y(2), strict=True))
    down = " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(along[::-1], y(0)[::-1], strict=True))
    middle = " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(along, y(1), strict=True))
    full = WET_BASE - 1 / 1.6 * (WET_BASE - WET_TOP)
    return Trace(30 + STEP * len(days) + 10, today, tuple(bars), f"{up} {down}", middle, round(full, 1), unit)


@dataclass(frozen=True)
class Curve:
    """Area done by day: what was, what the plan has, and the band of its odds."""

    width: int
    done: str
    plan: str
    band: str
    today_x: float
    ticks: tuple[tuple[float, str], ...]
    total_text: str


CURVE_W, CURVE_H = 640, 160


def curve(
    labels: Sequence[str], done: Sequence[float], sure: Sequence[float], plan: Sequence[float], today: int, total: float, text: str
) -> Curve:  # fmt: skip
    """Return the picture of a pass's progress; areas cumulative by day [ha]."""
    step = CURVE_W / max(1, len(labels) - 1)

    def y(area: float) -> float:
        return round(CURVE_H - min(1.0, area / max(total, 1e-9)) * (CURVE_H - 14), 1)

    def path(values: Sequence[float], first: int) -> str:
        return " ".join(f"{(first + k) * step:.1f},{y(v)}" for k, v in enumerate(values))

    ahead = path(plan, today)
    back = " ".join(reversed(path(sure, today).split()))
    every = max(1, len(labels) // 8)
    ticks = tuple((round(k * step, 1), label) for k, label in enumerate(labels) if k % every == 0)
    return Curve(CURVE_W, path(done, 0), ahead, f"{ahead} {back}", round(today * step, 1), ticks, text)
