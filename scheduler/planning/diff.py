"""What changed between two plans, for whom, and because of which news.

Question answered: *what moved, from whom to whom, what came, what fell away, and why?* Input: the plan that people
know, the new plan, and the news since then as (event id, sentence, ids it touches); output: `Changes`, one row per
block that is different. The cause of a row is the news that touches its machines, people or field; else the news
behind a change that took or freed the same machine or person; else a new forecast; else a better plan.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime

from scheduler.farm.farm import Farm
from scheduler.planning.diff_words import ChangeKind, change_text
from scheduler.planning.plan import Plan, PlanBlock, PlanRecord

News = tuple[str, str, Sequence[str]]
EVERYTHING = frozenset({"all", "farm", "*"})
SAME_HA = 0.1


class Change(PlanRecord):
    """One block that is different.

    Attributes
    ----------
    kinds : tuple of ChangeKind
        A block may move and change hands at once.
    event_id : str or None
        The news behind it; None when it follows from a new forecast or a better plan.
    direct : bool
        The news touches this block itself, not by way of another one.
    text, because : str
        Sentences for people.
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
    text: str = ""
    because: str = ""
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

    def of_operator(self, operator: str) -> tuple[Change, ...]:
        """Return what a person must hear."""
        return tuple(row for row in self.rows if operator in row.people)


def compare(old: Plan, new: Plan, events: Iterable[News] = (), farm: Farm | None = None) -> Changes:
    """Return what changed.

    Parameters
    ----------
    events : iterable of (event id, sentence, ids touched)
        News since the old plan, oldest first; ids of fields, machines, operators, products, or ``all``.
    farm : Farm, optional
        For the names that people use instead of ids.
    """
    news = list(events)
    pairs, same = _pairs(old, new)
    rows = [_row(a, b, new, farm) for a, b in pairs]
    causes = [_direct(a, b, news) for a, b in pairs]
    out = []
    for k, row in enumerate(rows):
        event, direct = causes[k], causes[k] is not None
        if event is None:
            event = _followed(k, pairs, causes)
        because = _because(event, direct, old, new)
        out.append(
            row.model_copy(
                update={"event_id": event[0] if event else None, "direct": direct, "because": because}
            )
        )
    out.sort(key=lambda r: (r.to_start or r.from_start or old.made_at, r.block))
    return Changes(old_plan=old.id, new_plan=new.id, rows=tuple(out), unchanged=same)


# ---- pairing ---------------------------------------------------------------------------------------------

Pair = tuple[PlanBlock | None, PlanBlock | None]


def _pairs(old: Plan, new: Plan) -> tuple[list[Pair], int]:
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
        out += [(a, None) for a in olds if a.end > new.made_at]
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


# ---- causes ----------------------------------------------------------------------------------------------


def _ids(*blocks: PlanBlock | None) -> set[str]:
    out: set[str] = set()
    for block in blocks:
        if block is not None:
            out |= {*block.machines, block.operator, block.support or block.operator}
    return out


def _direct(a: PlanBlock | None, b: PlanBlock | None, news: list[News]) -> News | None:
    """Return the latest news that touches the block: machines and people first, then the field, then all."""
    field = (a or b).field  # type: ignore[union-attr]
    for ids in (_ids(a), _ids(b), {field}, EVERYTHING):
        for event in reversed(news):
            if ids & set(event[2]):
                return event
    return None


def _followed(k: int, pairs: list[Pair], causes: list[News | None]) -> News | None:
    """Return the news behind a change that shares a machine or person with this one, nearest in time."""
    ids = _ids(*pairs[k])
    mine = _moment(pairs[k])
    best: tuple[float, int] | None = None
    for j, (pair, cause) in enumerate(zip(pairs, causes, strict=True)):
        if j == k or cause is None or not ids & _ids(*pair):
            continue
        far = abs((_moment(pair) - mine).total_seconds())
        if best is None or (far, j) < best:
            best = (far, j)
    return None if best is None else causes[best[1]]


def _moment(pair: Pair) -> datetime:
    block = pair[0] or pair[1]
    assert block is not None
    return block.start


def _because(event: News | None, direct: bool, old: Plan, new: Plan) -> str:
    if event is not None:
        sentence = event[1].strip().rstrip(".")
        return f"Because: {sentence}." if direct else f"Follows from: {sentence}."
    if old.forecast_issued_at != new.forecast_issued_at:
        return "Because of the new forecast."
    if old.first_day != new.first_day:
        return "Because a new day came into view."
    return "Because a better plan was found."


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
