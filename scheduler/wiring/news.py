"""News in and the log out: reports become events on disk, and the log is told as a story."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime
from functools import cache, partial
from pathlib import Path
from zoneinfo import ZoneInfo

from adapters.storage.event_lines import event_of, read_lines
from scheduler.events.codec import Event, decode
from scheduler.events.decide import Decision, decide
from scheduler.events.derive import situation as derive_situation
from scheduler.events.describe import describe, history
from scheduler.events.kinds import PassProgressed
from scheduler.events.report import FUTURE_TOLERANCE, Report
from scheduler.events.several import reports_from_words
from scheduler.events.situation import Situation
from scheduler.events.state import State, fold
from scheduler.farm.farm import Farm, PlanSettings
from scheduler.wiring.plans_known import planned_work
from scheduler.wiring.workspace import Workspace
from shared.errors import FitgroundError, LogMoved, ReportRefused
from shared.event_record import EventRecord
from shared.vocabulary import EventKind

SPANS = (EventKind.MACHINE_DOWN, EventKind.OPERATOR_ABSENT)
TRIES = 200
"""How often a report is judged anew because somebody else was faster; each time somebody got through."""


def read_state(workspace: Workspace) -> State:
    """Return the state that the log folds to."""
    return fold(State(), workspace.log.read())


def take_report(
    workspace: Workspace,
    words: Sequence[str],
    options: Mapping[str, str | None],
    now: datetime,
    source: str = "",
) -> list[Told]:
    """Take plain news, mostly one piece; of several in one sentence all are stored, or none.

    The label of each is what was understood, in one sentence.

    Parameters
    ----------
    source : str
        Where it was said, if not at the command line.

    Raises
    ------
    ReportRefused
        The news makes no event; nothing was stored.
    """
    _, situation = situation_now(workspace, now)
    planned = cache(partial(planned_work, workspace, now))
    said = reports_from_words(words, options, situation.farm, now, situation, planned)
    reports = [(text, replace(one, source=source) if source else one) for text, one in said]
    if len(reports) == 1:
        decision = take(workspace, reports[0][1], now)
        told = [Told(reports[0][0], decision.record, decision.known, decision.notes)]
    else:
        told, refused = take_all(workspace, reports, now, lambda faulty: not faulty)
        if refused:
            raise ReportRefused(f"of {len(reports)} pieces of news none was noted: {refused[0][1]}")
    return [replace(one, label=_told_back(decode(one.record), situation.farm, now)) for one in told]


def _told_back(event: Event, farm: Farm, now: datetime) -> str:
    """Return what was understood; of what was not just now also when, of work that was told with its begin from when to when."""
    zone = ZoneInfo(farm.time_zone)
    said, kept = describe(event, farm), event.happened_at.astimezone(zone)
    if isinstance(event.body, PassProgressed) and event.body.started_at is not None:
        return f"{said}, {event.body.started_at.astimezone(zone):%a %d %b %H:%M} to {kept:%H:%M}"
    just_now = abs(event.happened_at - now) <= FUTURE_TOLERANCE
    since = "since " if event.kind in SPANS else ""
    return said if just_now else f"{said}, {since}{kept:%a %d %b %H:%M}"


def take(workspace: Workspace, report: Report, now: datetime) -> Decision:
    """Take a report that is in its form already, such as one out of a page or of a file.

    Raises
    ------
    ReportRefused
        It makes no event; nothing was stored.
    """
    # Judged against the log as it is at the moment of storing: what somebody else told meanwhile counts.
    for attempt in range(TRIES):
        try:
            # Many phones at once would otherwise each judge anew whenever another was faster.
            with workspace.database.turn():
                return _judge(workspace, report, now)
        except LogMoved:
            if attempt == TRIES - 1:
                raise
    raise AssertionError("unreachable")


def _judge(workspace: Workspace, report: Report, now: datetime) -> Decision:
    end = workspace.log.last_sequence()
    state = read_state(workspace)
    situation = derive_situation(workspace.farm, state, now)
    decision = decide(report, state, situation)
    if decision.known:
        return decision
    stored = workspace.log.append([decision.record], expected_last=end)
    return Decision(stored[0], decision.known, decision.notes)


@dataclass(frozen=True)
class Told:
    """One report, judged: what it is called, the event, whether it was known, and what to look at."""

    label: str
    record: EventRecord
    known: bool
    notes: tuple[str, ...]


def situation_now(workspace: Workspace, now: datetime) -> tuple[State, Situation]:
    """Return what the log says, and what follows from it at a moment."""
    state = read_state(workspace)
    return state, derive_situation(workspace.farm, state, now)


def settings_now(workspace: Workspace, now: datetime) -> PlanSettings:
    """Return the settings of plans as news changed them."""
    return situation_now(workspace, now)[1].farm.plan


def take_all(
    workspace: Workspace, reports: Sequence[tuple[str, Report]], now: datetime, store: Callable[[bool], bool]
) -> tuple[list[Told], list[tuple[str, str]]]:
    """Judge several reports one after the other, each against what those before it said, and store them at once.

    Parameters
    ----------
    reports : sequence of (label, Report)
    store : callable
        Whether any was refused -> whether what is sound is stored.

    Returns
    -------
    list of Told, list of (label, why)
        What was (or would be) stored, and what was refused.
    """
    for attempt in range(TRIES):
        end, state = workspace.log.last_sequence(), read_state(workspace)
        told: list[Told] = []
        refused: list[tuple[str, str]] = []
        for label, report in sorted(reports, key=lambda one: one[1].happened_at):
            try:
                decision = decide(report, state, derive_situation(workspace.farm, state, now))
            except ReportRefused as error:
                refused.append((label, str(error)))
                continue
            told.append(Told(label, decision.record, decision.known, decision.notes))
            if not decision.known:
                state = fold(state, [replace(decision.record, sequence=state.sequence + 1)])
        new = [one.record for one in told if not one.known]
        if not new or not store(bool(refused)):
            return told, refused
        try:
            workspace.log.append(new, expected_last=end)
        except LogMoved:
            if attempt == TRIES - 1:
                raise
            continue
        return told, refused
    raise AssertionError("unreachable")


def take_news_file(workspace: Workspace, path: Path, now: datetime) -> list[str]:
    """Take a file of reports (JSON lines); return a sentence for each one that was refused or could not be read."""
    rows, said = read_lines(path)
    for row in rows:
        try:
            record = event_of({"recorded_at": now.isoformat(), **row}, path.name)
            take(
                workspace,
                Report(
                    EventKind(record.kind),
                    record.body,
                    record.happened_at,
                    record.by,
                    record.source,
                    record.id,
                ),
                now,
            )
        except (ReportRefused, ValueError) as error:
            said.append(f"{path.name}: refused: {error}")
    return said


def history_rows(workspace: Workspace) -> list[dict[str, object]]:
    """Return the story of the log, oldest first."""
    return [asdict(row) for row in history(read_state(workspace), workspace.farm)]


def news_files(workspace: Workspace) -> list[tuple[date, Path]]:
    """Return the mornings of a scenario and their files, in order.

    Raises
    ------
    FitgroundError
        The folder tells no story.
    """
    found = []
    for path in sorted((workspace.folder / "news").glob("*.jsonl")):
        try:
            found.append((date.fromisoformat(path.stem), path))
        except ValueError as error:
            raise FitgroundError(
                f"news/{path.name}: the name is no date; allowed: a name such as 2027-05-10.jsonl."
            ) from error
    if not found:
        raise FitgroundError(
            f"{workspace.folder} has no news/DATE.jsonl to play; fitground plan makes a single plan."
        )
    return found
