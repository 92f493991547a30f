"""The fourth part of the relaxation: people, and machines of which one of several is taken.

Question answered: *who can be where how long, when nobody can be in two places, nor serve one block twice?* A mode asks
for groups of which one each is taken, all different. Rows count by the hour what any crew must take of a set of people,
and by the day the minutes of each, with roads, wages and the hours of the week.
"""

from __future__ import annotations

from collections import defaultdict
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from scheduler.solver.bound_pieces import Key
from scheduler.solver.bound_rows import INF, count_sites, merged
from scheduler.solver.bound_staff import Crew, crews_of, must_take, unions_of
from scheduler.solver.bound_waits import Waits
from scheduler.solver.problem import Mode
from scheduler.solver.resources import FAR

Terms = list[tuple[int, float]]
Demand = dict[tuple[Crew, int], list[Key]]
"""Per crew and day, the work that asks for it."""
Worked = dict[tuple[int, int], Terms]
"""Per resource and day, the terms of its minutes."""
MOST_ZONES, FINEST_ZONE = 12, 1 / 16
"""Zones for the ways of people, and how far apart their fields may be at first, as a share of the longest way."""
NOWHERE = -1


class People(Waits):
    """Adds people to pieces, machines and waits."""

    def _people(self) -> None:
        """Minutes of each crew, shared out to the people by day, and by stretch."""
        self._roads_into: dict[tuple[tuple[int, ...], int, int], float] = {}
        self._places: dict[int, list[tuple[int, float]]] = defaultdict(list)
        for (who, site, _), way in self.nearest.items():
            self._places[who].append((site, way))
        demand: Demand = defaultdict(list)
        slots: dict[tuple[int, int], dict[Crew, Terms]] = defaultdict(lambda: defaultdict(list))
        pooled = self._pooled()
        asked = [
            [tuple(n.any_of for n in mode.needs if pooled.issuperset(n.any_of)) for mode in task.modes]
            for task in self.problem.tasks
        ]
        for t, m, d in self.units:
            opened = frozenset(r for r in pooled if self.calendar.open[r][d])
            for crew in crews_of(asked[t][m], opened):
                demand[crew, d].append((t, m, d))
        self._rooms: dict[tuple[int, int], float] = {}
        self._could: dict[tuple[int, int], list[Key]] = defaultdict(list)
        for (crew, d), keys in demand.items():
            for r in {r for group in crew for r in group}:
                self._could[r, d] += keys
        there: dict[tuple[int, int], frozenset[int]] = {}
        for piece in self.pieces:
            task = self.problem.tasks[piece.task]
            minutes = task.modes[piece.mode].minutes / task.size
            d, block = piece.day, (piece.start - self.calendar.days[piece.day][0]) // self.stretch
            if (d, block) not in there:
                there[d, block] = frozenset(r for r in pooled if self._open(r, d, *self._slot(d, block)) > 0)
            for crew in crews_of(asked[piece.task][piece.mode], there[d, block]):
                slots[d, block][crew].append((piece.column, minutes))
        self._pools(slots)
        if not self.rough:
            self._wages(self._shared_out(demand), self._shared_out(demand, from_farthest=True))

    def _slot(self, d: int, block: int) -> tuple[int, int]:
        start = self.calendar.days[d][0] + block * self.stretch
        return start, start + self.stretch

    def _pooled(self) -> set[int]:
        """Return whoever is chosen somewhere, or paid by the hour: one whom a pass takes without choice is missed elsewhere."""
        resources = self.problem.resources
        needs = {n.any_of for task in self.problem.tasks for m in task.modes for n in m.needs}
        pooled = {r for group in needs if len(group) > 1 for r in group}
        pooled |= {r for r, resource in enumerate(resources) if resource.hours is not None}
        return {r for r in pooled if not resources[r].cumulative}

    def _pools(self, slots: dict[tuple[int, int], dict[Crew, Terms]]) -> None:
        """In each stretch, a set of people gives no more minutes than it has to what must take some of them."""
        for (d, _), crews in slots.items():
            for union in unions_of({group for crew in crews for group in crew}):
                members = frozenset(union)
                terms = [
                    (column, weight * taken)
                    for crew, more in crews.items()
                    if (taken := must_take(crew, members))
                    for column, weight in more
                ]
                if not terms:
                    continue
                between = self._between(column for column, _ in terms)
                self.rows.row(merged(terms), high=sum(self._open(r, d, *between) for r in members))

    def _shared_out(self, demand: Demand, from_farthest: bool = False) -> Worked:
        """Share the minutes of each crew on a day out to its people; return what each takes on.

        With the nearest road into each field; or seen `from_farthest`: who works at a place is on the road there and home.
        A day's road is at least the mean of these ways, weighted by the minutes in each field: fields that lie alike are
        shared out together, and each minute of a person counts as much longer as that person's way to them is.
        """
        worked: Worked = defaultdict(list)
        least = self._least_ways(demand) if from_farthest else {}
        for (crew, d), all_keys in demand.items():
            for keys in self._by_zone(all_keys) if from_farthest else [all_keys]:
                for r, columns in self._crew_day(crew, d, keys, not from_farthest).items():
                    longer = 1.0
                    if from_farthest and (most := self._most_of(r, d) - least[r, d]) > 0.0:
                        longer += float(self._way_to(r, self._sites(keys)).min()) / most
                    worked[r, d] += [(column, longer) for column in columns]
        return worked

    def _crew_day(self, crew: Crew, d: int, keys: list[Key], roads: bool) -> dict[int, list[int]]:
        """Share some work of a day out to the people of its crew; return the columns of each."""
        taken: dict[int, list[int]] = defaultdict(list)
        longest = 0.0
        for group in crew:
            terms: Terms = []
            for key in keys:
                road = self._nearest_into(group, self.problem.tasks[key[0]].modes[key[1]]) if roads else 0.0
                longest = max(longest, road)
                terms += self.minutes_of(key, road)
            parts = []
            for r in group:
                column = self.rows.column(0.0, self._room_of(r, d) + self._road_slack(r))
                parts.append((column, -1.0))
                taken[r].append(column)
            self.rows.row([*terms, *parts], high=0.0)
        for columns in taken.values():
            if len(columns) > 1:
                # Nobody serves a block twice: of all places in a crew, no more than its minutes.
                minutes = [(c, -w) for key in keys for c, w in self.minutes_of(key, longest)]
                self.rows.row([*((c, 1.0) for c in columns), *minutes], high=0.0)
        return taken

    def _least_ways(self, demand: Demand) -> dict[tuple[int, int], float]:
        """Return, per person and day, the shortest way there and home of all that could be done."""
        least: dict[tuple[int, int], float] = {}
        for (crew, d), keys in demand.items():
            sites = self._sites(keys)
            for r in {r for group in crew for r in group}:
                least[r, d] = min(least.get((r, d), INF), float(self._way_to(r, sites).min()))
        return least

    def _sites(self, keys: list[Key]) -> NDArray[np.int64]:
        return np.array([self.problem.tasks[t].modes[m].site for t, m, _ in keys], np.int64)

    def _by_zone(self, keys: list[Key]) -> list[list[Key]]:
        zones: dict[int, list[Key]] = defaultdict(list)
        for key, site in zip(keys, self._sites(keys).tolist(), strict=True):
            zones[self._zones[site] if site >= 0 else NOWHERE].append(key)
        return list(zones.values())

    @cached_property
    def _zones(self) -> NDArray[np.int64]:
        """Per site, which of few zones it lies in: those of a zone are about as far from everybody's yard."""
        sites = count_sites(self.problem)
        own = [self.ways[r] for r in sorted(self._pooled()) if r in self.ways]
        if not own:
            return np.zeros(sites, np.int64)
        ways = np.unique([np.pad(way, (0, sites - len(way))) for way in own], axis=0)
        width = FINEST_ZONE * max(1.0, float(ways.max()))
        while True:
            zones = np.unique((ways // width).astype(np.int64), axis=1, return_inverse=True)[1].reshape(-1)
            if len(set(zones.tolist())) <= MOST_ZONES:
                return zones
            width *= 1.3

    def _way_to(self, r: int, sites: NDArray[np.int64]) -> NDArray[np.float64]:
        if r not in self.ways:
            return np.zeros(len(sites))
        return np.where(sites < 0, 0.0, self.ways[r][sites])

    def _nearest_into(self, group: tuple[int, ...], mode: Mode) -> float:
        """Return the shortest road of anybody of a group into a field."""
        known = self._roads_into.get((group, mode.site, mode.family))
        if known is None:
            known = min(self._road(r, mode) for r in group)
            self._roads_into[group, mode.site, mode.family] = known
        return known

    def _room_of(self, r: int, d: int) -> float:
        """Return the minutes of a day from the first leaving to the last coming home that any work could need."""
        if (r, d) not in self._rooms:
            moves = self.problem.resources[r].moves
            home = moves is not None and moves.home_daily and moves.depot is not None
            self._rooms[r, d] = self._room(r, d, self._could[r, d], home)
        return self._rooms[r, d]

    def _most_of(self, r: int, d: int) -> float:
        """Return the most minutes that a day of a resource can have, roads counted."""
        hours = self.problem.resources[r].hours
        return self._room_of(r, d) if hours is None else min(self._room_of(r, d), float(hours.most_per_day))

    def _wages(
        self,
        worked: dict[tuple[int, int], list[tuple[int, float]]],
        away: dict[tuple[int, int], list[tuple[int, float]]],
    ) -> None:
        weeks: dict[tuple[int, int], list[tuple[int, float]]] = defaultdict(list)
        for (r, d), terms in worked.items():
            hours = self.problem.resources[r].hours
            room = self._room_of(r, d)
            slack = self._road_slack(r)
            terms = [*terms, *self._ways(r, d, terms, room)]
            if hours is None:
                self.rows.row(terms, high=room + slack)
                self.rows.row(away[r, d], high=room + slack)
                continue
            normal = self.rows.column(hours.cost_per_minute, min(hours.normal_per_day, room + slack))
            most = max(0.0, min(room, hours.most_per_day) - hours.normal_per_day)
            over = self.rows.column(hours.overtime_per_minute, most + slack)
            self.rows.row([*terms, (normal, -1.0), (over, -1.0)], high=0.0)
            self.rows.row([*away[r, d], (normal, -1.0), (over, -1.0)], high=0.0)
            week = self.calendar.week_of[r].get(d)
            if week is not None and hours.most_per_week < FAR:
                weeks[r, week] += [(normal, 1.0), (over, 1.0)]
        for (r, week), terms in weeks.items():
            hours = self.problem.resources[r].hours
            assert hours is not None
            used = hours.used_before[week] if week < len(hours.used_before) else 0
            self.rows.row(terms, high=hours.most_per_week - used + 7 * self._road_slack(r))

    def _ways(self, r: int, d: int, terms: list[tuple[int, float]], room: float) -> list[tuple[int, float]]:
        """A person at work on a day goes out and comes home at least the shortest way."""
        moves = self.problem.resources[r].moves
        places = self._places[r]
        if moves is None or not moves.home_daily or moves.depot is None or not places:
            return []
        out = min(int(moves.minutes[moves.depot, site]) for site, _ in places)
        back = min(int(moves.minutes[site, moves.depot]) for site, _ in places)
        most_road = max(road for _, road in places)
        # Where the day is also counted as that of a machine without choice, its way home is paid there.
        paid = (r, d) in self.machine_days
        there = self.rows.column(0.0 if paid else moves.cost_per_minute * back, 1.0)
        self.rows.row([*terms, (there, -room)], high=0.0)
        return [(there, back + max(0.0, out - most_road))]

    def _road_slack(self, r: int) -> float:
        """Without a way home each day the first road of a day may be free: allow for it."""
        moves = self.problem.resources[r].moves
        if moves is None or moves.home_daily:
            return 0.0
        return max((road for _, road in self._places[r]), default=0.0)
