"""A program of the bound put to a solver, and only what it proves taken back.

Question answered: *what is the least this program can cost, at which prices, and by which solution?* What a linear
program proves is not read off the solver (HiGHS): it is worked out from the prices, and holds whatever they are
(Lagrange). Programs and answers are messages here, because turning each answer into dictionaries, as the door above
does, took nearly as long as the solver itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import numpy as np
from ortools.math_opt import callback_pb2, model_parameters_pb2, model_pb2, result_pb2, solution_pb2
from ortools.math_opt.core.python import solver
from ortools.math_opt.python import mathopt
from pybind11_abseil.status import StatusNotOk

from scheduler.solver.bound_days import RigDays
from scheduler.solver.bound_rows import INF, Rows, merged
from scheduler.solver.rigday_layout import Floats

SAFE = 1e-6
MANY_COLUMNS = 15_000
"""From here on the interior-point method is faster than the simplex; not for the rough program, which is sparse."""


@dataclass(frozen=True)
class Solved:
    """A proven bound (-inf: none in time), the values of the columns and the prices of the rows (empty: none)."""

    bound: float
    values: Floats
    prices: Floats


NOTHING = Solved(-INF, np.zeros(0), np.zeros(0))


class Program:
    """Rows in the form that a solver reads, kept from one call to the next.

    Parameters
    ----------
    rows : Rows
        Rows may be added between two calls of `solve`; columns may not.
    sparse : bool
        Whether the simplex is to be used whatever the size.
    """

    def __init__(self, rows: Rows, sparse: bool = False) -> None:
        self.rows = rows
        self._cost, self._upper = np.array(rows.cost, float), np.array(rows.upper, float)
        self._whole = any(rows.whole)
        self._low, self._high = np.zeros(0), np.zeros(0)
        self._lengths, self._columns, self._weights = (
            np.zeros(0, np.int64),
            np.zeros(0, np.int64),
            np.zeros(0),
        )
        self._model = model_pb2.ModelProto()
        columns = range(len(rows.cost))
        self._model.variables.ids.extend(columns)
        self._model.variables.lower_bounds.extend([0.0] * len(columns))
        self._model.variables.upper_bounds.extend(rows.upper)
        self._model.variables.integers.extend(rows.whole)
        self._model.objective.linear_coefficients.ids.extend(columns)
        self._model.objective.linear_coefficients.values.extend(rows.cost)
        self._settings = mathopt.SolveParameters()
        if not self._whole:
            many = len(rows.cost) > MANY_COLUMNS and not sparse
            way = mathopt.LPAlgorithm.BARRIER if many else mathopt.LPAlgorithm.DUAL_SIMPLEX
            self._settings.lp_algorithm = way
            # The end of the interior-point method (a corner of the program) is not needed: any prices prove.
            self._settings.highs.string_options["run_crossover"] = "off"

    def solve(self, seconds: float) -> Solved:
        """Solve within `seconds`; a bound comes from a solved linear program, or from a search over whole numbers."""
        self._take_in()
        self._settings.time_limit = timedelta(seconds=seconds)
        found = _answer(self._model, self._settings)
        if found is None:
            return NOTHING
        solution = found.solutions[0] if found.solutions else solution_pb2.SolutionProto()
        values = _spread(solution.primal_solution.variable_values, len(self._cost))
        if self._whole:
            # Without a bound the figure is minus infinity.
            bound = found.termination.objective_bounds.dual_bound + self.rows.constant
            return Solved(bound - SAFE * abs(bound), values, np.zeros(0))
        if found.termination.reason != result_pb2.TERMINATION_REASON_OPTIMAL:
            return NOTHING
        prices = _spread(solution.dual_solution.dual_values, len(self._low))
        return Solved(self.proven(prices), values, prices)

    def proven(self, prices: Floats) -> float:
        """Return what these prices prove of every solution."""
        total, reduced = self.priced(prices)
        total += self._cheapest(np.minimum(reduced, 0.0))
        return total - SAFE * abs(total)

    def _cheapest(self, below: Floats) -> float:
        """Return what columns save at most; a column without end that saves anything proves nothing."""
        if np.any(below[np.isinf(self._upper)] < 0.0):
            return -INF
        return float(below @ np.where(np.isinf(self._upper), 0.0, self._upper))

    def priced(self, prices: Floats) -> tuple[float, Floats]:
        """Return the cheapest sides of all rows at these prices, and what is left of the cost of each column."""
        prices = prices.copy()
        prices[((prices > 0) & np.isinf(self._low)) | ((prices < 0) & np.isinf(self._high))] = 0.0
        sides = np.where(
            prices > 0,
            np.where(np.isinf(self._low), 0.0, self._low),
            np.where(np.isinf(self._high), 0.0, self._high),
        )
        per_term = np.repeat(prices, self._lengths) * self._weights
        reduced: Floats = self._cost - np.bincount(self._columns, per_term, minlength=len(self._cost))
        return self.rows.constant + float(prices @ sides), reduced

    def cut_days(self, own_rows: set[int], days: RigDays, solved: Solved) -> tuple[float, int]:
        """Price the rig-days at the program's prices: return a proven bound, and how many cuts were added.

        The carriers' own rows are left to the exact days (their price is set to nothing); every other column is at
        whichever end of its range costs least. What comes out bounds every plan, whatever the prices.
        """
        prices = solved.prices.copy()
        prices[list(own_rows)] = 0.0
        total, reduced = self.priced(prices)
        rest = np.minimum(reduced, 0.0)
        rest[days.columns] = 0.0
        total += self._cheapest(rest)
        least, cuts = days.price(reduced)
        added = 0
        for cut in cuts:
            if float(cut.weights @ solved.values[cut.columns]) < cut.least - SAFE * max(1.0, abs(cut.least)):
                own_rows.add(
                    self.rows.row(
                        list(zip(cut.columns.tolist(), cut.weights.tolist(), strict=True)), low=cut.least
                    )
                )
                added += 1
        total += least
        return total - SAFE * abs(total), added

    def _take_in(self) -> None:
        """Take the rows that are new."""
        known = len(self._low)
        new = [sorted(merged(terms)) for terms in self.rows.terms[known:]]
        lengths = np.array([len(terms) for terms in new], np.int64)
        columns, weights = [c for terms in new for c, _ in terms], [w for terms in new for _, w in terms]
        low, high = self.rows.low[known:], self.rows.high[known:]
        ids = np.arange(known, known + len(new))
        self._model.linear_constraints.ids.extend(ids.tolist())
        self._model.linear_constraints.lower_bounds.extend(low)
        self._model.linear_constraints.upper_bounds.extend(high)
        matrix = self._model.linear_constraint_matrix
        matrix.row_ids.extend(np.repeat(ids, lengths).tolist())
        matrix.column_ids.extend(columns)
        matrix.coefficients.extend(weights)
        self._low, self._high = np.append(self._low, low), np.append(self._high, high)
        self._lengths = np.append(self._lengths, lengths)
        self._columns = np.append(self._columns, np.array(columns, np.int64))
        self._weights = np.append(self._weights, weights)


def solve_rows(rows: Rows, seconds: float) -> Solved:
    """Solve a program once."""
    return Program(rows).solve(seconds)


def _answer(model: model_pb2.ModelProto, settings: mathopt.SolveParameters) -> Any:
    """Ask the solver; None where it breaks down."""
    own = mathopt.SolverType.HIGHS.value, mathopt.StreamableSolverInitArguments().to_proto()
    none = model_parameters_pb2.ModelSolveParametersProto(), None, callback_pb2.CallbackRegistrationProto()
    try:
        return solver.solve(model, *own, settings.to_proto(), *none, None, None)
    except (RuntimeError, ValueError, StatusNotOk):
        return None


def _spread(vector: Any, length: int) -> Floats:
    """Return a sparse vector with all its places."""
    out = np.zeros(length)
    out[np.array(vector.ids, np.int64)] = np.array(vector.values)
    return out
