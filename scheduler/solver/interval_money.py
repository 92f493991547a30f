"""What placements cost, in the interval model: whole numbers after scaling, convex costs above their lines."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from scheduler.solver.calendar import add_work
from scheduler.solver.interval_costs import lines_of
from scheduler.solver.problem import Curve, Mode

if TYPE_CHECKING:
    from scheduler.solver.interval_model import IntervalModel

Var = Any


def charge(model: IntervalModel, lit: Var, cost: float) -> None:
    """Let a literal cost something."""
    if cost:
        model.terms.append(lit * round(cost * model.scale))


def add_costs(model: IntervalModel) -> None:
    """Add every cost of tasks, modes, changes and the last end."""
    problem = model.problem
    for t, task in enumerate(problem.tasks):
        for var, curve in ((model.start[t], task.start_curve), (model.end[t], task.end_curve)):
            if curve is not None:
                _curve(model, t, var, curve, var is model.end[t])
        for m, mode in enumerate(task.modes):
            charge(model, model.mode[t, m], mode.cost)
        if task.optional and task.drop_cost:
            model.terms.append(round(task.drop_cost * model.scale) * (1 - model.present[t]))
        if t in {p.task for p in problem.before.blocks} and problem.before.price.get(t):
            _kept(model, t, problem.before.price[t])
    if problem.makespan_weight:
        _makespan(model)


def _curve(model: IntervalModel, t: int, var: Var, curve: Curve, is_end: bool) -> None:
    """A convex cost lies above each of its lines."""
    span = (
        (model.reach.end_least, model.reach.end_most)
        if is_end
        else (model.reach.start_least, model.reach.start_most)
    )
    lo, hi = int(span[0][t]), int(span[1][t])
    if hi < lo or (isinstance(model.present[t], int) and not model.present[t]):
        return
    times = [lo, hi, *(p[0] for p in curve.points if lo <= p[0] <= hi)]
    values = [round(curve.at(x) * model.scale) for x in times]
    least, most = min(values) - 1, max(values) + 1
    if model.problem.tasks[t].optional:
        least, most = min(0, least), max(0, most)
    cost = model.cp.new_int_var(least if least < -1 else max(0, least), most, f"c{t}")
    for at, base, rise, run in lines_of(curve, model.scale):
        model.when(model.cp.add(run * cost >= run * base + rise * (var - at)), model.present[t])
    if least < 0 and model.problem.tasks[t].optional:
        model.when(model.cp.add(cost == 0), model.present[t].negated())
    model.terms.append(cost)
    model.recipes.append((cost, ("curve", t, curve, is_end)))


def _kept(model: IntervalModel, t: int, price: int) -> None:
    """The price of a change is saved when start and resources are those of the earlier plan."""
    kept = []
    for pin in model.problem.before.blocks:
        if pin.task != t:
            continue
        for m, mode in enumerate(model.problem.tasks[t].modes):
            lits = _same_crew(model, t, m, mode, pin.resources)
            if lits is None:
                continue
            same = model.cp.new_bool_var("")
            model.when(model.cp.add(model.start[t] == pin.start), same)
            for lit in lits:
                model.cp.add(same <= lit)
            model.recipes.append((same, ("kept", t, m, pin)))
            kept.append(same)
    if kept:
        model.cp.add(sum(kept) <= 1)
    model.terms.append(round(price * model.scale) * (1 - sum(kept)))


def _same_crew(
    model: IntervalModel, t: int, m: int, mode: Mode, resources: tuple[int, ...]
) -> list[Var] | None:
    lits = [model.mode[t, m]]
    if not resources:
        return lits
    if len(set(resources)) != len(mode.needs):
        return None
    for r in resources:
        ways = [model.crew.get((t, m, i, r), 1) for i, n in enumerate(mode.needs) if r in n.any_of]
        if not ways:
            return None
        if 1 not in [w if isinstance(w, int) else None for w in ways]:
            lits.append(sum(ways))
    return lits


def _makespan(model: IntervalModel) -> None:
    last = model.last = model.cp.new_int_var(_least_makespan(model), model.horizon, "last")
    for t in range(len(model.problem.tasks)):
        model.when(model.cp.add(last >= model.end[t]), model.present[t])
    model.recipes.append((last, ("last",)))
    model.terms.append(last * model.problem.makespan_weight * model.scale)


def _least_makespan(model: IntervalModel) -> int:
    """Return a bound from the work that each unary resource has to do within its hours."""
    least = max(
        (int(e) for e, t in zip(model.reach.end_least, model.problem.tasks, strict=True) if not t.optional),
        default=0,
    )
    if model.problem.pins:
        return min(least, model.horizon)
    for r, uses in model.uses.items():
        res = model.problem.resources[r]
        must = [u for u in uses if isinstance(u.lit, int) and u.lit == 1]
        if not must or res.capacity < 1:
            continue
        first = min(int(model.reach.start_least[u.task]) for u in must)
        work = -(-sum(u.amount * model.minutes_of(u) for u in must) // res.capacity)
        done = add_work(first, work, res.open)
        least = max(least, model.horizon if done is None else done)
    return min(least, model.horizon)
