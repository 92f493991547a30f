"""Running the interval model under a deadline that holds, and telling the keeper what it finds on the way."""

from __future__ import annotations

import threading
from typing import Any

from ortools.sat.python import cp_model

from scheduler.solver.interval_bounds import Reach, reach_of
from scheduler.solver.interval_hint import give_hint
from scheduler.solver.interval_model import IntervalModel
from scheduler.solver.keeper import Keeper
from scheduler.solver.problem import Problem
from scheduler.solver.result import Limits

MARGIN_S = 0.15
EFFORT_PER_SECOND = 0.25


class _Listener(cp_model.CpSolverSolutionCallback):
    """Hands every solution to the keeper, and stops when nothing is left to prove."""

    def __init__(self, model: IntervalModel, keeper: Keeper) -> None:
        super().__init__()
        self.model, self.keeper = model, keeper

    def on_solution_callback(self) -> None:
        """Read the plan."""
        self.keeper.offer(self.model.read(self._number), "interval model")
        if self.keeper.proven():
            self.stop_search()

    def _number(self, var: Any) -> int:
        return var if isinstance(var, int) else int(self.value(var))


class Prover:
    """One run of CP-SAT on the interval model."""

    def __init__(self, problem: Problem, keeper: Keeper, limits: Limits) -> None:
        self.problem, self.keeper, self.limits = problem, keeper, limits
        self.solver = cp_model.CpSolver()
        self.spare = 0.0

    def run(self, workers: int, after: threading.Event | None = None, share: float = 1.0) -> None:
        """Build the model, hint it with the best plan, and solve it for a share of the time or until the proof."""
        if after is not None:
            after.wait(max(0.0, self.keeper.left() / 4))
        if self.keeper.proven() or self.keeper.left() < MARGIN_S:
            return
        self.spare = (1.0 - share) * self.keeper.left()
        # Not a daemon: the interpreter must not end under a running solver; it stops soon after its deadline.
        work = threading.Thread(target=self._work, args=(workers,))
        work.start()
        while work.is_alive() and self._left() > -MARGIN_S / 2:
            work.join(min(0.05, max(0.001, self._left() + MARGIN_S / 2)))
            if self.keeper.proven() or self._left() <= 0:
                self.solver.stop_search()
            if self.keeper.proven():
                return

    def _left(self) -> float:
        """Return the seconds left for the model, a margin for stopping taken off."""
        return self.keeper.left() - MARGIN_S - self.spare

    def _work(self, workers: int) -> None:
        problem, keeper = self.problem, self.keeper
        horizon = problem.horizon
        if keeper.plan is not None and problem.makespan_weight > 0 and _only_makespan(problem):
            horizon = min(horizon, max((b.end for b in keeper.plan.blocks), default=horizon))
        model = IntervalModel(problem, reach_of(problem, horizon), horizon)
        if keeper.plan is not None:
            give_hint(model, keeper.plan)
        left = self._left()
        if left <= 0 or keeper.proven():
            return
        self._settings(workers, left)
        factor, slack = model.scale, model.slack

        def heard(bound: float) -> None:
            if not model.coarse and model.terms:
                keeper.raise_bound(bound / factor - slack, "interval model")
            if keeper.proven():
                self.solver.stop_search()

        self.solver.best_bound_callback = heard
        status = self.solver.solve(model.cp, _Listener(model, keeper))
        self._conclude(model, status)

    def _settings(self, workers: int, left: float) -> None:
        p = self.solver.parameters
        p.max_time_in_seconds = left
        p.random_seed = self.limits.seed
        p.num_workers = 1 if self.limits.deterministic else max(1, workers)
        if self.limits.deterministic:
            p.max_deterministic_time = self.limits.seconds * EFFORT_PER_SECOND

    def _conclude(self, model: IntervalModel, status: Any) -> None:
        if status == cp_model.INFEASIBLE:
            if self.keeper.plan is None and not model.coarse:
                self.keeper.impossible = True
        elif status in (cp_model.OPTIMAL, cp_model.FEASIBLE) and not model.coarse:
            bound = self.solver.best_objective_bound if model.terms else 0.0
            self.keeper.raise_bound(bound / model.scale - model.slack, "interval model")


def _only_makespan(problem: Problem) -> bool:
    """Tell whether nothing but the latest end costs, so that a better plan ends no later than a known one."""
    for task in problem.tasks:
        if task.start_curve or task.end_curve or task.drop_cost or any(mode.cost for mode in task.modes):
            return False
        if any(w.risk_per_minute for mode in task.modes for w in mode.windows or ()):
            return False
    moving = any(res.moves is not None and res.moves.cost_per_minute for res in problem.resources)
    return not moving and not problem.before.price


def is_possible(problem: Problem, reach: Reach, seconds: float) -> bool | None:
    """Tell whether any plan exists, costs aside; None when that stays open."""
    model = IntervalModel(problem, reach, problem.horizon)
    model.cp.clear_objective()
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = 1
    status = solver.solve(model.cp)
    if status == cp_model.INFEASIBLE:
        return None if model.coarse else False
    return True if status in (cp_model.OPTIMAL, cp_model.FEASIBLE) else None
