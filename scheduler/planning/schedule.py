"""Making a plan: compile, search, decode, check, explain; there is always a checked plan in time.

Question answered: *what is the best checked plan for this situation?* The dispatch rule stands behind the engine: when the
engine has nothing, or the checker refuses what it has, the rule's plan goes out and the notes say so.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Sequence
from dataclasses import replace

from scheduler.events.situation import Situation
from scheduler.planning.check_presumed import presumed_faults
from scheduler.planning.checker import check_plan
from scheduler.planning.compile import compile_problem
from scheduler.planning.compiled import Compiled
from scheduler.planning.costs import CENTS
from scheduler.planning.crumbs import without_crumbs
from scheduler.planning.demands import Demand, with_demands
from scheduler.planning.document import Answer, document
from scheduler.planning.forward import brought_forward
from scheduler.planning.one_visit import in_one_visit
from scheduler.planning.plan import Plan
from scheduler.planning.presumed import Known, known_now
from scheduler.planning.replan import all_in, calm_problem, touched
from scheduler.planning.roles import known_places
from scheduler.planning.standing import without_pin, without_pins
from scheduler.planning.steadier import at_once, moved_and_shifted, plans_between, side_by_side
from scheduler.solver.dispatch import dispatch
from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Before, Problem
from scheduler.solver.result import Block, CorePlan, Limits, ProgressSink, Result, Status
from scheduler.solver.solve import solve
from scheduler.windows.records import Outlook
from shared.clock import Horizon
from shared.errors import PlanRefused

FREE_SHARE = 0.5
"""Share of the time for the free search when there is an earlier plan; the rest is for calmer ones."""
CALM_SHARE = 0.2
"""Share of that rest for each of the two calm searches, when plans between them and the free one are wanted too."""
STEADY_FACTOR = 28.0
"""Between two forecasts a moved block that the news does not touch has to save so many times the price of a change (assumption,
measured: docs/engine.md)."""
LEAST_GAIN_CENTS = 100.0
"""People are not told of a new plan for less than this."""


def make_plan(
    situation: Situation,
    outlook: Outlook,
    horizon: Horizon,
    limits: Limits,
    previous: Plan | None = None,
    progress: ProgressSink | None = None,
    use_engine: bool = True,
    reasons: bool = True,
    demands: Sequence[Demand] = (),
    firm: bool = True,
) -> Plan:
    """Return a checked plan.

    Parameters
    ----------
    horizon : Horizon
        Days planned exactly, from today.
    limits : Limits
        Effort of the engine; `deterministic` gives the same plan for the same input.
    previous : Plan, optional
        The plan that people know: kept when nothing is new or nothing better is found.
    use_engine : bool
        False gives the dispatch rule's plan.
    reasons : bool
        False leaves out sentences and odds, for studies of many plans that nobody reads.
    demands : sequence of Demand
        What is to be done by a time, before anything else counts; `demands.unmet` says what the plan does not keep.
    firm : bool
        False lets what is demanded be late, as little as can be.

    Raises
    ------
    PlanRefused
        Neither the engine's nor the rule's plan passes the checker.
    """
    told, known = situation, known_now(situation, previous, outlook)
    if presumed_faults(known.presumed, known.situation.on_way, told):
        known = Known(told, previous, ())
    situation, presumed = known.situation, known.presumed
    compiled = compile_problem(situation, outlook, horizon, situation.farm.plan, known.plan)
    compiled = with_demands(compiled, demands, firm)
    mark = fingerprint(compiled.problem)
    if previous is not None and use_engine and _as_before(previous, compiled, mark):
        return previous
    cost = situation.farm.plan.change_cost
    steady = cost > 0 and previous is not None and previous.forecast_issued_at == outlook.forecast_issued_at
    compiled, answer = _answer(compiled, limits, progress, use_engine, cost, steady)
    plan = document(compiled, answer, situation, outlook, previous, mark, limits, reasons, presumed)
    faults = check_plan(plan, told, outlook)
    if faults and answer.method != "rule":
        said = f"The engine's plan was refused by the checker ({faults[0]}); this is the plan of the simple rule."
        compiled, answer = _answer(compiled, limits, None, False, cost, steady)
        compiled = replace(compiled, notes=(*compiled.notes, said))
        plan = document(compiled, answer, situation, outlook, previous, mark, limits, reasons, presumed)
        faults = check_plan(plan, told, outlook)
    if faults and compiled.problem.pins:
        compiled = without_pins(compiled, "it breaks a rule of the plan")
        compiled, answer = _answer(compiled, limits, None, False, cost, steady)
        plan = document(compiled, answer, situation, outlook, previous, mark, limits, reasons, presumed)
        faults = check_plan(plan, told, outlook)
    if faults:
        raise PlanRefused(f"No plan goes out, since the checker found: {' '.join(faults[:5])}")
    return plan


def _as_before(previous: Plan, compiled: Compiled, mark: str) -> bool:
    """Return whether nothing is new: the same problem, and nothing to say that was not said."""
    same = previous.fingerprint == mark and previous.method != "rule"
    return same and set(compiled.notes) <= set(previous.notes)


def fingerprint(problem: Problem) -> str:
    """Return a mark of everything a plan is made from, the earlier plan left aside."""
    bare = replace(
        problem, before=Before(), resources=tuple(replace(r, moves=None) for r in problem.resources)
    )
    moves = [
        (
            m.minutes.tolist(),
            m.depot,
            *(None if one is None else one.tolist() for one in (m.change, m.on_the_way)),
            m.cost_per_minute,
        )
        for r in problem.resources
        if (m := r.moves) is not None
    ]
    return hashlib.sha256(repr((bare, moves)).encode()).hexdigest()[:16]


# ---- search ----------------------------------------------------------------------------------------------


def _answer(
    compiled: Compiled, limits: Limits, progress: ProgressSink | None, use_engine: bool, change_cost: float,
    steady: bool,
) -> tuple[Compiled, Answer]:  # fmt: skip
    """Search; while pins stand in the way of any plan at all, give them up one by one."""
    while True:
        core = dispatch(compiled.problem)
        judged = evaluate(compiled.problem, core)
        if not judged.violations or not compiled.problem.pins:
            break
        tasks = {t for fault in judged.violations for t in fault.tasks}
        guilty = [k for k, pin in enumerate(compiled.problem.pins) if pin.task in tasks]
        worst = (guilty or list(range(len(compiled.problem.pins))))[-1]
        compiled = without_pin(compiled, worst, "it clashes with another rule of the plan")
    if use_engine:
        found = _searched(compiled, limits, progress, change_cost, steady, core)
        if found is not None:
            # A short search of a large farm does without the rule: here it is known.
            return compiled, replace(found, first_value=judged.value)
    if judged.violations:
        core = CorePlan()
        judged = evaluate(compiled.problem, core)
    return compiled, Answer(core, judged.value, 0.0, judged.value, Status.FEASIBLE, "rule")


def _searched(
    compiled: Compiled,
    limits: Limits,
    progress: ProgressSink | None,
    cost: float,
    steady: bool,
    rule: CorePlan,
) -> Answer | None:
    """Search freely, then calmly; of what comes out and the earlier plan, return the best with unrest paid for.

    With `steady` each moved block that the news does not touch has to save `STEADY_FACTOR` times the price of a change; where
    changes cost nothing all is free.
    """
    problem = compiled.problem
    if not problem.tasks:
        return Answer(CorePlan(), 0.0, 0.0, 0.0, Status.OPTIMAL, "engine")
    mended = None if compiled.start is None else dispatch(problem, start=compiled.start)
    calm = calm_problem(compiled, mended) if cost > 0 and mended is not None else None
    news = touched(compiled, mended) if steady and mended is not None else set()
    free_limits = limits if calm is None else replace(limits, seconds=limits.seconds * FREE_SHARE)
    result: Result = solve(problem, free_limits, progress, compiled.start, rule)
    if result.status not in (Status.OPTIMAL, Status.FEASIBLE):
        return None
    found = [(result.plan, "engine"), (dispatch(problem, start=result.plan), "engine")]
    if calm is not None and mended is not None:
        rest = replace(limits, seconds=limits.seconds * (1.0 - FREE_SHARE), bound=False)
        found += [
            (core, "engine")
            for core in _calmer(compiled, calm, (mended, result.plan), rest, cost, steady, news)
        ]
    if mended is not None:
        found.append((mended, "mended"))
    found = [(without_crumbs(problem, in_one_visit(problem, core)), how) for core, how in found]
    core, method, best = _chosen(compiled, found, cost, steady, news)
    if compiled.start is not None:
        before = all_in(compiled, compiled.start, cost)
        if before is not None and before - LEAST_GAIN_CENTS <= best:
            core, method = compiled.start, "kept"
        if steady and (fuller := brought_forward(compiled, core, cost)) is not core:
            core, method = fuller, "engine"
        core = known_places(compiled, core)
    value = evaluate(problem, core).value
    proven = value <= result.bound + 0.5
    return Answer(
        core, value, result.bound, result.first_value, Status.OPTIMAL if proven else Status.FEASIBLE, method
    )


def _calmer(
    compiled: Compiled,
    calm: Problem,
    known: tuple[CorePlan, CorePlan],
    limits: Limits,
    cost: float,
    steady: bool,
    news: Collection[Block],
) -> list[CorePlan]:
    """Return plans that leave more standing: the next days, all that is sound, and with `steady` what lies between.

    `known` are the mended plan and the free one.
    """
    calmest = calm_problem(compiled, known[0], len(compiled.problem.days))
    searches = 1 if side_by_side(limits) else 2
    calm_share = CALM_SHARE if steady else 1.0 / searches
    part = replace(limits, seconds=limits.seconds * calm_share)
    plans = at_once([(still, part, compiled.start) for still in (calm, calmest) if still is not None])
    if steady:
        rest = replace(limits, seconds=limits.seconds * (1.0 - searches * calm_share))
        plans += plans_between(compiled, (*plans, *known), rest, cost, cost * STEADY_FACTOR, news)
    return plans


def _chosen(
    compiled: Compiled,
    found: list[tuple[CorePlan, str]],
    cost: float,
    steady: bool,
    news: Collection[Block] = (),
) -> tuple[CorePlan, str, float]:
    """Return the cheapest plan, how it was made and its price.

    With `steady` moved blocks that the `news` does not touch are dear, and shifts break ties.
    """
    dear = cost * STEADY_FACTOR * CENTS if steady else 0.0
    priced = []
    for k, (core, _) in enumerate(found):
        price = all_in(compiled, core, cost)
        if price is not None:
            moves, shifts = moved_and_shifted(compiled, core, news) if steady else (0, 0)
            priced.append((price + dear * moves, shifts, k))
    best, _, place = min(priced)
    return found[place][0], found[place][1], best
