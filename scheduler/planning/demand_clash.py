"""Why what is demanded cannot be done by then: the few rules that cannot hold together, in the farm's own words.

Question answered: *which of fit hours, dates, order, machines, people and stock stand against it, each of them needed for
the clash?* The engine finds the rules (`solver.clash`); here they get names, times and amounts.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta

from scheduler.events.situation import Situation
from scheduler.planning.compile import compile_problem
from scheduler.planning.compiled import Compiled
from scheduler.planning.demands import Demand, latest, must_problem
from scheduler.planning.left_out import left_out_rows
from scheduler.planning.quarters import MINUTES
from scheduler.planning.room import Room
from scheduler.planning.wording import Names, by_text, first_few, listed, when
from scheduler.solver.clash import explain
from scheduler.solver.clash_rules import OF_RESOURCES, Rule
from scheduler.solver.problem import Lag, Pin, Problem
from scheduler.solver.resources import FAR, Interval, Stock
from scheduler.solver.result import CorePlan
from scheduler.windows.records import Outlook
from shared.clock import Horizon

SHOWN = 4
"""Stretches of hours named in one sentence."""
NAMED, LINES = 8, 6
"""Names in one sentence, and sentences of fit hours: a clash of many fields is not read field by field."""
ORDER = ("must", "windows", "dates", "lag", "pin", "stock")
DAY = timedelta(days=1)


@dataclass(frozen=True)
class Against:
    """What stands against a demand.

    Attributes
    ----------
    lines : tuple of str
        Rules that cannot hold together; empty when none were found.
    proved : bool
        It is proved that no plan keeps them all; False: a search found none.
    smallest : bool
        Each one is needed: without any one of them it can be done.
    things : tuple of (kind of rule, machine, person or product)
        Of the lines about these.
    """

    lines: tuple[str, ...]
    proved: bool
    smallest: bool
    things: tuple[tuple[str, str], ...] = ()


def against(
    situation: Situation, outlook: Outlook, horizon: Horizon, demands: Sequence[Demand], seconds: float = 5.0
) -> Against:
    """Return why no plan does all that is demanded, worked out within `seconds`."""
    compiled = compile_problem(situation, outlook, horizon, situation.farm.plan)
    impossible = _left_aside(compiled, situation, outlook, demands)
    if impossible:
        return Against(impossible, proved=True, smallest=False)
    problem = must_problem(compiled, demands)
    clash = explain(problem, seconds)
    words = _Words(compiled, problem, situation, demands)
    stocks = [(rule.kind, problem.stocks[rule.index].name) for rule in clash.rules if rule.kind == "stock"]
    things = [(r.kind, problem.resources[r.index].name) for r in clash.rules if r.kind in OF_RESOURCES]
    return Against(words.lines(clash.rules), clash.proved, clash.smallest, (*things, *stocks))


def _left_aside(
    compiled: Compiled, situation: Situation, outlook: Outlook, demands: Sequence[Demand]
) -> tuple[str, ...]:
    """Return why nothing and nobody can do what is demanded, whenever it is."""
    asked = {demand.key for demand in demands}
    if not any(job.key in asked for job in compiled.left_aside):
        return ()
    rows = left_out_rows(Room(compiled, CorePlan(), situation, outlook), [])
    return tuple(row.text for row in rows if (row.field, row.pass_id) in asked)


class _Words:
    """Sentences of rules; hours are told up to the latest time that is demanded."""

    def __init__(
        self, compiled: Compiled, problem: Problem, situation: Situation, demands: Sequence[Demand]
    ) -> None:
        self.compiled, self.problem, self.grid = compiled, problem, compiled.grid
        self.names = Names(situation.farm)
        self.machines = len(situation.farm.machines)
        until = latest(self.grid, demands)
        self.until = {t: until[job.key] for t, job in enumerate(compiled.jobs) if job.key in until}
        self.last = max(until.values())

    def lines(self, rules: Sequence[Rule]) -> tuple[str, ...]:
        """Return the rules as sentences: what is demanded first, then the ground, then who and what does it."""
        by_kind = {kind: [rule.index for rule in rules if rule.kind == kind] for kind in ORDER}
        musts = self._musts(by_kind["must"])
        windows = self._windows(by_kind["windows"])
        dates = [self._dates(t) for t in by_kind["dates"]]
        lags = self._lags([self.problem.lags[i] for i in by_kind["lag"]])
        things = self._things(rules)
        stocks = [self._stock(self.problem.stocks[i]) for i in by_kind["stock"]]
        pins = [self._pin(self.problem.pins[i]) for i in by_kind["pin"]]
        told = [*musts, *windows, *dates, *lags, *pins, *things, *stocks]
        return tuple(dict.fromkeys(line for line in told if line))

    def _job(self, task: int) -> str:
        job = self.compiled.jobs[task]
        return f"{job.spec.label} in {job.field.label}"

    def _work(self, t: int) -> str:
        quarters = min(mode.minutes + mode.fixed_minutes for mode in self.problem.tasks[t].modes)
        return f"{quarters * MINUTES / 60:.1f} h"

    def _musts(self, tasks: Sequence[int]) -> list[str]:
        """Return one line for each pass and time, with all its fields."""
        fields: dict[tuple[str, int], list[str]] = defaultdict(list)
        for t in tasks:
            job = self.compiled.jobs[t]
            fields[(job.spec.label, self.until[t])].append(f"{job.field.label} ({self._work(t)})")
        return [
            f"{label} is to be done in {_few(names)} by {by_text(self.grid.moment(until))}."
            for (label, until), names in fields.items()
        ]

    def _dates(self, t: int) -> str:
        task, parts = self.problem.tasks[t], []
        if task.release > 0:
            parts.append(f"not begin before {when(self.grid.moment(task.release))}")
        if task.latest_start < FAR:
            parts.append(f"not begin after {when(self.grid.moment(task.latest_start))}")
        if t not in self.until and task.latest_end < FAR:
            parts.append(f"not end after {when(self.grid.moment(task.latest_end))}")
        return f"{self._job(t)} can {' and '.join(parts)}." if parts else ""

    def _windows(self, tasks: Sequence[int]) -> list[str]:
        """Return one line for each pass and its fit hours, with all fields that have the same."""
        fields: dict[tuple[str, str], list[str]] = defaultdict(list)
        for t in tasks:
            job, hours = self.compiled.jobs[t], self._fit_hours(t)
            fields[(job.spec.label, hours)].append(f"{job.field.label} ({self._work(t)})")
        rows = [f"{label} in {_few(names)}: {hours}." for (label, hours), names in fields.items()]
        more = len(rows) - LINES
        rest = [f"{more} more groups of fields have hours of their own."] if more > 0 else []
        return rows[:LINES] + rest

    def _fit_hours(self, t: int) -> str:
        until = self.until.get(t, self.last)
        every = [w for mode in self.problem.tasks[t].modes for w in mode.windows or ()]
        there = joined([(w.start, min(w.end, until)) for w in every if w.start < until])
        if there:
            return f"fit enough only {self._spans(there)}"
        first = min((w.start for w in every), default=None)
        wait = "within these days" if first is None else f"before {when(self.grid.moment(first))}"
        return f"no hour that is fit enough {wait}"

    def _spans(self, spans: Sequence[Interval]) -> str:
        return first_few((span_text(self.grid.moment(a), self.grid.moment(b)) for a, b in spans), SHOWN)

    def _things(self, rules: Sequence[Rule]) -> list[str]:
        """Return one line for all machines and people of which the same can be said."""
        said: dict[str, list[str]] = defaultdict(list)
        for rule in rules:
            if rule.kind in OF_RESOURCES:
                person = rule.index >= self.machines
                name = self.problem.resources[rule.index].name
                said[self._of_thing(rule, person)].append(
                    self.names.person(name) if person else self.names.machine(name)
                )
        return [f"{_few(names)}: {what}." for what, names in said.items()]

    def _of_thing(self, rule: Rule, person: bool) -> str:
        one = self.problem.resources[rule.index]
        if rule.kind == "capacity":
            return "in one place at a time"
        if rule.kind == "moves":
            return "time for roads and changes is needed"
        if rule.kind == "hours" and one.hours is not None:
            return f"at most {one.hours.most_per_day * MINUTES / 60:g} hours a day"
        there = [(a, min(b, self.last)) for a, b in one.open or () if a < self.last]
        word = "at work" if person else "there to be used"
        return f"{word} only {self._spans(there)}" if there else "not there before then"

    def _lags(self, lags: Sequence[Lag]) -> list[str]:
        """Return one line for each wait of one pass for another, with all its fields."""
        fields: dict[str, list[str]] = defaultdict(list)
        for lag in lags:
            one, two = self.compiled.jobs[lag.before], self.compiled.jobs[lag.after]
            least, most = lag.least or 0, lag.most
            wait = f"at least {_long(least)} " if least > 0 else ""
            end = "" if most is None else f", and no more than {_long(most)} after it"
            fields[f"{two.spec.label} comes {wait}after {one.spec.label}{end}"].append(two.field.label)
        return [f"{line}, in {_few(names)}." for line, names in fields.items()]

    def _pin(self, pin: Pin) -> str:
        return f"{self._job(pin.task)} stands: {self._spans([(pin.start, pin.end)])}."

    def _stock(self, stock: Stock) -> str:
        coming = [
            f"{self.names.amount(stock.name, amount)} more on {when(self.grid.moment(t))}"
            for t, amount in stock.deliveries
            if t < self.last
        ]
        have = ", ".join([self.names.amount(stock.name, stock.initial), *coming])
        return f"Of {self.names.product(stock.name)} there are {have}."


def _few(names: Sequence[str]) -> str:
    """Join names; of many only the first, with how many more there are."""
    more = len(names) - NAMED
    return listed(names) if more <= 1 else f"{', '.join(names[:NAMED])} and {more} more"


def span_text(start: datetime, end: datetime) -> str:
    """Write a stretch of time: ``Tue 11 May 13:00-19:00``, or with both days where it runs into the next."""
    if start.date() == end.date():
        return f"{when(start)}-{end:%H:%M}"
    if end.time() == time(0) and end.date() == start.date() + DAY:
        return f"{when(start)}-24:00"
    return f"{when(start)} to {when(end)}"


def _long(quarters: int) -> str:
    hours = quarters * MINUTES / 60
    if hours >= 48:
        return f"{hours / 24:g} days"
    return "1 hour" if hours == 1 else f"{hours:g} hours"


def joined(spans: Sequence[Interval]) -> list[Interval]:
    """Return spans in order, those that touch or overlap made one."""
    out: list[Interval] = []
    for a, b in sorted(spans):
        if out and a <= out[-1][1]:
            out[-1] = out[-1][0], max(out[-1][1], b)
        else:
            out.append((a, b))
    return out
