"""Who can be where: crews against matchings of a library, and farms whose best plan is seen by eye.

Matchings are held against `scipy.sparse.csgraph.maximum_bipartite_matching`; of the small farms the best plan is
worked out by hand in each test.
"""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_bipartite_matching

from scheduler.solver.bound_merge import merged_ways
from scheduler.solver.bound_model import RelaxedFarm
from scheduler.solver.bound_solve import solve_rows
from scheduler.solver.bound_staff import can_be_served, crews_of, must_take, staffed, unions_of
from scheduler.solver.evaluate import evaluate
from scheduler.solver.problem import Mode, Need, Pin, Problem, Task, Window
from scheduler.solver.resources import HoursLimit, Moves, Resource
from scheduler.solver.result import Limits
from scheduler.solver.rigday import search
from scheduler.solver.rigday_calendar import Calendar

PEOPLE = 6
NEEDS = st.lists(
    st.sets(st.integers(0, PEOPLE - 1), min_size=1).map(lambda s: tuple(sorted(s))), min_size=1, max_size=4
).map(tuple)
DAY = 1440


def served(needs: tuple[tuple[int, ...], ...]) -> int:
    """Return for how many needs the library finds a different person each."""
    table = np.zeros((len(needs), PEOPLE), int)
    for i, need in enumerate(needs):
        table[i, list(need)] = 1
    return int((maximum_bipartite_matching(csr_array(table), perm_type="column") >= 0).sum())


@given(NEEDS)
def test_who_can_be_served_against_a_matching(needs: tuple[tuple[int, ...], ...]) -> None:
    assert can_be_served(needs) == (served(needs) == len(needs))


@given(NEEDS, st.frozensets(st.integers(0, PEOPLE - 1)))
def test_what_a_crew_must_take_against_a_matching(
    needs: tuple[tuple[int, ...], ...], members: frozenset[int]
) -> None:
    outside = tuple(tuple(r for r in need if r not in members) for need in needs)
    assert must_take(needs, members) == len(needs) - served(outside)


@given(NEEDS, st.frozensets(st.integers(0, PEOPLE - 1)))
def test_crews_keep_just_the_options_that_can_be_taken(
    needs: tuple[tuple[int, ...], ...], opened: frozenset[int]
) -> None:
    here = tuple(tuple(r for r in need if r in opened) for need in needs)
    groups = sorted(group for crew in crews_of(needs, opened) for group in crew)
    if served(here) < len(needs):
        assert groups == sorted(needs)
        return
    wanted = [
        tuple(r for r in need if served((*here[:i], (r,), *here[i + 1 :])) == len(needs))
        for i, need in enumerate(here)
    ]
    assert groups == sorted(wanted)
    people = [{r for group in crew for r in group} for crew in crews_of(needs, opened)]
    assert sum(len(p) for p in people) == len(set().union(*people)), "crews that share somebody are one crew"


def test_the_only_one_for_a_job_is_no_option_for_the_other() -> None:
    """Worked out by hand: 0 alone may do the first job, so 1 does the second; with 2 there, 1 or 2."""
    assert crews_of(((0,), (0, 1, 2)), frozenset({0, 1})) == (((0,),), ((1,),))
    assert crews_of(((0,), (0, 1, 2)), frozenset({0, 1, 2})) == (((0,),), ((1, 2),))
    assert crews_of(((0, 1), (0, 1, 2)), frozenset({0, 1})) == (((0, 1), (0, 1)),)


def test_unions_are_of_groups_that_share_somebody() -> None:
    assert unions_of({(0, 1), (1, 2), (5,)}) == {(0, 1), (1, 2), (5,), (0, 1, 2)}


def person(name: str, away: int | None = None, days: int = 1, wage: float = 0.0) -> Resource:
    opened = tuple((d * DAY + 420, d * DAY + 900) for d in range(days) if d != away)
    return Resource(
        name, open=opened, hours=HoursLimit(480, 480, cost_per_minute=wage, overtime_per_minute=wage)
    )


def work(name: str, minutes: int, needs: tuple[Need, ...], drop: int, days: int = 1) -> Task:
    windows = tuple(Window(d * DAY + 420, d * DAY + 900) for d in range(days))
    return Task(
        name, (Mode(minutes, needs, windows),), size=minutes, optional=True, drop_cost=drop, min_chunk=1
    )


def farm_of(tasks: tuple[Task, ...], people: tuple[Resource, ...], days: int = 1) -> Problem:
    return Problem(tasks, people, days * DAY, days=tuple((d * DAY, (d + 1) * DAY) for d in range(days)))


def bound_of(problem: Problem, stretch: int = 60) -> float:
    merged, carriers = merged_ways(problem)
    calendar = staffed(merged, Calendar(merged))
    return solve_rows(RelaxedFarm(merged, calendar, stretch, carriers=carriers).rows, 30.0).bound


def best_value(problem: Problem) -> float:
    plan = search(problem, time.monotonic() + 60, Limits(0.3, 1, 0, True)).plan
    found = evaluate(problem, plan)
    assert not found.violations
    return found.value


ONE, BOTH, OTHER = Need((0,)), Need((0, 1)), Need((1,))


def test_a_pass_of_two_takes_both_of_two() -> None:
    """300 minutes with both and 300 minutes of the second alone: one day of 480 holds 480 of the 600, at 100 each."""
    tasks = (work("both", 300, (ONE, BOTH), 30_000), work("second", 300, (OTHER,), 30_000))
    problem = farm_of(tasks, (person("a"), person("b")))
    assert best_value(problem) == 12_000
    assert bound_of(problem) == pytest.approx(12_000, rel=1e-4)


def test_whoever_is_needed_without_choice_is_missed_elsewhere() -> None:
    """480 minutes of the first alone and 720 of either: two people have 960, so 240 are left, at 100 each."""
    tasks = (work("first", 480, (ONE,), 48_000), work("either", 720, (BOTH,), 72_000))
    problem = farm_of(tasks, (person("a"), person("b")))
    assert best_value(problem) == 24_000
    assert bound_of(problem) == pytest.approx(24_000, rel=1e-4)


def test_two_are_needed_and_one_is_at_home() -> None:
    """On the first of two days nothing that takes both can be done: of 700 minutes 220 are left."""
    problem = farm_of(
        (work("both", 700, (BOTH, BOTH), 70_000, 2),), (person("a", 0, 2), person("b", None, 2)), 2
    )
    assert best_value(problem) == 22_000
    assert bound_of(problem) == pytest.approx(22_000, rel=1e-4)
    windows = staffed(problem, Calendar(problem)).windows[0][0]
    assert [(d, a, b) for d, a, b in windows] == [(1, DAY + 420, DAY + 900)]


def test_three_passes_want_two_people_in_the_same_hour() -> None:
    """A day has time enough for both people, the one hour that is fit has not: one of three is left."""
    hour = (Window(480, 540),)
    tasks = tuple(
        replace(task, modes=(replace(task.modes[0], windows=hour),))
        for task in (work(name, 60, (BOTH,), 6_000) for name in ("a", "b", "c"))
    )
    problem = farm_of(tasks, (person("a"), person("b")))
    assert best_value(problem) == 6_000
    assert bound_of(problem) == pytest.approx(6_000, rel=1e-4)


def test_nobody_serves_a_pass_twice() -> None:
    """One of two works two hours at most: of 300 minutes that take both, 180 are left, long as the other's day is."""
    short = replace(person("b"), hours=HoursLimit(120, 120))
    problem = farm_of((work("both", 300, (BOTH, BOTH), 30_000),), (person("a"), short))
    assert best_value(problem) == 18_000
    assert bound_of(problem) == pytest.approx(18_000, rel=1e-4)


def test_whoever_has_no_choice_is_paid_too() -> None:
    problem = farm_of((work("first", 300, (ONE,), 900_000),), (person("a", wage=2.0), person("b", wage=2.0)))
    assert best_value(problem) == 600
    assert bound_of(problem) == pytest.approx(600, rel=1e-4)


def test_staffed_hours_leave_time_for_the_ways() -> None:
    """30 minutes out and 40 home: the field can be worked from half past seven to twenty past two."""
    roads = Moves(np.array([[0, 30], [40, 0]]), depot=0, home_daily=True)
    task = work("field", 300, (ONE,), 30_000)
    task = replace(task, modes=(replace(task.modes[0], site=1),))
    problem = farm_of((task,), (replace(person("a"), moves=roads),))
    assert staffed(problem, Calendar(problem)).windows[0][0] == [(0, 450, 860)]
    stands = replace(problem, pins=(Pin(0, 0, 420, 430, 10, (0,)),))
    assert staffed(stands, Calendar(stands)).windows[0][0] == [(0, 420, 900)]
    stops = replace(problem, tasks=(replace(task, resumable=True),))
    assert staffed(stops, Calendar(stops)).windows[0][0] == [(0, 420, 900)]


def test_each_person_has_an_own_way_to_the_field() -> None:
    """Of 480 minutes one is 20 on the road and the other 200: they work 460 and 280, and of 900 minutes 160 are left."""
    minutes = np.array([[0, 90, 10], [90, 0, 100], [10, 100, 0]])
    people = tuple(
        Resource(
            name, open=((0, DAY),), moves=Moves(minutes, depot, home_daily=True), hours=HoursLimit(480, 480)
        )
        for depot, name in enumerate(("near", "far"))
    )
    task = Task(
        "field", (Mode(900, (BOTH,), site=2, family=0),), 900, optional=True, drop_cost=90_000, min_chunk=10
    )
    problem = farm_of((task,), people)
    assert best_value(problem) == 16_000
    assert bound_of(problem) == pytest.approx(16_000, rel=1e-4)


def test_who_stays_near_may_know_fewer_places() -> None:
    near, all_of_it = np.array([[0, 10], [10, 0]]), np.array([[0, 10, 30], [10, 0, 20], [30, 20, 0]])
    people = tuple(
        replace(person(name), moves=Moves(roads, 0, home_daily=True))
        for name, roads in (("near", near), ("all", all_of_it))
    )
    tasks = tuple(
        replace(task, modes=(replace(task.modes[0], site=site, family=0),))
        for task, site in ((work("a", 400, (BOTH,), 40_000), 1), (work("b", 400, (OTHER,), 40_000), 2))
    )
    problem = farm_of(tasks, people)
    assert best_value(problem) == 0.0
    assert bound_of(problem) <= 1e-3
    assert staffed(problem, Calendar(problem)).windows[1][0] == [(0, 450, 870)]


def test_a_place_may_be_on_nobodys_table_of_roads() -> None:
    """One goes home every night and knows two places; the other has no roads and works at a third."""
    near = Moves(np.array([[0, 10], [10, 0]]), depot=0, home_daily=True)
    tasks = tuple(
        replace(task, modes=(replace(task.modes[0], site=site, family=0),))
        for task, site in ((work("a", 400, (ONE,), 40_000), 1), (work("b", 400, (OTHER,), 40_000), 2))
    )
    problem = farm_of(tasks, (replace(person("near"), moves=near), person("there")))
    assert bound_of(problem) <= 1e-3


def test_the_way_home_may_lie_in_a_rest_that_follows_the_last_work() -> None:
    """The only window ends where the machine's rest begins: 10 minutes out, 90 of work, 10 home while it is closed."""
    moves = Moves(np.array([[0, 10], [10, 0]]), depot=0, home_daily=True)
    opened = ((0, 100), (120, 220))
    machines = tuple(Resource(name, open=opened, moves=moves) for name in ("one", "other"))
    mode = Mode(90, (ONE, OTHER), (Window(0, 100),), site=1, family=0)
    task = Task("field", (mode,), size=90, optional=True, drop_cost=1000, min_chunk=10)
    problem = Problem((task,), machines, 220, days=((0, 220),))
    assert best_value(problem) == 0.0
    assert bound_of(problem, 220) <= 1e-3


def test_a_stretch_holds_no_more_than_its_fit_minutes() -> None:
    """Twenty fit minutes in a stretch of four hours: two people do two of three passes that take twenty each."""
    tasks = tuple(
        replace(task, modes=(replace(task.modes[0], windows=(Window(480, 500),)),))
        for task in (work(name, 20, (BOTH,), 2_000) for name in ("a", "b", "c"))
    )
    problem = farm_of(tasks, (person("a"), person("b")))
    assert best_value(problem) == 2_000
    assert bound_of(problem, 240) == pytest.approx(2_000, rel=1e-4)
    alone = farm_of(
        tuple(replace(t, modes=(replace(t.modes[0], needs=(ONE,)),)) for t in tasks), (person("a"),)
    )
    assert best_value(alone) == 4_000
    assert bound_of(alone, 240) == pytest.approx(4_000, rel=1e-4)


def test_a_day_lasts_from_the_first_fit_minute_to_the_last() -> None:
    """Ten minutes of work and ten to open the field, in twenty fit minutes: each of two people does one field, not more.

    With ten minutes out and home they are away forty minutes, of which the ways are half.
    """
    tasks = tuple(
        replace(
            task,
            modes=(replace(task.modes[0], windows=(Window(480, 500),), fixed_minutes=10, site=1, family=0),),
        )
        for task in (work(name, 10, (BOTH,), 1_000) for name in ("a", "b", "c"))
    )
    for roads in (None, Moves(np.array([[0, 10], [10, 0]]), depot=0, home_daily=True)):
        problem = farm_of(tasks, tuple(replace(person(name), moves=roads) for name in ("a", "b")))
        assert best_value(problem) == 1_000
        assert bound_of(problem, 240) == pytest.approx(1_000, rel=1e-4)
