"""Work done brought in from outside: terminals' TASKDATA and kept tables become reports, each counted once, all or none."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from adapters.files.pass_records import PassRecord, read_pass_records
from adapters.taskdata import CountedTask, read_taskdata
from scheduler.events.codec import decode
from scheduler.events.describe import describe
from scheduler.events.kinds import PassProgressed
from scheduler.events.report import Report
from scheduler.events.situation import Situation
from scheduler.events.state import State
from scheduler.events.words import strict_report
from scheduler.farm.farm import Farm
from scheduler.wiring.news import Told, situation_now, take_all
from scheduler.wiring.workspace import Workspace
from shared.errors import FarmFileError, Fault, FitgroundError, ReportRefused
from shared.vocabulary import DayOrder

NOON = time(12, 0)
LEAST_HA = 0.005
"""A total that grew by less than this says that nothing was done since."""
TABLES = (".csv", ".xlsx", ".txt")
MOST_FAULTS = 30


@dataclass(frozen=True)
class BroughtIn:
    """What came of a file.

    Attributes
    ----------
    told : tuple of str
        A sentence for each event that is new.
    known : int
        Rows that were counted before.
    refused : tuple of Fault
        Rows that make no event; with any of them nothing is stored, unless the user lets the sound ones in.
    """

    told: tuple[str, ...]
    known: int
    refused: tuple[Fault, ...]
    notes: tuple[str, ...]


def bring_in(
    workspace: Workspace,
    path: Path,
    now: datetime,
    sound_ones: bool = False,
    dry: bool = False,
    dates: DayOrder | None = None,
) -> BroughtIn:
    """Take the work of a file.

    Parameters
    ----------
    sound_ones : bool
        Store what is sound even if other rows are refused.
    dry : bool
        Only say what would be stored.
    dates : DayOrder, optional
        Which comes first in days such as 5/11/2027.

    Raises
    ------
    FarmFileError
        The file cannot be read, or (unless `sound_ones` or `dry`) a row makes no event; nothing was stored.
    """
    state, situation = situation_now(workspace, now)
    rows, notes = _rows(path, situation, state, now, dates)
    reports, refused = [], []
    for label, made in rows:
        if isinstance(made, ReportRefused):
            refused.append(Fault(path.name, label, "", str(made).rstrip("."), ""))
        else:
            reports.append((label, made))
    told, faults = take_all(
        workspace, reports, now, store=lambda bad: not dry and (sound_ones or not (bad or refused))
    )
    refused += [Fault(path.name, label, "", why.rstrip("."), "") for label, why in faults]
    if refused and not (sound_ones or dry):
        raise FarmFileError(_some(refused, path.name))
    return BroughtIn(
        tuple(_sentence(one, situation.farm) for one in told if not one.known), sum(one.known for one in told), tuple(refused),
        tuple([*notes, *(f"{one.label}: {note}" for one in told if not one.known for note in one.notes)]),
    )  # fmt: skip


def _sentence(one: Told, farm: Farm) -> str:
    return describe(decode(one.record), farm)


def _some(refused: list[Fault], file: str) -> list[Fault]:
    shown = sorted(refused, key=lambda fault: _number(fault.key))[:MOST_FAULTS]
    more = len(refused) - len(shown)
    end = f"nothing was stored{f'; {more} rows more are refused' if more else ''}"
    return [*shown, Fault(file, "the file", "", end, "--sound-ones lets the others in")]


def _number(label: str) -> int:
    return int("".join(mark for mark in label if mark.isdigit()) or 0)


Rows = list[tuple[str, Report | ReportRefused]]


def _rows(
    path: Path, situation: Situation, state: State, now: datetime, dates: DayOrder | None
) -> tuple[Rows, list[str]]:
    if path.suffix.lower() in TABLES:
        records, notes = read_pass_records(
            path, dates, now.astimezone(ZoneInfo(situation.farm.time_zone)).date()
        )
        return [(one.label, _tried(_of_record, one, situation.farm, now)) for one in records], notes
    if path.suffix.lower() not in ("", ".xml", ".zip"):
        raise FitgroundError(
            f"{path.name}: is of no known format; allowed: .csv, .xlsx, or TASKDATA as folder, .zip or .xml."
        )
    tasks, notes = read_taskdata(path)
    out: Rows = []
    for task in tasks:
        grown = _grown(task, state)
        if task.area_ha is not None and grown >= LEAST_HA:
            out.append(
                (
                    f"task {task.title or task.field_name!r}",
                    _tried(_of_task, task, situation.farm, now, grown),
                )
            )
    same = len(tasks) - len(out)
    return out, [
        *notes,
        *([f"{same} task{'s' * (same > 1)} had nothing new since the last file."] if same else []),
    ]


def _tried(make: Callable[..., Report], *arguments: object) -> Report | ReportRefused:
    """Return a report, or why it is none."""
    try:
        return make(*arguments)
    except ReportRefused as refusal:
        return refusal


def _of_record(one: PassRecord, farm: Farm, now: datetime) -> Report:
    zone = ZoneInfo(farm.time_zone)
    start = None if one.start is None else datetime.combine(one.day, one.start, zone)
    end = None if one.end is None else datetime.combine(one.day, one.end, zone)
    if start is not None and end is not None and end < start:
        end += timedelta(days=1)
    at = (
        end
        or start
        or min(datetime.combine(one.day, NOON, zone), max(now, datetime.combine(one.day, time(0), zone)))
    )
    options = {"at": at.isoformat(), "operator": one.operator or None, "rig": one.rig or None, "id": one.key}
    return _spanned(
        strict_report(["done", one.field, one.pass_id, one.area], options, farm, now), start, end, "table"
    )


def _of_task(task: CountedTask, farm: Farm, now: datetime, area_ha: float) -> Report:
    field = _field_of(task, farm)
    operator = next(
        (p.id for p in farm.operators if task.worker.casefold() in (p.id.casefold(), p.label.casefold())),
        None,
    )
    total_m2 = round((task.area_ha or 0.0) * 10_000)
    options = {"at": (task.end or now).isoformat(), "operator": operator, "id": f"{task.key}-{total_m2}"}
    words = ["done", field, _pass_of(task, farm, field), f"{area_ha:.4f} ha"]
    return _spanned(strict_report(words, options, farm, now), task.start, task.end, "terminal")


def _spanned(report: Report, start: datetime | None, end: datetime | None, source: str) -> Report:
    times = {"started_at": start, "ended_at": end} if start is not None and end is not None else {}
    return replace(
        report,
        body={**report.body, **{key: value.isoformat() for key, value in times.items()}},
        source=source,
    )


def _grown(task: CountedTask, state: State) -> float:
    """Return what a task covered since the last file that told of it [ha]."""
    before = [
        event.body.area_ha
        for name, event in state.facts.items()
        if name.startswith(f"{task.key}-") and isinstance(event.body, PassProgressed)
    ]
    return (task.area_ha or 0.0) - sum(before)


def _field_of(task: CountedTask, farm: Farm) -> str:
    known = {text.casefold(): one.id for one in farm.fields for text in (one.label, one.id)}
    cut = {text[:32]: name for text, name in known.items()}
    for said in (task.field_code, task.field_name):
        if said and (found := known.get(said.casefold()) or cut.get(said.casefold())):
            return found
    shown = task.field_name or task.field_code or "(none)"
    raise ReportRefused(
        f"the field {shown!r} is none of this farm; known: {', '.join(one.label for one in farm.fields[:20])}."
    )


def _pass_of(task: CountedTask, farm: Farm, field: str) -> str:
    """Return the pass that a task is about: by its practice, else by its title, else by a product that only one pass has."""
    passes = farm.programme_of(farm.field_by_id[field]).passes
    if any(spec.id == task.practice or spec.id[:32] == task.practice for spec in passes if task.practice):
        return task.practice
    title = task.title.casefold()
    named = [
        spec for spec in passes if title and (spec.label.casefold() in title or spec.id.casefold() in title)
    ]
    if named:
        return max(named, key=lambda spec: len(spec.label)).id
    labels = {one.casefold() for one in task.products}
    with_it = [spec.id for spec in passes if labels & _products(spec.products, farm)]
    if len(with_it) == 1:
        return with_it[0]
    raise ReportRefused(
        f"it is not clear which pass of {farm.field_label(field)} {task.title!r} was; allowed: a task called like one of {', '.join(s.label for s in passes)}."
    )


def _products(rates: Iterable[object], farm: Farm) -> set[str]:
    names = [farm.product_by_id[rate.product] for rate in rates]  # type: ignore[attr-defined]
    return {text.casefold()[:32] for one in names for text in (one.id, one.label)}
