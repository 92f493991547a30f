"""Seeded synthetic farms as core problems: 12 to 600 fields, scarce enough that not everything fits.

Everything is invented. Fields lie in clusters about two to four yards, on soils that dry at their own pace;
showers are spotty; each field owes one to four passes (terminate, band, plant, spray or scout) with lags
between them. Rigs have own rates and yards, people have skills and hours, the bar needs a tender and driver,
and nitrogen comes by dated deliveries. Costs are cents; orders of magnitude are common practice, no source.

Two kinds: on *overloaded* ones nitrogen is short and the dispatch rule leaves a sixth to more than a half of the work undone; on
*tight* ones machines are twice as fast and all nitrogen comes, late: the rule leaves about a tenth of it at 60 fields.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scheduler.solver.problem import Curve, Lag, Mode, Need, Problem, Task, Window
from scheduler.solver.resources import Bucket, HoursLimit, Moves, Resource, Stock

DAY = 1440
WORK_RATES_HA_PER_H = {"spray": 13.0, "band": 5.6, "plant": 4.7}
LOSS_CENTS_PER_HA_DAY = {"terminate": 500, "band": 500, "plant": 1500, "spray": 700, "scout": 100}
DROP_CENTS_PER_HA = {"terminate": 9000, "band": 12000, "plant": 33000, "spray": 11000, "scout": 1800}
NITROGEN_UNITS_PER_TENTH_HA = 22
NITROGEN_SHARE = {"overloaded": 1.0, "tight": 1.3}
"""Of 0.82 of what the bands need; a fourth of it is there, the rest comes in three deliveries."""
RATE_SHARE = {"overloaded": 1.0, "tight": 2.0}


@dataclass(frozen=True)
class Fleet:
    """How many of each a farm of this size has."""

    yards: int
    sprayers: int
    bars: int
    planters: int
    tractors: int
    people: int


def fleet_for(fields: int) -> Fleet:
    """Return machines and people in proportion to the number of fields, always too few."""
    if fields <= 20:
        return Fleet(1 if fields < 10 else 2, 1, 1, 1, 2, 3)
    scale = fields / 60
    return Fleet(
        yards=2 if fields < 100 else (3 if fields < 400 else 4),
        sprayers=max(1, round(1.4 * scale)),
        bars=max(1, round(1.5 * scale)),
        planters=max(2, round(2.0 * scale)),
        tractors=max(3, round(3.2 * scale)),
        people=round(6 * scale) if fields < 100 else round(4.4 * scale),
    )


def make_farm(
    fields: int, seed: int, days: int | None = None, buckets: bool = False, kind: str = "overloaded"
) -> Problem:
    """Return a seeded farm.

    Parameters
    ----------
    fields, seed : int
    days : int, optional
        Exact horizon; 10 at up to 20 fields, 21 from 400 on, else 14.
    buckets : bool
        Whether two weekly buckets follow the exact horizon.
    kind : str
        "overloaded" or "tight".
    """
    return _Maker(fields, seed, days, buckets, kind).problem()


class _Maker:
    def __init__(self, fields: int, seed: int, days: int | None, buckets: bool, kind: str) -> None:
        self.kind = kind
        self.rng = np.random.default_rng([fields, seed])
        self.n = fields
        self.days = days or (10 if fields <= 20 else 21 if fields >= 400 else 14)
        self.fleet = fleet_for(fields)
        self.with_buckets = buckets
        self._lay_out_land()
        self._rain()
        self._resources()

    def _lay_out_land(self) -> None:
        rng, n, yards = self.rng, self.n, self.fleet.yards
        yard_xy = rng.uniform(-1, 1, (yards, 2)) * (4 + 0.9 * np.sqrt(n))
        clusters = max(2, n // 8)
        home = rng.integers(0, yards, clusters)
        centre = yard_xy[home] + rng.normal(0, 2.0 + 0.25 * np.sqrt(n), (clusters, 2))
        member = rng.integers(0, clusters, n)
        xy = centre[member] + rng.normal(0, 0.9, (n, 2))
        self.xy_km = np.vstack([yard_xy, xy])
        self.area_tenth_ha = np.clip(rng.lognormal(5.4, 0.5, n), 60, 600).astype(int)
        self.soil_dry_days = rng.choice([0.7, 1.2, 1.9, 2.7], n, p=[0.2, 0.35, 0.3, 0.15])

    def _rain(self) -> None:
        """Fill `ready_day[field, day]`: hour of the day from which the ground carries, 99 when not at all."""
        rng = self.rng
        self.from_hour = np.full((self.n, self.days), 7.0)
        wet_until = rng.uniform(-1.0, 1.5, self.n) * self.soil_dry_days
        for day in range(self.days):
            if rng.random() < 0.27:
                centre = self.xy_km[rng.integers(0, len(self.xy_km))]
                far = np.linalg.norm(self.xy_km[self.fleet.yards :] - centre, axis=1)
                mm = np.maximum(0.0, rng.gamma(2.0, 8.0) * np.exp(-far / 12.0) + rng.normal(0, 2, self.n))
                hour = rng.uniform(0, 24)
                dry = day + hour / 24 + self.soil_dry_days * np.clip(mm / 14.0, 0, 1.6)
                wet_until = np.where(mm > 2, np.maximum(wet_until, dry), wet_until)
            self.from_hour[:, day] = np.clip((wet_until - day) * 24, 7.0, 99.0)

    def windows(self, field: int, kind: str) -> tuple[Window, ...]:
        """Return the fit hours of one pass in one field."""
        first, last = {"spray": (8.5, 19.0), "scout": (7.0, 20.0)}.get(kind, (7.0, 21.0))
        out = []
        for day in range(self.days):
            ready = self.from_hour[field, day]
            ready = (ready - 8.0 if ready < 90 else ready) if kind == "scout" else ready
            start = max(first, ready)
            if start < last - 1.0:
                chance = float(np.clip(0.98 - 0.03 * day, 0.5, 1.0))
                begin = int(day * DAY + np.ceil(start * 4) * 15)
                out.append(Window(begin, int(day * DAY + last * 60), chance, round((1 - chance) * 60, 2)))
        return tuple(out)

    def _minutes(self, km_per_h: float) -> NDArray[np.int64]:
        far = np.linalg.norm(self.xy_km[:, None] - self.xy_km[None], axis=2)
        minutes = np.ceil(1.3 * far / km_per_h * 60 + 3).astype(np.int64)
        np.fill_diagonal(minutes, 0)
        return minutes

    def _resources(self) -> None:
        rng, fleet = self.rng, self.fleet
        self.resources: list[Resource] = []
        road = {speed: self._minutes(speed) for speed in (25.0, 32.0, 60.0)}
        families = fleet.sprayers + fleet.tractors * (fleet.bars + fleet.planters)
        change = np.full((families, families), 30, dtype=np.int64)
        np.fill_diagonal(change, 0)

        def add(name: str, count: int, speed: float, hitched: bool) -> list[int]:
            made = []
            for k in range(count):
                depot = int(rng.integers(0, fleet.yards))
                moves = Moves(road[speed], depot, change if hitched else None, True, cost_per_minute=60.0)
                opened = tuple((d * DAY + 360, d * DAY + 1320) for d in range(self.days))
                self.resources.append(Resource(f"{name} {k}", open=opened, moves=moves))
                made.append(len(self.resources) - 1)
            return made

        self.sprayers = add("sprayer", fleet.sprayers, 32.0, False)
        self.tractors = add("tractor", fleet.tractors, 32.0, True)
        self.bars = add("bar", fleet.bars, 25.0, False)
        self.tenders = add("tender", fleet.bars, 60.0, False)
        self.planters = add("planter", fleet.planters, 25.0, False)
        self.people: list[int] = []
        self.skills: list[set[str]] = []
        weeks = tuple(tuple(range(a, min(a + 7, self.days))) for a in range(0, self.days, 7))
        for k in range(fleet.people):
            off = int(rng.integers(0, 7))
            opened = tuple((d * DAY + 360, d * DAY + 1320) for d in range(self.days) if d % 7 != off)
            hours = HoursLimit(600, 840, 4200, 40.0, 62.0, weeks, tuple(0 for _ in weeks))
            depot = int(rng.integers(0, fleet.yards))
            moves = Moves(road[60.0], depot, None, True)
            self.resources.append(Resource(f"person {k}", open=opened, moves=moves, hours=hours))
            self.people.append(len(self.resources) - 1)
            wanted = (
                {"drive", "scout"} | ({"spray"} if k % 2 == 0 else set()) | ({"plant"} if k % 3 else {"band"})
            )
            self.skills.append(wanted | ({"band"} if rng.random() < 0.5 else set()))

    def _skilled(self, skill: str) -> tuple[int, ...]:
        return tuple(p for p, skills in zip(self.people, self.skills, strict=True) if skill in skills)

    def _near(self, field: int, machines: list[int], most: int) -> list[int]:
        site = self.fleet.yards + field
        far = []
        for machine in machines:
            moves = self.resources[machine].moves
            assert moves is not None and moves.depot is not None
            far.append(int(moves.minutes[moves.depot, site]))
        # Machines of one yard are equally near: each field begins to count them with another one, so that all have work.
        turn = [(k + field) % len(machines) for k in range(len(machines))]
        return [machines[i] for i in np.lexsort((turn, far))[:most]]

    def _minutes_of(self, work: str, ha: float) -> int:
        return int(np.ceil(ha / (WORK_RATES_HA_PER_H[work] * RATE_SHARE[self.kind]) * 60))

    def modes(self, field: int, kind: str) -> tuple[Mode, ...]:
        """Return the rigs that can do a pass in a field: the two nearest of each implement and tractor."""
        site = self.fleet.yards + field
        ha = self.area_tenth_ha[field] / 10
        windows = self.windows(field, "spray" if kind == "terminate" else kind)
        if kind == "scout":
            return (Mode(int(20 + ha), (Need(self._skilled("scout")),), windows, 0, site, -1),)
        if kind in ("spray", "terminate"):
            minutes = self._minutes_of("spray", ha)
            return tuple(
                Mode(
                    minutes,
                    (Need((s,)), Need(self._skilled("spray"))),
                    windows,
                    10,
                    site,
                    self.sprayers.index(s),
                )
                for s in self._near(field, self.sprayers, 3)
            )
        tools, offset = (self.bars, 0) if kind == "band" else (self.planters, len(self.bars))
        out = []
        for tool in self._near(field, tools, 2):
            for tractor in self._near(field, self.tractors, 2):
                rank = offset + tools.index(tool)
                family = len(self.sprayers) + self.tractors.index(tractor) * (
                    len(self.bars) + len(self.planters)
                )
                needs = [Need((tractor,)), Need((tool,))]
                if kind == "band":
                    needs.append(Need((self.tenders[tools.index(tool)],)))
                needs.append(Need(self._skilled(kind)))
                if kind == "band":
                    needs.append(Need(self._skilled("drive")))
                takes = (
                    {0: int(self.area_tenth_ha[field] * NITROGEN_UNITS_PER_TENTH_HA)}
                    if kind == "band"
                    else {}
                )
                minutes = self._minutes_of(kind, ha)
                out.append(Mode(minutes, tuple(needs), windows, 15, site, family + rank, 0, takes))
        return tuple(out)

    def _task(self, field: int, kind: str) -> Task:
        rng = self.rng
        ha = self.area_tenth_ha[field] / 10
        due = int(rng.uniform(-2, 5) * DAY)
        loss = LOSS_CENTS_PER_HA_DAY[kind] * ha * rng.uniform(0.7, 1.4) / DAY
        knee = due + 6 * DAY
        points = ((due, 0), (knee, int(loss * 6 * DAY)))
        drop = int(DROP_CENTS_PER_HA[kind] * ha * rng.uniform(0.7, 1.3))
        return Task(
            name=f"{kind} {field}",
            modes=self.modes(field, kind),
            size=int(self.area_tenth_ha[field]),
            end_curve=Curve(points, 0.0, loss * 1.5),
            optional=True,
            drop_cost=drop,
            min_chunk=max(20, int(self.area_tenth_ha[field]) // 6),
            later=self.with_buckets and kind != "scout",
        )

    def problem(self) -> Problem:
        """Put it all together."""
        rng = self.rng
        tasks: list[Task] = []
        lags: list[Lag] = []
        for field in range(self.n):
            corn = rng.random() < 0.55
            chain = ["terminate", "band", "plant", "spray"] if corn else ["terminate", "plant", "scout"]
            chain = chain[int(rng.integers(0, 2)) :]
            for k, kind in enumerate(chain):
                tasks.append(self._task(field, kind))
                if k:
                    least = {"band": 720, "plant": 120, "spray": 1440, "scout": 4320}[kind]
                    most = 12 * DAY if kind == "plant" else None
                    lags.append(Lag(len(tasks) - 2, len(tasks) - 1, least=least, most=most))
        need = sum(m.consumes[0] for t in tasks for m in t.modes[:1] if 0 in m.consumes)
        need *= NITROGEN_SHARE[self.kind]
        stock = Stock(
            "nitrogen",
            int(0.22 * need),
            tuple((int((2 + 3 * k) * DAY + 600), int(0.2 * need)) for k in range(3)),
        )
        return Problem(
            tasks=tuple(tasks),
            resources=tuple(self.resources),
            horizon=self.days * DAY,
            lags=tuple(lags),
            stocks=(stock,),
            days=tuple((d * DAY, (d + 1) * DAY) for d in range(self.days)),
            buckets=self._buckets(),
        )

    def _buckets(self) -> tuple[Bucket, ...]:
        if not self.with_buckets:
            return ()
        out = []
        for k in range(2):
            start = (self.days + 7 * k) * DAY
            out.append(Bucket(start, start + 7 * DAY, {r: (7 * 300) for r in range(len(self.resources))}))
        return tuple(out)
