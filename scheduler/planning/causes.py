"""Why a block is different from what people know: the report, the silence or the ground behind it.

Question answered: *what is the true cause of each change?* A change has a cause of its own where a report is about its
work, its field, or a machine, person or product that it needs at that time; where it should have been done and nobody said
so; where its ground became less fit for the hours it had; or where reports taught another pace of its machine. Else it goes
along with the nearest change that has one and shares a machine, a person or the field (whether it follows from that, nobody
knows). Only then are news that may touch anything, a new forecast, a new day or a better plan named.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from scheduler.events.news import ALL, News
from scheduler.farm.farm import Farm
from scheduler.planning.pace_notes import compared
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.planning.wording import Names
from shared.vocabulary import Operation

SAME_HA = 0.1
LESS_FIT = 0.1
"""Odds of fit ground that fell or rose by less are no cause, unless they fell below what the farm plans with (common practice, no
source: they move a little with every hour)."""
OTHER_PACE = 0.03
"""Of a machine's time for the same work: less between two plans is no cause (assumption)."""

Pair = tuple[PlanBlock | None, PlanBlock | None]
"""A block as people know it, and as it is to be; None where it is new or fell away."""


@dataclass(frozen=True)
class Cause:
    """A cause.

    Attributes
    ----------
    event_id : str or None
        The report behind it; None where there is none.
    sentence : str
        Without its full stop.
    more : str
        What it did to this one block.
    silence : bool
        Nobody said anything of work that should be begun or done by now.
    shared : str
        The sentence for several blocks with this cause, where it names one of them.
    """

    event_id: str | None
    sentence: str
    more: str = ""
    silence: bool = False
    shared: str = ""


@dataclass(frozen=True)
class Told:
    """How the cause of a change is told: see `diff.Change`; `direct` where it is about this block itself."""

    event_id: str | None
    direct: bool
    because: str
    cause: str
    detail: str = ""
    silence: bool = False


def _told(cause: Cause, direct: bool) -> Told:
    more = f"; {cause.more}" if cause.more and direct else ""
    because = f"{'Because' if direct else 'Along with'}: {cause.sentence}{more}."
    shared, detail = cause.shared or cause.sentence, cause.more if direct else ""
    return Told(cause.event_id, direct, because, shared, detail, cause.silence and direct)


def causes(
    pairs: Sequence[Pair], news: Sequence[News], old: Plan, new: Plan, farm: Farm | None = None
) -> list[Told]:
    """Return the cause of each change, parallel to `pairs`; `news` oldest first."""
    teller = _Teller(tuple(reversed(news)), old, new, farm)
    own = [teller.own(a, b) for a, b in pairs]
    out = []
    for k, cause in enumerate(own):
        if cause is not None:
            out.append(_told(cause, direct=True))
            continue
        behind = _nearest(k, pairs, own) or teller.about_its_things(*pairs[k])
        out.append(teller.of_all(own) if behind is None else _told(behind, direct=False))
    return out


class _Teller:
    """What may be said of one plan after another."""

    def __init__(self, latest_first: Sequence[News], old: Plan, new: Plan, farm: Farm | None) -> None:
        self.news, self.old, self.new, self.farm = latest_first, old, new, farm
        self.names = Names(farm)
        self.known = new.before == old.id
        """Whether the odds of now are known for the hours that blocks had."""
        self.least = farm.plan.fit_chance_least if farm else 0.0

    def own(self, a: PlanBlock | None, b: PlanBlock | None) -> Cause | None:
        """Return the cause that is about this block itself."""
        work = self._work(a, b)
        if work is not None:
            return work
        if a is not None and a.start < self.new.made_at and not (b is not None and b.under_way):
            return replace(self._missing(a) or self._silence(a), silence=True)
        return (
            self._missing(a)
            or self._there(a, b)
            or self._field(a, b)
            or self._ground(a, b)
            or self._pace(a, b)
        )

    def about_its_things(self, a: PlanBlock | None, b: PlanBlock | None) -> Cause | None:
        """Return news about its machines, people or field that do not touch its own hours."""
        ids, field = _ids(a) | _ids(b), _one(a, b).field
        return self._first(
            lambda n: bool(n.things & ids) or field in n.ground or (field in n.fields and not n.rates)
        )

    def of_all(self, own: Sequence[Cause | None]) -> Told:
        """Return what is said where nothing is about this block, `own` being the causes of all changes."""
        wide = self._first(lambda n: n.everything)
        if wide is not None:
            return _told(wide, direct=True)
        moved = {cause.event_id for cause in own if cause is not None}
        rain = self._first(lambda n: ALL in n.ground and (n.id in moved or not self.known))
        if rain is not None:
            return _told(rain, direct=False)
        if self.old.forecast_issued_at != self.new.forecast_issued_at:
            return Told(None, False, "Because of the new forecast.", "the new forecast")
        if self.old.first_day != self.new.first_day:
            return Told(None, False, "Because a new day came into view.", "a new day came into view")
        return Told(None, False, "Because a better plan was found.", "a better plan was found")

    def _first(self, fits: Callable[[News], bool]) -> Cause | None:
        """Return the latest news that fits."""
        found = next((one for one in self.news if fits(one)), None)
        return None if found is None else Cause(found.id, found.sentence.strip().rstrip("."))

    def _work(self, a: PlanBlock | None, b: PlanBlock | None) -> Cause | None:
        """Return what was told of this very work; of hours to come it explains only what came, went, changed
        its size or is under way already."""
        block = _one(a, b)
        pinned = (b is not None and b.pinned) or (a is not None and a.pinned)
        same_later = (
            a is not None and b is not None and not pinned and not b.under_way
            and a.start >= self.new.made_at and abs(a.area_ha - b.area_ha) <= SAME_HA
        )  # fmt: skip
        if same_later:
            return None
        return self._first(lambda n: (block.field, block.pass_id) in n.work)

    def _silence(self, a: PlanBlock) -> Cause:
        """Return that nobody reported what should be begun or done by now, and the rain before its end if there was any."""
        what = "done" if a.end <= self.new.made_at else "begun"
        (work,) = self.names.works([(a.field, a.pass_id)])
        nobody, it = f"nobody has reported {work} {what}", f"nobody has reported it {what}"
        wet = self._first(
            lambda n: bool({a.field, ALL} & n.ground) and n.less_fit and n.at is not None and n.at <= a.end
        )
        if wet is None:
            return Cause(None, nobody, shared=it)
        return Cause(wet.event_id, wet.sentence, it)

    def _missing(self, a: PlanBlock | None) -> Cause | None:
        """Return that a machine or a person is missing in the hours it had."""
        if a is None:
            return None
        return self._first(
            lambda n: (
                n.span is not None
                and bool(n.things & _ids(a))
                and n.span[0] < a.end
                and (n.span[1] is None or n.span[1] > a.start)
            )
        )

    def _there(self, a: PlanBlock | None, b: PlanBlock | None) -> Cause | None:
        """Return that a machine or person is there now or reads otherwise, or a product came or will be late."""
        block = _one(a, b)
        spec = self.farm.spec(block.field, block.pass_id) if self.farm else None
        ids = _ids(a) | _ids(b) | {rate.product for rate in (spec.products if spec else ())}
        return self._first(lambda n: n.span is None and bool(n.things & ids))

    def _field(self, a: PlanBlock | None, b: PlanBlock | None) -> Cause | None:
        block = _one(a, b)
        rated = self.farm is None or block.pass_id in self.farm.tissue.passes or self._samples(block)
        return self._first(lambda n: block.field in n.fields and (rated or not n.rates))

    def _samples(self, block: PlanBlock) -> bool:
        spec = self.farm.spec(block.field, block.pass_id) if self.farm else None
        return spec is not None and Operation.TISSUE_SAMPLE in spec.operations

    def _ground(self, a: PlanBlock | None, b: PlanBlock | None) -> Cause | None:
        """Return what made the ground less fit in the hours it had, or fitter where it need not wait as long now.

        Where the odds of now are not known: what may have.
        """
        field = _one(a, b).field
        if not self.known:
            return self._first(lambda n: field in n.ground or ALL in n.ground)
        now = None if a is None else self.new.chance_before.get(a.id)
        if a is None or now is None:
            return None
        fell = a.chance - now >= LESS_FIT or now < self.least <= a.chance
        rose = now - a.chance >= LESS_FIT and (b is None or b.start <= a.start)
        if not (fell or rose):
            return None
        odds = f"the odds of fit ground then {'fell' if fell else 'rose'} from {a.chance:.0%} to {now:.0%}"
        if f"{a.chance:.0%}" == f"{now:.0%}":
            odds = f"the odds of fit ground then fell below the {self.least:.0%} that the farm plans with"
        rain = self._first(lambda n: bool({field, ALL} & n.ground) and (n.less_fit if fell else n.fitter))
        if rain is not None:
            return Cause(rain.event_id, rain.sentence, odds)
        new = self.old.forecast_issued_at != self.new.forecast_issued_at
        return Cause(None, "the new forecast" if new else "the weather since then", odds)

    def _pace(self, a: PlanBlock | None, b: PlanBlock | None) -> Cause | None:
        """Return that reports taught another pace of its machine, where the block itself takes longer or shorter for it."""
        if a is None or b is None or a.area_ha <= 0.0 or b.area_ha <= 0.0:
            return None
        grew = (b.end - b.start) / b.area_ha - (a.end - a.start) / a.area_ha
        for machine in b.machines:
            before, now = self.old.paces.get(machine, 1.0), self.new.paces.get(machine, 1.0)
            more = now / before - 1.0
            if machine in a.machines and abs(more) >= OTHER_PACE and grew * more > timedelta(0):
                label = self.farm.machine_label(machine) if self.farm else machine
                than = compared(now / before)
                return Cause(None, f"by its reports {label} takes {than} than the plan before counted on")
        return None


def _nearest(k: int, pairs: Sequence[Pair], own: Sequence[Cause | None]) -> Cause | None:
    """Return the cause of the change nearest in time that shares a machine, a person or the field with this one."""
    ids, field = _ids(*pairs[k]), _one(*pairs[k]).field
    mine = _moment(pairs[k])
    best: tuple[float, int] | None = None
    for j, (pair, cause) in enumerate(zip(pairs, own, strict=True)):
        if j == k or cause is None or not (ids & _ids(*pair) or field == _one(*pair).field):
            continue
        far = abs((_moment(pair) - mine).total_seconds())
        if best is None or (far, j) < best:
            best = (far, j)
    return None if best is None else own[best[1]]


def _ids(*blocks: PlanBlock | None) -> set[str]:
    """Return the machines and people of blocks."""
    out: set[str] = set()
    for block in blocks:
        if block is not None:
            out |= {*block.machines, block.operator, block.support or block.operator}
    return out


def _one(a: PlanBlock | None, b: PlanBlock | None) -> PlanBlock:
    block = b or a
    assert block is not None
    return block


def _moment(pair: Pair) -> datetime:
    return (pair[0] or _one(*pair)).start
