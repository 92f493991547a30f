"""A program of the bound put to a solver, and only what it proves taken back.

Question answered: *what is the least this program can cost, at which prices, and by which solution?*
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray
from ortools.math_opt import model_pb2
from ortools.math_opt.python import mathopt

from scheduler.solver.bound_days import RigDays
from scheduler.solver.bound_rows import INF, Rows
from scheduler.solver.rigday_layout import Floats

SAFE = 1e-6
MANY_COLUMNS = 15_000
"""From here on the barrier method is faster than the simplex."""


@dataclass(frozen=True)
class Solved:
    """A proven bound (-inf: none in time), the values of the columns and the prices of the rows (empty: none)."""

    bound: float
    values: Floats
    prices: Floats


NOTHING = Solved(-INF, np.zeros(0), np.zeros(0))


def solve_rows(rows: Rows, seconds: float) -> Solved:
    """Solve a program within `seconds`; a bound is the optimum of a linear program, or what a search over whole numbers proved."""
    whole = any(rows.whole)
    method = (
        mathopt.LPAlgorithm.BARRIER if len(rows.cost) > MANY_COLUMNS else mathopt.LPAlgorithm.DUAL_SIMPLEX
    )
    settings = mathopt.SolveParameters(
        time_limit=timedelta(seconds=seconds), lp_algorithm=None if whole else method
    )
    try:
        found = mathopt.solve(
            mathopt.Model.from_model_proto(_proto(rows)), mathopt.SolverType.HIGHS, params=settings
        )
    except (RuntimeError, ValueError, AttributeError):
        # The wrapper raises the last one when the solver reports what it has no word for.
        return NOTHING
    optimal = found.termination.reason == mathopt.TerminationReason.OPTIMAL
    if not (whole or optimal):
        return NOTHING
    bound = found.best_objective_bound() + rows.constant
    values, prices = np.zeros(len(rows.cost)), np.zeros(len(rows.terms))
    if found.has_primal_feasible_solution():
        for variable, value in found.variable_values().items():
            values[variable.id] = value
    if not whole and found.has_dual_feasible_solution():
        for row, price in found.dual_values().items():
            prices[row.id] = price
    return Solved(bound - SAFE * abs(bound), values, prices)


def cut_days(rows: Rows, own_rows: set[int], days: RigDays, solved: Solved) -> tuple[float, int]:
    """Price the rig-days at the program's prices: return a proven bound, and how many cuts were added.

    The carriers' own rows are left to the exact days (their price is set to nothing); every other column is at
    whichever end of its range costs least. What comes out bounds every plan, whatever the prices.
    """
    low, high = np.array(rows.low), np.array(rows.high)
    prices = solved.prices.copy()
    prices[list(own_rows)] = 0.0
    prices[((prices > 0) & np.isinf(low)) | ((prices < 0) & np.isinf(high))] = 0.0
    reduced = np.array(rows.cost)
    sides = np.where(prices > 0, np.where(np.isinf(low), 0.0, low), np.where(np.isinf(high), 0.0, high))
    total = rows.constant + float(prices @ sides)
    at, columns, weights = _matrix(rows)
    np.subtract.at(reduced, columns, prices[at] * weights)
    rest = np.minimum(reduced, 0.0)
    rest[days.columns] = 0.0
    ends = np.array(rows.upper)
    if np.any(rest[np.isinf(ends)] < 0.0):
        # A column without end and below nothing: no bound from these prices, but the cuts hold.
        total = -INF
    total += float(rest @ np.where(np.isinf(ends), 0.0, ends))
    least, cuts = days.price(reduced)
    added = 0
    for cut in cuts:
        if float(cut.weights @ solved.values[cut.columns]) < cut.least - SAFE * max(1.0, abs(cut.least)):
            own_rows.add(
                rows.row(list(zip(cut.columns.tolist(), cut.weights.tolist(), strict=True)), low=cut.least)
            )
            added += 1
    total += least
    return total - SAFE * abs(total), added


def _matrix(rows: Rows) -> tuple[NDArray[np.int64], NDArray[np.int64], Floats]:
    lengths = [len(terms) for terms in rows.terms]
    at = np.repeat(np.arange(len(lengths)), lengths)
    columns = np.array([c for terms in rows.terms for c, _ in terms], np.int64)
    weights = np.array([w for terms in rows.terms for _, w in terms], np.float64)
    return at, columns, weights


def _proto(rows: Rows) -> model_pb2.ModelProto:
    proto = model_pb2.ModelProto()
    columns, sides = range(len(rows.cost)), range(len(rows.terms))
    proto.variables.ids.extend(columns)
    proto.variables.lower_bounds.extend([0.0] * len(columns))
    proto.variables.upper_bounds.extend(rows.upper)
    proto.variables.integers.extend(rows.whole)
    proto.objective.linear_coefficients.ids.extend(columns)
    proto.objective.linear_coefficients.values.extend(rows.cost)
    proto.linear_constraints.ids.extend(sides)
    proto.linear_constraints.lower_bounds.extend(rows.low)
    proto.linear_constraints.upper_bounds.extend(rows.high)
    matrix = proto.linear_constraint_matrix
    for k, terms in enumerate(rows.terms):
        merged: dict[int, float] = {}
        for column, weight in terms:
            merged[column] = merged.get(column, 0.0) + weight
        ordered = sorted(merged.items())
        matrix.row_ids.extend([k] * len(ordered))
        matrix.column_ids.extend([c for c, _ in ordered])
        matrix.coefficients.extend([w for _, w in ordered])
    return proto
