"""What a way leads to, in figures that can be laid side by side: area by day, money by part, windows missed, hours, odds."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta

from scheduler.events.situation import Situation
from scheduler.planning.plan import Plan, Spread
from scheduler.whatif.study import StudyRecord
from scheduler.windows.records import FieldPass, Outlook

SMALL_HA = 0.05


class PassOutcome(StudyRecord):
    """One pass over all fields.

    Attributes
    ----------
    left_ha : float
        To do at the start [ha].
    done_ha : tuple of float
        Planned to be done by the end of each day of the plan, summed up [ha].
    finished_on : date or None
        Day on which all of it is planned to be done; None: not within the days of the plan.
    chance : float or None
        Odds over the members that all of it is done inside its windows within the days of the plan.
    """

    pass_id: str
    label: str
    left_ha: float
    done_ha: tuple[float, ...]
    finished_on: date | None
    chance: float | None = None


class Missed(StudyRecord):
    """Work that the plan leaves out for good, with what it costs."""

    field: str
    pass_id: str
    area_ha: float
    text: str
    loss: float


class PersonOutcome(StudyRecord):
    """One person: planned hours in all, above the normal day, and what is done in the first days."""

    operator: str
    label: str
    hours: float
    overtime_hours: float
    first_days: tuple[str, ...] = ()


class Outcome(StudyRecord):
    """What a way leads to.

    Attributes
    ----------
    money : mapping of part to money
        The plan's parts, `hire` (owed whatever is done) and `dropped` (loss of what was wished away).
    total : float
        Their sum.
    bound : float
        No plan of this way costs less.
    total_apart, expected_apart : float
        How far the plans of two searches for this way lie apart.
    """

    name: str
    changes: tuple[str, ...]
    total: float
    bound: float
    money: dict[str, float]
    passes: tuple[PassOutcome, ...]
    missed: tuple[Missed, ...]
    people: tuple[PersonOutcome, ...]
    days: tuple[date, ...]
    odds: Spread | None = None
    method: str = ""
    refused: str = ""
    total_apart: float = 0.0
    expected_apart: float = 0.0

    @property
    def expected(self) -> float:
        """What ways are ranked by: the expected loss over the members where known, else the plan's value."""
        return self.total if self.odds is None else self.odds.expected


def outcome_of(
    name: str, changes: tuple[str, ...], plan: Plan, situation: Situation, extra: Mapping[str, float]
) -> Outcome:
    """Return the figures of a way from its plan.

    Parameters
    ----------
    extra : mapping
        Money beside the plan: ``hire``, ``dropped``.
    """
    money = {**plan.value.parts, **{key: round(value, 2) for key, value in extra.items() if value}}
    aside = sum(extra.values())
    days = tuple(plan.first_day + timedelta(days=k) for k in range(plan.days))
    odds = None
    if plan.spread is not None:
        shift = {name: round(getattr(plan.spread, name) + aside, 2) for name in ("expected", "p10", "p90")}
        odds = plan.spread.model_copy(update=shift)
    return Outcome(
        name=name, changes=changes, total=round(plan.value.total + aside, 2), bound=round(plan.value.bound + aside, 2),
        money=money, passes=_passes(plan, situation, days, plan.finish_chance), missed=_missed(plan), people=_people(plan, situation),
        days=days, method=plan.method, odds=odds,
    )  # fmt: skip


def refused_outcome(name: str, changes: tuple[str, ...], why: str) -> Outcome:
    """Return a way that cannot be: it stands in the table with the reason."""
    return Outcome(
        name=name, changes=changes, total=0.0, bound=0.0, money={}, passes=(), missed=(), people=(), days=(), refused=why
    )  # fmt: skip


def best_of(searches: Sequence[Outcome]) -> Outcome:
    """Return the best of several searches for one way, with how far they lie apart."""
    sound = [one for one in searches if not one.refused]
    if not sound:
        return searches[0]
    totals, expected = [one.total for one in sound], [one.expected for one in sound]
    apart = {
        "total_apart": round(max(totals) - min(totals), 2),
        "expected_apart": round(max(expected) - min(expected), 2),
    }
    return min(sound, key=lambda one: one.total).model_copy(update=apart)


def sure_from(aparts: Iterable[float]) -> float:
    """Return the difference of two ways that is more than chance [money], from how far two searches for one lie apart.

    Twice their mean. Were the searches' ends normal with spread s, two lie 1.13 s apart on average, and the better ones of
    two pairs differ by more than 2.3 s in one case of twenty.
    """
    known = list(aparts)
    return round(2.0 * sum(known) / len(known), 2) if known else 0.0


def _passes(
    plan: Plan, situation: Situation, days: tuple[date, ...], chances: Mapping[str, float]
) -> tuple[PassOutcome, ...]:
    done: dict[str, dict[date, float]] = defaultdict(lambda: defaultdict(float))
    for block in plan.blocks:
        done[block.pass_id][block.end.date()] += block.area_ha
    out = []
    for pass_id, (label, left) in _left(situation).items():
        sums, total = [], 0.0
        for day in days:
            total += done[pass_id][day]
            sums.append(round(total, 2))
        ready = next((day for day, area in zip(days, sums, strict=True) if area >= left - SMALL_HA), None)
        out.append(
            PassOutcome(
                pass_id=pass_id, label=label, left_ha=round(left, 2), done_ha=tuple(sums), finished_on=ready,
                chance=chances.get(pass_id),
            )
        )  # fmt: skip
    return tuple(out)


def _left(situation: Situation) -> dict[str, tuple[str, float]]:
    """Return label and area left [ha] of every pass that is not all done, in programme order."""
    labels: dict[str, str] = {}
    areas: dict[str, float] = defaultdict(float)
    for field in situation.farm.fields:
        for spec in situation.farm.programme_of(field).passes:
            left = situation.left_ha(field.id, spec.id)
            if left >= SMALL_HA:
                labels.setdefault(spec.id, situation.farm.pass_label(spec.id))
                areas[spec.id] += left
    return {name: (label, areas[name]) for name, label in labels.items()}


def _missed(plan: Plan) -> tuple[Missed, ...]:
    rows = [
        Missed(field=item.field, pass_id=item.pass_id, area_ha=item.area_ha, text=item.text, loss=item.loss)
        for item in plan.left_out
        if item.loss > 0
    ]
    return tuple(sorted(rows, key=lambda row: -row.loss))


def _people(plan: Plan, situation: Situation) -> tuple[PersonOutcome, ...]:
    out = []
    for person in situation.farm.operators:
        blocks = plan.of_operator(person.id)
        by_day: dict[date, float] = defaultdict(float)
        for block in blocks:
            by_day[block.start.date()] += (block.end - block.start) / timedelta(hours=1)
        over = sum(max(0.0, hours - person.normal_hours_per_day) for hours in by_day.values())
        near = [block for block in blocks if block.start.date() < plan.first_day + timedelta(days=2)]
        first = tuple(
            f"{block.start:%a %H:%M}-{block.end:%H:%M} {_label(situation, block.field, block.pass_id)}" for block in near
        )  # fmt: skip
        out.append(
            PersonOutcome(
                operator=person.id, label=person.label, hours=round(sum(by_day.values()), 2),
                overtime_hours=round(over, 2), first_days=first,
            )
        )  # fmt: skip
    return tuple(out)


def _label(situation: Situation, field_id: str, pass_id: str) -> str:
    spec = situation.farm.spec(field_id, pass_id)
    return f"{spec.label if spec else pass_id}, {situation.farm.field_by_id[field_id].label}"


def dropped_loss(keys: tuple[FieldPass, ...], present: Outlook, situation: Situation) -> float:
    """Return what it costs never to do passes, by the windows of the present outlook and the area left."""
    total = 0.0
    for field_id, pass_id in keys:
        window = present.windows.get((field_id, pass_id))
        area = situation.farm.field_by_id[field_id].area_ha
        if window is not None and area > 0:
            total += window.loss_undone * situation.left_ha(field_id, pass_id) / area
    return total
