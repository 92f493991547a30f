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

from scheduler.solver.calendar import add_work, meet, pauses
from scheduler.solver.interval_bounds import FROM_END, TO_START, Reach
from scheduler.solver.interval_costs import lines_of, scale_for
from scheduler.solver.interval_order import Order
from scheduler.solver.problem import Curve, Interval, Mode, Problem, Task
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
        self._resources()
        self._stocks()
        self._costs()
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
                self._windows(t, mode, minutes, lit)
                self._calendars(t, m, mode, minutes, lit)

    def _windows(self, t: int, mode: Mode, minutes: int, lit: Var) -> None:
        """Blocks lie in one window; where windows differ in risk, a literal says which."""
        if mode.windows is None:
            return
        windows = [w for w in mode.windows if w.end - w.start >= minutes]
        if not windows:
            self.when(self.cp.add_bool_or([]), lit)
            return
        resumable = self.problem.tasks[t].resumable
        if len({w.risk_per_minute for w in windows}) == 1 and not resumable:
            starts = cp_model.Domain.from_intervals([[w.start, w.end - minutes] for w in windows])
            self.when(self.cp.add_linear_expression_in_domain(self.start[t], starts), lit)
            if windows[0].risk_per_minute:
                self._cost(lit, windows[0].risk_per_minute * minutes)
            return
        lits = []
        for w in windows:
            inside = self.cp.new_bool_var("")
            self.when(self.cp.add(self.start[t] >= w.start), inside)
            self.when(self.cp.add(self.end[t] <= w.end), inside)
            self._cost(inside, w.risk_per_minute * minutes)
            lits.append(inside)
            self.recipes.append((inside, ("window", t, mode, w)))
        self.cp.add(sum(lits) == lit)

    def _calendars(self, t: int, m: int, mode: Mode, minutes: int, lit: Var) -> None:
        """Opening hours of what the mode uses."""
        task = self.problem.tasks[t]
        combos = self._crews_with_calendars(t, m, mode)
        if task.resumable:
            for lits, spans in combos:
                self._pauses(t, minutes, [lit, *lits], spans)
            return
        for i, need in enumerate(mode.needs):
            for r in dict.fromkeys(need.any_of):
                spans = self.problem.resources[r].open
                y = self.crew.get((t, m, i, r), lit)
                if spans is None:
                    continue
                fits = [[a, b - minutes] for a, b in spans if b - a >= minutes]
                if not fits:
                    self.when(self.cp.add_bool_or([]), y)
                    continue
                domain = cp_model.Domain.from_intervals(fits)
                self.when(self.cp.add_linear_expression_in_domain(self.start[t], domain), y)

    def _crews_with_calendars(self, t: int, m: int, mode: Mode) -> list[tuple[list[Var], Any]]:
        """Return every choice of resources (as literals) with the hours all of them are open."""
        combos: list[tuple[list[Var], Any]] = [([], None)]
        if not self.problem.tasks[t].resumable:
            return combos
        for i, need in enumerate(mode.needs):
            calendars = {self.problem.resources[r].open for r in need.any_of}
            if len(calendars) == 1:
                combos = [(lits, meet(spans, next(iter(calendars)))) for lits, spans in combos]
                continue
            combos = [
                ([*lits, self.crew[t, m, i, r]], meet(spans, self.problem.resources[r].open))
                for lits, spans in combos
                for r in dict.fromkeys(need.any_of)
            ]
        return combos

    def _pauses(self, t: int, minutes: int, lits: list[Var], spans: tuple[Interval, ...] | None) -> None:
        """The end is the start, the work, and the closures between: constant on pieces of the start."""
        if spans is None or minutes == 0:
            self.when(self.cp.add(self.end[t] == self.start[t] + minutes), *lits)
            return
        pieces = [
            (max(a, int(self.reach.start_least[t])), min(b, int(self.reach.start_most[t])), pause)
            for a, b, pause in pauses(spans, minutes)
        ]
        inside = []
        for a, b, pause in pieces:
            if b < a:
                continue
            piece = self.cp.new_bool_var("")
            inside.append(piece)
            self.when(self.cp.add(self.start[t] >= a), piece)
            self.when(self.cp.add(self.start[t] <= b), piece)
            self.when(self.cp.add(self.end[t] == self.start[t] + minutes + pause), piece)
            self.recipes.append((piece, ("piece", t, tuple(lits), a, b, pause + minutes)))
        self.cp.add(sum(inside) <= 1)
        self.when(self.cp.add_bool_or(inside), *lits)

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

    # ---- costs -----------------------------------------------------------------------------------------

    def _cost(self, lit: Var, cost: float) -> None:
        if cost:
            self.terms.append(lit * round(cost * self.scale))

    def _costs(self) -> None:
        problem = self.problem
        for t, task in enumerate(problem.tasks):
            for var, curve in ((self.start[t], task.start_curve), (self.end[t], task.end_curve)):
                if curve is not None:
                    self._curve(t, var, curve, var is self.end[t])
            for m, mode in enumerate(task.modes):
                self._cost(self.mode[t, m], mode.cost)
            if task.optional and task.drop_cost:
                self.terms.append(round(task.drop_cost * self.scale) * (1 - self.present[t]))
            if t in {p.task for p in problem.before.blocks} and problem.before.price.get(t):
                self._kept(t, problem.before.price[t])
        if problem.makespan_weight:
            self._makespan()

    def _curve(self, t: int, var: Var, curve: Curve, is_end: bool) -> None:
        """A convex cost lies above each of its lines."""
        span = (
            (self.reach.end_least, self.reach.end_most)
            if is_end
            else (self.reach.start_least, self.reach.start_most)
        )
        lo, hi = int(span[0][t]), int(span[1][t])
        if hi < lo:
            return
        times = [lo, hi, *(p[0] for p in curve.points if lo <= p[0] <= hi)]
        values = [round(curve.at(x) * self.scale) for x in times]
        least, most = min(values) - 1, max(values) + 1
        if self.problem.tasks[t].optional:
            least, most = min(0, least), max(0, most)
        cost = self.cp.new_int_var(least if least < -1 else max(0, least), most, f"c{t}")
        for at, base, rise, run in lines_of(curve, self.scale):
            self.when(self.cp.add(run * cost >= run * base + rise * (var - at)), self.present[t])
        self.terms.append(cost)
        self.recipes.append((cost, ("curve", t, curve, is_end)))

    def _kept(self, t: int, price: int) -> None:
        """The price of a change is saved when start and resources are those of the earlier plan."""
        kept = []
        for pin in self.problem.before.blocks:
            if pin.task != t:
                continue
            for m, mode in enumerate(self.problem.tasks[t].modes):
                lits = self._same_crew(t, m, mode, pin.resources)
                if lits is None:
                    continue
                same = self.cp.new_bool_var("")
                self.when(self.cp.add(self.start[t] == pin.start), same)
                for lit in lits:
                    self.cp.add(same <= lit)
                self.recipes.append((same, ("kept", t, m, pin)))
                kept.append(same)
        if kept:
            self.cp.add(sum(kept) <= 1)
        self.terms.append(round(price * self.scale) * (1 - sum(kept)))

    def _same_crew(self, t: int, m: int, mode: Mode, resources: tuple[int, ...]) -> list[Var] | None:
        lits = [self.mode[t, m]]
        if not resources:
            return lits
        if len(set(resources)) != len(mode.needs):
            return None
        for r in resources:
            ways = [self.crew.get((t, m, i, r), 1) for i, n in enumerate(mode.needs) if r in n.any_of]
            if not ways:
                return None
            if 1 not in [w if isinstance(w, int) else None for w in ways]:
                lits.append(sum(ways))
        return lits

    def _makespan(self) -> None:
        last = self.cp.new_int_var(self._least_makespan(), self.horizon, "last")
        for t in range(len(self.problem.tasks)):
            self.when(self.cp.add(last >= self.end[t]), self.present[t])
        self.recipes.append((last, ("last",)))
        self.terms.append(last * self.problem.makespan_weight * self.scale)

    def _least_makespan(self) -> int:
        """Return a bound from the work that each unary resource has to do within its hours."""
        least = max(
            (int(e) for e, t in zip(self.reach.end_least, self.problem.tasks, strict=True) if not t.optional),
            default=0,
        )
        if self.problem.pins:
            return min(least, self.horizon)
        for r, uses in self.uses.items():
            res = self.problem.resources[r]
            must = [u for u in uses if isinstance(u.lit, int) and u.lit == 1]
            if not must or res.capacity < 1:
                continue
            first = min(int(self.reach.start_least[u.task]) for u in must)
            work = -(-sum(u.amount * self._minutes(u) for u in must) // res.capacity)
            done = add_work(first, work, res.open)
            least = max(least, self.horizon if done is None else done)
        return min(least, self.horizon)

    def _minutes(self, use: Use) -> int:
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
