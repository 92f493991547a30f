"""Whole histories: whatever the order of reports, re-sends, corrections, crashes and restarts, the log folds as a clean one."""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

import scheduler.wiring.news as news
from adapters.storage.database import open_database
from adapters.storage.memory_log import MemoryEventLog
from adapters.storage.sql_log import SqlEventLog
from scheduler.events.decide import Decision
from scheduler.events.derive import situation
from scheduler.events.report import Report
from scheduler.events.state import State, fold
from scheduler.wiring.news import read_state, take
from scheduler.wiring.workspace import Workspace
from shared.errors import ReportRefused
from shared.event_record import EventRecord
from shared.vocabulary import EventKind
from tests.events.builders import at, farm
from tests.wiring.builders import workspace

FIELDS = ("f1", "f2", "f3")
FARM = farm()


class Crash(RuntimeError):
    """The program stops between judging a report and storing it, or right after."""


class Histories(RuleBasedStateMachine):
    """A crew, a bad line and a computer that crashes, against a clean log in memory that heard everything once."""

    @initialize()
    def begin(self) -> None:
        self.folder = Path(tempfile.mkdtemp())
        self.now: datetime = at(0, "06:00")
        self.sent: list[Report] = []
        self.clean = MemoryEventLog()
        self.clean_space = replace(workspace(Path(":memory:"), FARM), log=self.clean)
        self.space = self._open()

    def _open(self) -> Workspace:
        return workspace(open_database(self.folder / "farm.sqlite"), FARM)

    def _tell(self, report: Report) -> None:
        """Tell both logs; both believe it, or both refuse it with the same words."""
        answers = []
        for space in (self.clean_space, self.space):
            try:
                answers.append(take(space, report, self.now).record.id)
            except ReportRefused as error:
                answers.append(str(error))
        assert answers[0] == answers[1]

    def _new(self, kind: EventKind, body: dict[str, object]) -> Report:
        report = Report(kind, body, self.now, "ann", "page", f"phone-{len(self.sent)}")
        self.sent.append(report)
        return report

    @rule(minutes=st.integers(1, 300))
    def time_passes(self, minutes: int) -> None:
        self.now += timedelta(minutes=minutes)

    @rule(field=st.sampled_from(FIELDS), rain_mm=st.sampled_from([0.0, 3.0, 25.4, 900.0]))
    def gauge(self, field: str, rain_mm: float) -> None:
        self._tell(self._new(EventKind.RAIN_MEASURED, {"field": field, "rain_mm": rain_mm}))

    @rule(field=st.sampled_from(FIELDS), area_ha=st.sampled_from([1.0, 5.0, 12.5, 90.0]))
    def progress(self, field: str, area_ha: float) -> None:
        body = {"field": field, "pass_id": "plant", "area_ha": area_ha}
        self._tell(self._new(EventKind.PASS_PROGRESSED, body))

    @rule(field=st.sampled_from(FIELDS))
    def finished(self, field: str) -> None:
        self._tell(self._new(EventKind.PASS_FINISHED, {"field": field, "pass_id": "plant"}))

    @precondition(lambda self: self.sent)
    @rule(data=st.data())
    def sent_again(self, data: st.DataObject) -> None:
        self._tell(data.draw(st.sampled_from(self.sent)))

    @precondition(lambda self: self.sent)
    @rule(data=st.data(), out=st.booleans())
    def corrected(self, data: st.DataObject, out: bool) -> None:
        wrong = data.draw(st.sampled_from(self.sent))
        body = None if out else {**wrong.body, "area_ha": 2.0} if "area_ha" in wrong.body else wrong.body
        self._tell(
            self._new(EventKind.EVENT_CORRECTED, {"event_id": wrong.id, "body": body, "why": "a slip"})
        )

    @rule(field=st.sampled_from(FIELDS), stored=st.booleans())
    def crash_while_storing(self, field: str, stored: bool) -> None:
        """The phone hears no answer, whether or not the event got to disk, and sends the same report again."""
        report = self._new(EventKind.RAIN_MEASURED, {"field": field, "rain_mm": 7.0})
        log = _Crashing(self.space.log, stored)
        with pytest.raises(Crash):
            take(replace(self.space, log=log), report, self.now)
        self.restart()
        self._tell(report)

    @rule()
    def restart(self) -> None:
        self.space.database.close()
        self.space = self._open()

    @rule(data=st.data())
    def carried_to_another_computer(self, data: st.DataObject) -> None:
        """The whole log, in any order of its lines, twice over, into an empty one: each event counts once."""
        records = list(self.space.log.read())
        fresh = SqlEventLog(":memory:")
        fresh.append(records)
        fresh.append(data.draw(st.permutations(records)))
        assert _facts(fold(State(), fresh.read())) == _facts(read_state(self.space))

    @invariant()
    def same_as_the_clean_log(self) -> None:
        clean, stored = read_state(self.clean_space), read_state(self.space)
        assert _facts(stored) == _facts(clean)
        assert situation(FARM, stored, self.now) == situation(FARM, clean, self.now)
        numbers = [event.sequence for event in self.space.log.read()]
        assert numbers == list(range(1, len(numbers) + 1))

    @invariant()
    def folding_in_two_parts_is_folding_at_once(self) -> None:
        records = list(self.space.log.read())
        half = fold(State(), records[: len(records) // 2])
        assert _facts(fold(half, records)) == _facts(read_state(self.space))

    def teardown(self) -> None:
        if hasattr(self, "space"):
            self.space.database.close()
            shutil.rmtree(self.folder)


class _Crashing:
    """A log whose program crashes before or after the event is on disk."""

    def __init__(self, log: object, stored: bool) -> None:
        self._log, self._stored = log, stored

    def __getattr__(self, name: str) -> object:
        return getattr(self._log, name)

    def append(self, events: list[EventRecord], expected_last: int | None = None) -> list[EventRecord]:
        if self._stored:
            self._log.append(events, expected_last)  # type: ignore[attr-defined]
        raise Crash


def _facts(state: State) -> object:
    return dict(state.facts), dict(state.told), dict(state.corrected), state.refused, state.sequence


TestHistories = Histories.TestCase
TestHistories.settings = settings(max_examples=25, stateful_step_count=25, deadline=None)


def test_a_report_judged_on_an_old_log_is_judged_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two phones report 15 ha of the same 20 ha field at the same moment: the later one hears what it hears one after the
    other."""
    body = {"field": "f1", "pass_id": "plant", "area_ha": 15.0}
    first = Report(EventKind.PASS_PROGRESSED, body, at(0, "09:00"), "ann", "page", "a")
    second = replace(first, by="ben", id="b")
    alone = workspace(Path(":memory:"), FARM)
    take(alone, second, at(0, "09:00"))
    one, other = (workspace(tmp_path / "farm.sqlite", FARM) for _ in range(2))
    judge, met = news.decide, []

    def slow(*args: Any) -> Decision:
        decision = judge(*args)
        if not met:
            met.append("on the way")
            met.append(take(other, second, at(0, "09:00")).record.id)
        return decision

    monkeypatch.setattr(news, "decide", slow)
    assert _answer(one, first) == _answer(alone, first)
    assert met == ["on the way", "b"]
    assert _facts(read_state(one)) == _facts(read_state(alone))


def _answer(space: Workspace, report: Report) -> tuple[str, ...]:
    try:
        return take(space, report, at(0, "09:00")).notes
    except ReportRefused as error:
        return (str(error),)
