"""Costs as whole numbers: by what to multiply them, and what rounding may cost the bound."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from scheduler.solver.problem import Curve, Problem

SCALES = (1, 10, 100)
EXACT = 1e-7


def scale_for(problem: Problem) -> tuple[int, float]:
    """Return the smallest scale that makes every rate whole (100 when none does), and the slack of the bound.

    The slack is how much the scaled model may overstate the cost of a plan: rounded rates over the horizon, and
    one unit for each curve whose inner slopes are fractions (its cost variable is a whole number).
    """
    rates = [*_slopes(problem), *_flat(problem)]
    scale = next((s for s in SCALES if all(_whole(rate * s) for rate in rates)), SCALES[-1])
    slack = sum(abs(rate - round(rate * scale) / scale) * problem.horizon for rate in _slopes(problem))
    slack += sum(abs(rate - round(rate * scale) / scale) * 1440 for rate in _flat(problem))
    curves = [c for task in problem.tasks for c in (task.start_curve, task.end_curve) if c is not None]
    return scale, slack + sum(1.0 / scale for curve in curves if not _all_whole(curve, scale))


def _whole(value: float) -> bool:
    return abs(value - round(value)) <= EXACT


def _all_whole(curve: Curve, scale: int) -> bool:
    inner = ((y - x) * scale / (b - a) for (a, x), (b, y) in pairwise(curve.points))
    ends = (curve.slope_before * scale, curve.slope_after * scale)
    return all(_whole(slope) for slope in (*inner, *ends))


def _slopes(problem: Problem) -> Iterator[float]:
    for task in problem.tasks:
        for curve in (task.start_curve, task.end_curve):
            if curve is not None:
                yield from (curve.slope_before, curve.slope_after)


def _flat(problem: Problem) -> Iterator[float]:
    for task in problem.tasks:
        for mode in task.modes:
            yield from (window.risk_per_minute for window in mode.windows or ())
    for res in problem.resources:
        if res.moves is not None:
            yield res.moves.cost_per_minute


def lines_of(curve: Curve, scale: int) -> list[tuple[int, int, int, int]]:
    """Return the lines under a convex curve as (time, cost there, rise, run), costs and rises scaled and whole."""
    first, last = curve.points[0], curve.points[-1]
    lines = [(first[0], round(first[1] * scale), round(curve.slope_before * scale), 1)]
    for (a, x), (b, y) in pairwise(curve.points):
        lines.append((a, round(x * scale), round((y - x) * scale), b - a))
    lines.append((last[0], round(last[1] * scale), round(curve.slope_after * scale), 1))
    return lines
