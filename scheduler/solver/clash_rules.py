"""Named rules of a problem: which there are, the problem without some of them, and each as a sentence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from scheduler.solver.problem import Before, Lag, Problem, Task
from scheduler.solver.resources import FAR, Resource

AMPLE = 10**9
OF_RESOURCES = ("capacity", "open", "moves", "hours")


@dataclass(frozen=True, order=True)
class Rule:
    """One rule: its kind and which task, resource, lag, pin, stock or choice it is about."""

    kind: str
    index: int


def rules_of(problem: Problem) -> list[Rule]:
    """Return every rule that could be dropped, those of tasks first."""
    rules = []
    for t, task in enumerate(problem.tasks):
        if not task.optional:
            rules.append(Rule("must", t))
        if task.release > 0 or min(task.latest_start, task.latest_end) < FAR:
            rules.append(Rule("dates", t))
        if any(mode.windows is not None for mode in task.modes):
            rules.append(Rule("windows", t))
    rules += [Rule("pin", i) for i in range(len(problem.pins))]
    rules += [Rule("lag", i) for i in range(len(problem.lags))]
    rules += [Rule("choice", i) for i in range(len(problem.choices))]
    rules += [Rule("stock", i) for i in range(len(problem.stocks))]
    for r, res in enumerate(problem.resources):
        rules.append(Rule("capacity", r))
        for kind, there in (("open", res.open), ("moves", res.moves), ("hours", res.hours)):
            if there is not None:
                rules.append(Rule(kind, r))
    return rules


def relaxed(problem: Problem, rules: Sequence[Rule]) -> Problem:
    """Return the problem with only these rules, and without costs."""
    kept = set(rules)

    def keep(kind: str, index: int) -> bool:
        return Rule(kind, index) in kept

    return replace(
        problem,
        tasks=tuple(_task(t, task, kept) for t, task in enumerate(problem.tasks)),
        resources=tuple(_resource(r, res, kept) for r, res in enumerate(problem.resources)),
        lags=tuple(lag for i, lag in enumerate(problem.lags) if keep("lag", i)),
        choices=tuple(choice for i, choice in enumerate(problem.choices) if keep("choice", i)),
        pins=tuple(pin for i, pin in enumerate(problem.pins) if keep("pin", i)),
        stocks=tuple(
            stock if keep("stock", i) else replace(stock, initial=AMPLE)
            for i, stock in enumerate(problem.stocks)
        ),
        before=Before(),
        makespan_weight=0,
    )


def _task(t: int, task: Task, kept: set[Rule]) -> Task:
    modes = tuple(
        replace(mode, cost=0, windows=mode.windows if Rule("windows", t) in kept else None)
        for mode in task.modes
    )
    task = replace(task, modes=modes, start_curve=None, end_curve=None, drop_cost=0)
    if Rule("must", t) not in kept:
        task = replace(task, optional=True)
    if Rule("dates", t) not in kept:
        task = replace(task, release=0, latest_start=FAR, latest_end=FAR)
    return task


def _resource(r: int, res: Resource, kept: set[Rule]) -> Resource:
    if Rule("open", r) not in kept:
        res = replace(res, open=None)
    if Rule("moves", r) not in kept:
        res = replace(res, moves=None)
    if Rule("hours", r) not in kept:
        res = replace(res, hours=None)
    if Rule("capacity", r) not in kept:
        res = replace(res, cumulative=True, capacity=AMPLE, moves=None, hours=None)
    return res


def sentence(problem: Problem, rule: Rule) -> str:
    """Return a rule in words."""
    i = rule.index
    if rule.kind in ("must", "dates", "windows"):
        return _of_task(problem.tasks[i], rule.kind)
    if rule.kind in OF_RESOURCES:
        return _of_resource(problem.resources[i], rule.kind)
    if rule.kind == "lag":
        return _of_lag(problem, problem.lags[i])
    if rule.kind == "pin":
        pin = problem.pins[i]
        on = ", ".join(problem.resources[r].name for r in pin.resources)
        return f"{problem.tasks[pin.task].name} is pinned from {pin.start} to {pin.end}" + (
            f" on {on}" if on else ""
        )
    if rule.kind == "stock":
        stock = problem.stocks[i]
        more = "".join(f", and {amount} more at {at}" for at, amount in stock.deliveries)
        return f"of {stock.name} there are {stock.initial}{more}"
    choice = problem.choices[i]
    names = ", ".join(problem.tasks[t].name for t in choice.one_of)
    given = "" if choice.given is None else f" once {problem.tasks[choice.given].name} is done"
    return f"at least one of {names} has to be done{given}"


def _of_task(task: Task, kind: str) -> str:
    if kind == "must":
        return f"{task.name} must be done"
    if kind == "windows":
        return f"{task.name} may run only in its windows"
    parts = []
    if task.release > 0:
        parts.append(f"not start before {task.release}")
    if task.latest_start < FAR:
        parts.append(f"not start after {task.latest_start}")
    if task.latest_end < FAR:
        parts.append(f"not end after {task.latest_end}")
    return f"{task.name} may " + " and ".join(parts)


def _of_resource(res: Resource, kind: str) -> str:
    if kind == "capacity" and res.cumulative:
        return f"{res.name} has room for {res.capacity} at a time"
    if kind == "capacity" and res.capacity < 1:
        return f"{res.name} is not there"
    if kind == "hours" and res.hours is not None:
        return f"{res.name} works at most {res.hours.most_per_day} minutes a day"
    words = {
        "capacity": "does one thing at a time",
        "open": "works only in its hours",
        "moves": "needs its way from place to place",
    }
    return f"{res.name} {words[kind]}"


def _of_lag(problem: Problem, lag: Lag) -> str:
    side = {"e": "the end", "s": "the start"}
    one, two = problem.tasks[lag.before].name, problem.tasks[lag.after].name
    parts = []
    if lag.least is not None:
        parts.append(f"at least {lag.least} after" if lag.least >= 0 else f"at most {-lag.least} before")
    if lag.most is not None:
        parts.append(f"at most {lag.most} after" if lag.most >= 0 else f"at least {-lag.most} before")
    much = " and ".join(parts)
    return f"{side[lag.kind.value[1]]} of {two} comes {much} {side[lag.kind.value[0]]} of {one}"
