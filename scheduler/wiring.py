"""The one place that joins adapters to the core. Faces call this; nothing below knows it.

A `Workspace` is an opened farm folder: its description, weather source, event log and plan shelf. Time comes in
as an argument of every call; only the faces read a clock.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from adapters.storage.event_lines import event_of, read_lines
from adapters.storage.farm_files import read_farm_folder
from adapters.storage.plan_shelf import SqlitePlanShelf
from adapters.storage.sqlite_log import SqliteEventLog
from adapters.weather import open_weather
from adapters.weather.daily_csv import read_daily_csv
from scheduler.events.codec import decode
from scheduler.events.decide import Decision, decide, planner_event
from scheduler.events.derive import situation as derive_situation
from scheduler.events.describe import describe, history, touched
from scheduler.events.kinds import PlanIssued
from scheduler.events.report import Report
from scheduler.events.situation import Situation
from scheduler.events.state import State, fold
from scheduler.events.words import report_from_words
from scheduler.farm.build import build_farm
from scheduler.farm.farm import Farm
from scheduler.farm.starter import starter_farm
from scheduler.planning.diff import Changes, compare
from scheduler.planning.plan import Plan
from scheduler.planning.schedule import make_plan
from scheduler.solver.result import Limits, ProgressSink
from scheduler.windows.build import build_outlook
from scheduler.windows.records import Outlook
from shared.clock import Horizon
from shared.errors import FarmFileError, Fault, FitgroundError, ReportRefused, WeatherUnavailable
from shared.event_record import EventRecord
from shared.ports import EventLog, WeatherSource
from shared.vocabulary import EventKind
from shared.weather_records import DailyWeather, HourlyWeather

SPIN_UP_DAYS = 100
DATABASE = "fitground.sqlite"
STALE_FORECAST = timedelta(hours=30)


@dataclass(frozen=True)
class Workspace:
    """An opened farm folder."""

    folder: Path
    farm: Farm
    warnings: tuple[Fault, ...]
    weather: WeatherSource
    log: EventLog
    shelf: SqlitePlanShelf

    @property
    def zone(self) -> ZoneInfo:
        """The farm's time zone."""
        return ZoneInfo(self.farm.time_zone)


@dataclass(frozen=True)
class Morning:
    """A plan and everything it was made from."""

    plan: Plan
    situation: Situation
    outlook: Outlook
    changes: Changes | None
    change_lines: tuple[str, ...]
    news: tuple[str, ...]


# ---- the farm folder ------------------------------------------------------------------------------------------
def _folder(path: Path) -> Path:
    return path.parent if path.name == "farm.toml" else path


def open_farm(path: Path, quiet_log: bool = False) -> Workspace:
    """Open a farm folder (or its ``farm.toml``).

    Parameters
    ----------
    path : Path
    quiet_log : bool
        Only read the description; the log stays in memory and nothing is created.

    Raises
    ------
    FarmFileError
        All faults of the files at once.
    """
    folder = _folder(path)
    farm, warnings = build_farm(read_farm_folder(folder))
    weather = open_weather(farm.weather.source, folder, farm.weather, farm.time_zone)
    where: Path | str = ":memory:" if quiet_log else folder / DATABASE
    return Workspace(folder, farm, tuple(warnings), weather, SqliteEventLog(where), SqlitePlanShelf(where))


def check_farm(path: Path, today: date) -> tuple[list[Fault], Farm | None]:
    """Return every fault and warning of a farm folder, and the farm when it can be used."""
    try:
        farm, warnings = build_farm(read_farm_folder(_folder(path)), today)
    except FarmFileError as error:
        return list(error.faults), None
    return list(warnings), farm


def write_starter(folder: Path, name: str) -> list[Path]:
    """Write a commented starter farm; an existing file is never overwritten."""
    files = starter_farm(name)
    for relative in files:
        if (folder / relative).exists():
            raise FitgroundError(f"{folder / relative} exists already; choose an empty folder.")
    written = []
    for relative, text in files.items():
        path = folder / relative
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        written.append(path)
    return written


def read_daily_weather(path: Path) -> DailyWeather:
    """Read a table of daily weather."""
    return read_daily_csv(path)


# ---- news -----------------------------------------------------------------------------------------------------
def read_state(workspace: Workspace) -> State:
    """Return the state that the log folds to."""
    return fold(State(), workspace.log.read())


def take_report(
    workspace: Workspace, words: Sequence[str], options: Mapping[str, str | None], now: datetime
) -> tuple[str, EventRecord, bool, tuple[str, ...]]:
    """Take plain news: return it in one sentence, the stored event, whether it was known, and notes.

    Raises
    ------
    ReportRefused
        The news makes no event; nothing was stored.
    """
    state = read_state(workspace)
    situation = derive_situation(workspace.farm, state, now)
    report = report_from_words(words, options, situation.farm, now)
    decision = _store(workspace, decide(report, state, situation))
    return describe(decode(decision.record), situation.farm), decision.record, decision.known, decision.notes


def _store(workspace: Workspace, decision: Decision) -> Decision:
    stored = workspace.log.append([decision.record])
    return Decision(stored[0], decision.known, decision.notes)


def take_news_file(workspace: Workspace, path: Path, now: datetime) -> list[str]:
    """Take a file of reports (JSON lines); return a sentence for each one that was refused or could not be read."""
    rows, said = read_lines(path)
    for row in rows:
        try:
            record = event_of({"recorded_at": now.isoformat(), **row}, path.name)
            state = read_state(workspace)
            situation = derive_situation(workspace.farm, state, now)
            report = Report(
                EventKind(record.kind), record.body, record.happened_at, record.by, record.source, record.id
            )
            _store(workspace, decide(report, state, situation))
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


# ---- the plan -------------------------------------------------------------------------------------------------
def look_ahead(workspace: Workspace, now: datetime) -> tuple[Situation, Outlook]:
    """Return what is true at `now` and what the ground and the crops will allow."""
    situation = derive_situation(workspace.farm, read_state(workspace), now)
    today = now.astimezone(workspace.zone).date()
    horizon = Horizon(today, workspace.farm.plan.horizon_days, workspace.farm.time_zone)
    place = workspace.farm.place
    observed = workspace.weather.observed(place, today - timedelta(days=SPIN_UP_DAYS), now)
    outlook = build_outlook(
        situation, horizon, observed, _forecast(workspace, now), workspace.weather.normals(place)
    )
    return situation, outlook


def _forecast(workspace: Workspace, now: datetime) -> HourlyWeather | None:
    """Return the forecast, or None when there is none: the outlook goes on with past years and says so."""
    try:
        return workspace.weather.forecast(workspace.farm.place, now)
    except WeatherUnavailable:
        return None


def plan_morning(
    workspace: Workspace, now: datetime, seconds: float | None = None, progress: ProgressSink | None = None
) -> Morning:
    """Make a checked plan with its changes against the plan that people know."""
    settings = workspace.farm.plan
    situation, outlook = look_ahead(workspace, now)
    horizon = Horizon(outlook.first_day, outlook.days, outlook.time_zone)
    limits = Limits(settings.seconds if seconds is None else seconds, settings.workers, settings.seed)
    previous = latest_plan(workspace)
    plan = make_plan(situation, outlook, horizon, limits, previous, progress)
    news = _news_since(workspace, previous, situation)
    changes = None
    if previous is not None:
        changes = compare(previous, plan, news, situation.farm)
    return Morning(
        plan,
        situation,
        outlook,
        changes,
        () if changes is None else tuple(changes.lines()),
        tuple(sentence[:1].upper() + sentence[1:] for _, sentence, _ in news),
    )


def _news_since(
    workspace: Workspace, previous: Plan | None, situation: Situation
) -> list[tuple[str, str, tuple[str, ...]]]:
    """Return (id, sentence, ids touched) of every report since the plan that people know."""
    state = read_state(workspace)
    since = 0 if previous is None else previous.log_sequence
    out = []
    for event in state.told.values():
        if event.sequence <= since or event.kind in (EventKind.PLAN_ISSUED, EventKind.FORECAST_RECEIVED):
            continue
        if event.happened_at > situation.now:
            continue
        ids = touched(event) or frozenset({"all"})
        out.append((event.id, describe(event, situation.farm), tuple(sorted(ids))))
    return out


def issue(workspace: Workspace, morning: Morning) -> None:
    """Keep a plan as the one that people work by, and write that down in the log."""
    plan = morning.plan
    workspace.shelf.put(plan.id, plan.made_at, plan.model_dump_json())
    body = PlanIssued(plan_id=plan.id, made_at=plan.made_at.astimezone(UTC), log_sequence=plan.log_sequence)
    workspace.log.append([planner_event(f"plan-{plan.id}", body, EventKind.PLAN_ISSUED, plan.made_at)])


def latest_plan(workspace: Workspace) -> Plan | None:
    """Return the plan issued last, or None."""
    text = workspace.shelf.latest()
    return None if text is None else Plan.model_validate_json(text)


def last_changes(workspace: Workspace) -> Changes | None:
    """Return what changed between the last two plans; None while there are fewer than two."""
    texts = workspace.shelf.last(2)
    if len(texts) < 2:
        return None
    new, old = (Plan.model_validate_json(text) for text in texts)
    situation = derive_situation(workspace.farm, read_state(workspace), new.made_at)
    news = [row for row in _news_since(workspace, old, situation)]
    return compare(old, new, news, situation.farm)
