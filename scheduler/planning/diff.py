"""What changed between two plans, for whom, and because of which news.

Question answered: *what moved, from whom to whom, what came, what fell away, and why?* Input: the plan that people
know, the new plan, and the news since then; output: `Changes`, one row per block that is different, with its cause
(`scheduler.planning.causes`).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import datetime, timedelta

from scheduler.events.news import News
from scheduler.farm.farm import Farm
from scheduler.planning.causes import SAME_HA, Pair, causes
from scheduler.planning.diff_words import ChangeKind, change_text
from scheduler.planning.plan import Plan, PlanBlock, PlanRecord
from scheduler.planning.wording import Names

AS_PLANNED = timedelta(hours=1)
"""Work that is over so little before its time frees nothing (assumption)."""


class Change(PlanRecord):
    """One block that is different.

    Attributes
    ----------
    kinds : tuple of ChangeKind
        A block may move and change hands at once.
    event_id : str or None
        The report behind it; None where silence, the ground, a new forecast or a better plan is.
    direct : bool
        The cause is about this block itself, not by way of another one.
    unreported : bool
        By now it should have been begun or done, and nobody reported it.
    text, because : str
        Sentences for people.
    cause, detail : str
        What is behind it, in words that changes with the same cause share, and what that did to this block; without
        full stops.
    people : tuple of str
        Operators that must hear of it.
    """

    block: str
    field: str
    pass_id: str
    kinds: tuple[ChangeKind, ...]
    from_start: datetime | None = None
    to_start: datetime | None = None
    from_end: datetime | None = None
    to_end: datetime | None = None
    from_operator: str | None = None
    to_operator: str | None = None
    from_support: str | None = None
    to_support: str | None = None
    from_rig: str | None = None
    to_rig: str | None = None
    from_area_ha: float = 0.0
    to_area_ha: float = 0.0
    event_id: str | None = None
    direct: bool = False
    unreported: bool = False
    text: str = ""
    because: str = ""
    cause: str = ""
    detail: str = ""
    people: tuple[str, ...] = ()


class Changes(PlanRecord):
    """Everything that is different between two plans."""

    old_plan: str
    new_plan: str
    rows: tuple[Change, ...] = ()
    unchanged: int = 0

    def lines(self) -> list[str]:
        """Return one sentence per change, with its cause."""
        return [f"{row.text} {row.because}".strip() for row in self.rows]

    def unreported(self, farm: Farm | None = None) -> list[str]:
        """Return a sentence on what nobody reported and should be begun or done by now; none where there is nothing."""
        silent = Names(farm).works((row.field, row.pass_id) for row in self.rows if row.unreported)
        if not silent:
            return []
        said = "; ".join(silent)
        return [
            f"Nobody has reported {said}: the plan counts it as not done. If it is, report it and plan anew."
        ]

    def of_operator(self, operator: str) -> tuple[Change, ...]:
        """Return what a person must hear."""
        return tuple(row for row in self.rows if operator in row.people)


def compare(old: Plan, new: Plan, events: Iterable[News] = (), farm: Farm | None = None) -> Changes:
    """Return what changed.

    Parameters
    ----------
    events : iterable of News
        Since the old plan, oldest first.
    farm : Farm, optional
        For the names that people use instead of ids.
    """
    news = list(events)
    finished = {work for one in news if one.finished for work in one.work}
    finished |= {(one.field, one.pass_id) for one in new.presumed if one.over}
    pairs, same = _pairs(old, new, finished)
    out = []
    for (a, b), told in zip(pairs, causes(pairs, news, old, new, farm), strict=True):
        if b is None and a is not None and _done_early(a, new, finished):
            continue  # What its early end frees has it as its cause; that it is over is news, and no change.
        cause = {
            "event_id": told.event_id,
            "direct": told.direct,
            "because": told.because,
            "cause": told.cause,
            "detail": told.detail,
            "unreported": told.silence,
        }
        out.append(_row(a, b, new, farm).model_copy(update=cause))
    out.sort(key=lambda r: (r.to_start or r.from_start or old.made_at, r.block))
    return Changes(old_plan=old.id, new_plan=new.id, rows=tuple(out), unchanged=same)


# ---- pairing ---------------------------------------------------------------------------------------------


def _done_early(block: PlanBlock, new: Plan, finished: Collection[tuple[str, str]]) -> bool:
    """Return whether a block whose hours have begun is over, because its pass was reported finished."""
    return block.start < new.made_at and (block.field, block.pass_id) in finished


def _pairs(old: Plan, new: Plan, finished: Collection[tuple[str, str]] = ()) -> tuple[list[Pair], int]:
    """Pair blocks of the same pass in the same field; return the pairs that differ, and how many do not."""
    before: dict[tuple[str, str], list[PlanBlock]] = defaultdict(list)
    after: dict[tuple[str, str], list[PlanBlock]] = defaultdict(list)
    for block in old.blocks:
        before[(block.field, block.pass_id)].append(block)
    for block in new.blocks:
        after[(block.field, block.pass_id)].append(block)
    out: list[Pair] = []
    same = 0
    for key in sorted(before.keys() | after.keys()):
        # What should have been over by now and is not planned again was done: nothing to tell.
        olds = [b for b in before[key] if b.end > new.made_at or after[key]]
        news = list(after[key])
        for found in (_equal, _same_id, _any):
            for a in list(olds):
                b = next((b for b in news if found(a, b)), None)
                if b is None:
                    continue
                olds.remove(a)
                news.remove(b)
                if _kinds(a, b, new.made_at):
                    out.append((a, b))
                else:
                    same += 1
        out += [
            (a, None)
            for a in olds
            if a.end > new.made_at
            and not (_done_early(a, new, finished) and a.end - new.made_at <= AS_PLANNED)
        ]
        out += [(None, b) for b in news]
    return out, same


def _equal(a: PlanBlock, b: PlanBlock) -> bool:
    return (a.start, a.operator, a.rig) == (b.start, b.operator, b.rig)


def _same_id(a: PlanBlock, b: PlanBlock) -> bool:
    return a.id == b.id


def _any(a: PlanBlock, b: PlanBlock) -> bool:
    return True


def _kinds(a: PlanBlock, b: PlanBlock, now: datetime) -> tuple[ChangeKind, ...]:
    kinds = []
    goes_on = a.start < now < a.end and b.under_way
    if not goes_on and a.start != b.start:
        kinds.append(ChangeKind.MOVED)
    if (a.operator, a.support, a.rig) != (b.operator, b.support, b.rig):
        kinds.append(ChangeKind.REASSIGNED)
    if not goes_on and abs(a.area_ha - b.area_ha) > SAME_HA:
        kinds.append(ChangeKind.RESIZED)
    return tuple(kinds)


# ---- words -----------------------------------------------------------------------------------------------


def _row(a: PlanBlock | None, b: PlanBlock | None, new: Plan, farm: Farm | None) -> Change:
    block = b or a
    assert block is not None
    if a is None:
        kinds: tuple[ChangeKind, ...] = (ChangeKind.ADDED,)
    elif b is None:
        kinds = (ChangeKind.DROPPED,)
    else:
        kinds = _kinds(a, b, new.made_at)
    return Change(
        block=block.id,
        field=block.field,
        pass_id=block.pass_id,
        kinds=kinds,
        from_start=a.start if a else None,
        to_start=b.start if b else None,
        from_end=a.end if a else None,
        to_end=b.end if b else None,
        from_operator=a.operator if a else None,
        to_operator=b.operator if b else None,
        from_support=a.support if a else None,
        to_support=b.support if b else None,
        from_rig=a.rig if a else None,
        to_rig=b.rig if b else None,
        from_area_ha=a.area_ha if a else 0.0,
        to_area_ha=b.area_ha if b else 0.0,
        text=change_text(a, b, kinds, new, farm),
        people=tuple(sorted({x for p in (a, b) if p for x in (p.operator, p.support) if x})),
    )
