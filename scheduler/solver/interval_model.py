"""The problem as a CP-SAT model of optional intervals; one method per rule, one list that calls them.

Question answered: *which start, mode and resources for every task, at least cost?* Valid for problems without
`days` in which no task is split. Costs are whole numbers after scaling (`scale`); where a cost cannot be scaled
exactly, `slack` says by how much the model's bound may overstate.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from typing import Any

from ortools.sat.python import cp_model

from scheduler.solver.interval_bounds import FROM_END, TO_START, Reach
from scheduler.solver.interval_costs import scale_for
from scheduler.solver.interval_hours import keep_hours, keep_windows, pack_hours
from scheduler.solver.interval_money import add_costs
from scheduler.solver.interval_order import Order
from scheduler.solver.problem import Mode, Problem, Task
from scheduler.solver.result import Block, CorePlan

Var = Any


@dataclass
class Use:
    """One way a task may hold one resource: while `lit` is true."""

    task: int
    mode: int
    need: int
    lit: Var
    amount: int


@dataclass
class IntervalModel:
    """The model and its variables.

    Attributes
    ----------
    start, end, present : per task
    mode : per (task, mode), literal
    crew : per (task, mode, need, resource), literal; only where a need leaves a choice
    order : what the sequences of unary resources added
    recipes : derived variables and how a plan determines them, for complete hints
    """

    problem: Problem
    reach: Reach
    horizon: int
    cp: cp_model.CpModel = field(default_factory=cp_model.CpModel)
    start: list[Var] = field(default_factory=list)
    end: list[Var] = field(default_factory=list)
    present: list[Var] = field(default_factory=list)
    mode: dict[tuple[int, int], Var] = field(default_factory=dict)
    crew: dict[tuple[int, int, int, int], Var] = field(default_factory=dict)
    uses: dict[int, list[Use]] = field(default_factory=lambda: defaultdict(list))
    terms: list[Any] = field(default_factory=list)
    recipes: list[tuple[Var, Any]] = field(default_factory=list)
    orders: list[Order] = field(default_factory=list)
    before: dict[tuple[int, int], Var] = field(default_factory=dict)
    derived: set[int] = field(default_factory=set)
    last: Var = None
    scale: int = 1
    slack: float = 0.0
    coarse: bool = False

    def __post_init__(self) -> None:
        """Build everything."""
        self.scale, self.slack = scale_for(self.problem)
        self._tasks()
        self._modes()
        self._times()
        self._lags()
        self._choices()
        self._pins()
        self._stocks()
        add_costs(self)
        self._resources()
        if self.terms:
            self.cp.minimize(sum(self.terms))

    # ---- decisions -------------------------------------------------------------------------------------

    def _tasks(self) -> None:
        cp, reach = self.cp, self.reach
        for t, task in enumerate(self.problem.tasks):
            lo, hi = int(reach.start_least[t]), int(reach.start_most[t])
            a, b = int(reach.end_least[t]), int(reach.end_most[t])
            if task.optional and (lo > hi or a > b):
                lo = hi = a = b = 0
                self.present.append(0)
            else:
                self.present.append(cp.new_bool_var(f"p{t}") if task.optional else 1)
            self.start.append(cp.new_int_var(lo, hi, f"s{t}"))
            self.end.append(self._end_var(t, task, a, b))

    def _end_var(self, t: int, task: Task, least: int, most: int) -> Var:
        times = {m.minutes_for(task.size, task.size) for m in task.modes}
        if len(times) == 1 and not task.resumable and not any(p.task == t for p in self.problem.pins):
            self.derived.add(t)
            return self.start[t] + next(iter(times))
        return self.cp.new_int_var(least, most, f"e{t}")

    def _modes(self) -> None:
        cp = self.cp
        for t, task in enumerate(self.problem.tasks):
            if len(task.modes) == 1:
                self.mode[t, 0] = self.present[t]
            else:
                for m in range(len(task.modes)):
                    self.mode[t, m] = cp.new_bool_var(f"x{t}_{m}")
                cp.add(sum(self.mode[t, m] for m in range(len(task.modes))) == self.present[t])
            for m, mode in enumerate(task.modes):
                self._needs(t, m, mode)

    def _needs(self, t: int, m: int, mode: Mode) -> None:
        lit = self.mode[t, m]
        by_resource: dict[int, list[Var]] = defaultdict(list)
        for i, need in enumerate(mode.needs):
            options = tuple(dict.fromkeys(need.any_of))
            lits = [lit]
            if len(options) > 1:
                lits = [self.cp.new_bool_var(f"y{t}_{m}_{i}_{r}") for r in options]
                self.cp.add(sum(lits) == lit)
                self.crew.update({(t, m, i, r): y for r, y in zip(options, lits, strict=True)})
            for r, y in zip(options, lits, strict=True):
                self.uses[r].append(Use(t, m, i, y, need.amount))
                by_resource[r].append(y)
                room = self.problem.resources[r].capacity
                if need.amount > room:
                    self.cp.add(y == 0)
        for lits in by_resource.values():
            if len(lits) > 1:
                self.cp.add(sum(lits) <= 1)

    # ---- times -----------------------------------------------------------------------------------------

    def when(self, constraint: Any, *lits: Var) -> None:
        """Enforce a constraint while all literals hold; constants 0 and 1 are understood."""
        if any(isinstance(lit, int) and lit == 0 for lit in lits):
            constraint.only_enforce_if(self.cp.new_constant(0))
            return
        real = [lit for lit in lits if not isinstance(lit, int)]
        if real:
            constraint.only_enforce_if(real)

    def _times(self) -> None:
        pinned = {pin.task for pin in self.problem.pins}
        for t, task in enumerate(self.problem.tasks):
            if t in pinned:
                continue
            for m, mode in enumerate(task.modes):
                minutes = mode.minutes_for(task.size, task.size)
                lit = self.mode[t, m]
                if isinstance(lit, int) and lit == 0:
                    continue
                if not task.resumable and t not in self.derived:
                    self.when(self.cp.add(self.end[t] == self.start[t] + minutes), lit)
                keep_windows(self, t, mode, minutes, lit)
                keep_hours(self, t, m, mode, minutes, lit)

    def _lags(self) -> None:
        for lag in self.problem.lags:
            one, two = self.present[lag.before], self.present[lag.after]
            if not lag.loose:
                self.cp.add(two <= one)
            a = (self.end if lag.kind in FROM_END else self.start)[lag.before]
            b = (self.start if lag.kind in TO_START else self.end)[lag.after]
            if lag.least is not None:
                self.when(self.cp.add(b - a >= lag.least), one, two)
            if lag.most is not None:
                self.when(self.cp.add(b - a <= lag.most), one, two)

    def _choices(self) -> None:
        for choice in self.problem.choices:
            given = 1 if choice.given is None else self.present[choice.given]
            self.cp.add(sum(self.present[t] for t in dict.fromkeys(choice.one_of)) >= given)

    def _pins(self) -> None:
        for pin in self.problem.pins:
            t = pin.task
            self.cp.add(self.start[t] == pin.start)
            self.cp.add(self.end[t] == pin.end)
            self.cp.add(self.mode[t, pin.mode] == 1)
            needs = self.problem.tasks[t].modes[pin.mode].needs
            for i, r in enumerate(pin.resources):
                key = (t, pin.mode, i, r)
                if key in self.crew:
                    self.cp.add(self.crew[key] == 1)
                elif r not in needs[i].any_of:
                    self.cp.add(self.mode[t, pin.mode] == 0)

    # ---- resources -------------------------------------------------------------------------------------

    def interval(self, use: Use, extra: int = 0) -> Var:
        task = self.problem.tasks[use.task]
        start, end = self.start[use.task], self.end[use.task]
        pinned = any(p.task == use.task for p in self.problem.pins)
        if not task.resumable and not pinned:
            size = task.modes[use.mode].minutes_for(task.size, task.size) + extra
            if isinstance(use.lit, int):
                return self.cp.new_fixed_size_interval_var(start, size, "")
            return self.cp.new_optional_fixed_size_interval_var(start, size, use.lit, "")
        length = self.cp.new_int_var(0, self.horizon + extra, "")
        self.recipes.append((length, ("size", use.task, extra)))
        if isinstance(use.lit, int):
            return self.cp.new_interval_var(start, length, end + extra, "")
        return self.cp.new_optional_interval_var(start, length, end + extra, use.lit, "")

    def _resources(self) -> None:
        for r, uses in sorted(self.uses.items()):
            res = self.problem.resources[r]
            live = [u for u in uses if not (isinstance(u.lit, int) and u.lit == 0)]
            if res.cumulative:
                self._pool(r, live)
            elif len(live) > 1 or (live and res.moves is not None):
                order = Order(self, r, live)
                order.build()
                self.orders.append(order)
                pack_hours(self, r, live)

    def _pool(self, r: int, uses: list[Use]) -> None:
        res = self.problem.resources[r]
        busy = [u for u in uses if u.amount > 0]
        if sum(u.amount for u in busy) <= res.capacity:
            return
        self.cp.add_cumulative([self.interval(u) for u in busy], [u.amount for u in busy], res.capacity)

    def _stocks(self) -> None:
        for s, stock in enumerate(self.problem.stocks):
            takes = [
                (t, m, amount)
                for t, task in enumerate(self.problem.tasks)
                for m, mode in enumerate(task.modes)
                if (amount := mode.consumes.get(s, 0))
            ]
            if not takes:
                continue
            total = stock.initial + sum(q for _, q in stock.deliveries)
            self.cp.add(sum(q * self.mode[t, m] for t, m, q in takes) <= total)
            for time, _ in stock.deliveries:
                have = stock.initial + sum(q for at, q in stock.deliveries if at < time)
                early = []
                for t, m, q in takes:
                    soon = self.cp.new_bool_var("")
                    self.recipes.append((soon, ("soon", t, m, time)))
                    self.when(self.cp.add(self.start[t] >= time), *self._and_not(self.mode[t, m], soon))
                    early.append(q * soon)
                self.cp.add(sum(early) <= have)

    def _and_not(self, lit: Var, soon: Var) -> list[Var]:
        return [soon.negated()] if isinstance(lit, int) else [lit, soon.negated()]

    def minutes_of(self, use: Use) -> int:
        """Return the working time of a use."""
        task = self.problem.tasks[use.task]
        return task.modes[use.mode].minutes_for(task.size, task.size)

    # ---- reading ---------------------------------------------------------------------------------------

    def read(self, value: Any) -> CorePlan:
        """Return the plan of a solution; `value` maps a variable or literal to its number."""
        blocks = []
        for t, task in enumerate(self.problem.tasks):
            for m, mode in enumerate(task.modes):
                if value(self.mode[t, m]):
                    crew = tuple(self._who(value, t, m, i, need.any_of) for i, need in enumerate(mode.needs))
                    amount = next((p.amount for p in self.problem.pins if p.task == t), task.size)
                    blocks.append(Block(value(self.start[t]), value(self.end[t]), t, m, amount, crew))
        rank = {t: k for order in self.orders for t, k in order.ranks(value).items()}
        return CorePlan(tuple(sorted(blocks, key=lambda b: (b.start, b.end, rank.get(b.task, 0), b.task))))

    def _who(self, value: Any, t: int, m: int, i: int, any_of: tuple[int, ...]) -> int:
        if len(set(any_of)) == 1:
            return any_of[0]
        return next(r for r in any_of if value(self.crew[t, m, i, r]))
